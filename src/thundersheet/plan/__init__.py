"""From the book to the plan: pure functions between records. The heart.

`make_plan(book)` in plan.py is the whole; the other files are its steps, in this order:
timeline (beats to instants), lead (instants to cues), gate (rules and limits), schedule (cues to
words of the cue track); compare holds what was observed against it.
"""
