"""Many shows drawn by lot: how far each landing scatters, and what drives it.

`shows.scatter` is the door. `doubts` says how far each value may be off, `study` makes of a plan
plain data, `draw` draws shows chunk by chunk from seeds of their own, `events` and `plant` play
them, `workers` spreads chunks over processes or machines, `drivers` asks what drives the spread.
"""
