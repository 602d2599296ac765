"""Whether each landing is expected inside its window, said once for each device and action.

In: cues with the cue track's share known. Out: findings. A landing that misses by what the plan
knows is refused; one that may miss by what nobody knows before measuring is a note, however many
beats it touches, so that the one that matters is not lost among them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from thundersheet.base.finding import Finding
from thundersheet.base.time import Span, clock
from thundersheet.model.book import Book
from thundersheet.plan.records import Cue
from thundersheet.plan.wording import said

EXPLAINS = {
    "SHOW-05": "By what the plan knows, this lands outside its window: the cue cannot leave at "
    "its own instant, because other words of the cue track are in the way or the programme has "
    "not begun.",
    "SHOW-06": "A lead's error band is wider than the window of a beat. Until the device has been "
    "measured, some landings may miss. One finding stands for all beats of the device and action.",
}


def judge(book: Book, cues: Sequence[Cue]) -> tuple[Finding, ...]:
    """Findings about expected errors and bands against windows."""
    return (*_missed(book, cues), *_bands(book, cues))


def _missed(book: Book, cues: Sequence[Cue]) -> Iterator[Finding]:
    for cue in cues:
        window = cue.target.window
        if not window.holds(Span(0)) or window.holds(cue.expected_error):
            continue
        how = "late" if cue.expected_error.ns > 0 else "early"
        yield Finding(
            code="SHOW-05",
            grade="refuse",
            place=cue.target.place,
            says=f"{said(book, cue.target.move)} at {clock(cue.target.beat_at)} is expected "
            f"{abs(cue.expected_error).in_ms:.1f} ms {how}.",
            allowed=f"Its window is {window}.",
            about=(cue.id,),
        )


def _bands(book: Book, cues: Sequence[Cue]) -> Iterator[Finding]:
    groups: dict[tuple[str, str], list[Cue]] = {}
    for cue in cues:
        if _may_miss(cue):
            move = cue.target.move
            groups.setdefault((move.device, move.action), []).append(cue)
    for group in groups.values():
        worst = max(group, key=lambda cue: cue.lead.early + cue.lead.late)
        beats = "one beat" if len(group) == 1 else f"{len(group)} beats"
        yield Finding(
            code="SHOW-06",
            grade="note",
            place=worst.target.place,
            says=f"{said(book, worst.target.move)} may land {worst.lead.early.in_ms:.0f} ms early "
            f"to {worst.lead.late.in_ms:.0f} ms late ({worst.lead.basis}), more than the window "
            f"of {beats} allows{_mostly(worst)}.",
            allowed=f"The narrowest window of these is {_narrowest(group)}: measure the lead.",
            about=tuple(cue.id for cue in group),
        )


def _may_miss(cue: Cue) -> bool:
    window, at = cue.target.window, cue.expected_error
    if not window.holds(at):
        return False
    return not (window.holds(at + cue.lead.late) and window.holds(at - cue.lead.early))


def _narrowest(group: Sequence[Cue]) -> str:
    return str(min((cue.target.window for cue in group), key=lambda w: w.late - w.early))


def _mostly(cue: Cue) -> str:
    """What widens the band most, where the kind knows."""
    if not cue.lead.bands or cue.lead.basis == "measured":
        return ""
    name, share = max(cue.lead.bands.items(), key=lambda item: item[1])
    return f", mostly by {name} ({share.in_ms:.0f} ms)"
