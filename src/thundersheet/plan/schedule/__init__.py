"""Cues to the words of the cue track: `lay_out` is the whole; `check_style` judges the wish.

records: what comes out. direct, marks: the two layouts. code: symbols and check digits. jobs,
fit, allot, master, ease: the search behind `direct`. quiet: the fingerprint between cues.
"""

from thundersheet.plan.schedule.layout import carried, lay_out
from thundersheet.plan.schedule.records import (
    Allotment,
    Conflict,
    Departure,
    Group,
    Kind,
    Schedule,
    Want,
    Word,
)
from thundersheet.plan.schedule.style import check_style

__all__ = [
    "Allotment",
    "Conflict",
    "Departure",
    "Group",
    "Kind",
    "Schedule",
    "Want",
    "Word",
    "carried",
    "check_style",
    "lay_out",
]
