"""From the book to the plan: pure functions between records. The heart.

`make_plan(book)` in plan.py is the whole; the other files are its steps, in this order:
timeline (beats to instants), lead (instants to cues), gate (rules), safety and flash, media,
power, schedule (cues to words of the cue track), judge (landings against windows), cures.
frozen is the plan as one document; compare holds what was observed against it; recut, markers and
timecode move beats with a programme that was cut again.
"""
