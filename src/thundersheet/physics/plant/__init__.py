"""The air plant: compressor, tank, pipes and all that draws on them, as one thing.

`records` says what a plant is. `reservoir` follows tank and compressor in closed form from event
to event; `evening` lays the strokes of many shows over that; `coupled` integrates every body of
air and every piston together. The last two are held together by tests.
"""
