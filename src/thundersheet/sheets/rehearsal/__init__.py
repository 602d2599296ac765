"""Pictures of a rehearsal: the evening, each landing, each stroke, the air that each device took.

In: records of `rehearse` alone. Out: SVG and one page. Time runs down, as on the cue sheet.
"""
