"""The coupled solver: every body of air, hose, chamber and piston of a plant as one state.

`run.run` is its one door. `columns` says where everything stands, `flows` the rates, `linear` and
`stride` the step, `happen` and `advance` events and steps strung together (all plain floats, which
`machine` compiles); `network`, `valves`, `pistons`, `sheets` and `course` are between records and
rows.
"""
