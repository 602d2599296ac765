"""What a rehearsal finds wrong, as findings: landings outside, a weak show.

In: a `Rehearsal`. Out: findings. Where a fault was asked for, what it does is the answer and no
finding.
"""

from __future__ import annotations

from collections.abc import Iterator

from thundersheet.base.finding import Finding
from thundersheet.base.time import Time, clock
from thundersheet.rehearse.records import Landed, Rehearsal

EXPLAINS = {
    "REHEARSE-01": "A landing lies outside its window in the rehearsal of one show, on a full tank "
    "and with nothing wrong: the plan's lead and the finer physics do not agree, or the plan "
    "already refuses the beat.",
    "REHEARSE-02": "In a rush or an evening a show was weak: a landing lay outside its window, as "
    "a rule because the tank stood too low. The plan's cures are those of the first weak show.",
    "REHEARSE-03": "The tank did not hold out although the compressor ran as much as it may.",
}


def judge(found: Rehearsal) -> Iterator[Finding]:
    """Findings of a rehearsal without faults."""
    if found.faults:
        return
    weak = found.first_weak
    if weak is None:
        return
    outside = [each for each in weak.landed if not each.inside]
    if found.mode == "show":
        for each in outside:
            yield Finding(
                code="REHEARSE-01",
                grade="refuse",
                says=f"{each.cue} {lands(each)} at {clock(Time.seconds(each.beat_s))}.",
                allowed=f"Its window is {each.window}.",
                about=(each.cue,),
            )
        return
    worst = max(outside, key=lambda each: abs(each.error_ms or float("inf")))
    yield Finding(
        code="REHEARSE-02",
        grade="warn",
        says=f"Show {weak.number} of {len(found.shows)} is the first weak one: {worst.cue} "
        f"{lands(worst)}.",
        allowed=f"Its window is {worst.window}. A longer rest, a bigger tank or fewer repeats; "
        "`thundersheet check` has cures.",
        about=tuple(each.cue for each in outside),
    )


def lands(each: Landed) -> str:
    """How a landing went, in words."""
    why = f" ({each.why})" if each.why else ""
    if each.error_ms is None:
        return f"never landed{why}"
    side = "late" if each.error_ms > 0.0 else "early"
    return f"landed {abs(each.error_ms):.0f} ms {side}{why}"
