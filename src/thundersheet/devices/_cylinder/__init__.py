"""The air cylinder from inside; ``air_cylinder.py`` is its face.

stroke: the device's record as the physics asks it. way: one stroke run, and the state it leaves.
landing, part_way, lead: from a way to the lead of a move. bands: what each doubt adds. draws: how
fast it takes air. impact: what a guest or a stop would feel. faults: what is wrong in the record.
"""
