"""Whether each landing is expected inside its window.

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
    "measured, some landings may miss. One finding stands for all of them; the widest come first.",
}

MOST_NAMED = 4


def judge(book: Book, cues: Sequence[Cue]) -> tuple[Finding, ...]:
    """Findings about expected errors and bands against windows."""
    return (*_missed(book, cues), *_bands(book, cues))


def _missed(book: Book, cues: Sequence[Cue]) -> Iterator[Finding]:
    for cue in cues:
        window = cue.target.window
        worst = _worst(cue)
        if not window.holds(Span(0)) or window.holds(worst) or _known_to_miss(cue):
            continue
        how = "late" if worst.ns > 0 else "early"
        when = "" if worst == cue.expected_error else " in the worst air of the evening"
        yield Finding(
            code="SHOW-05",
            grade="refuse",
            place=cue.target.place,
            says=f"{said(book, cue.target.move)} at {clock(cue.target.beat_at)} is expected "
            f"{abs(worst).in_ms:.1f} ms {how}{when}.",
            allowed=f"Its window is {window}.",
            about=(cue.id,),
        )


def _worst(cue: Cue) -> Span:
    """The expected error, or that of the evening's landing which is furthest out."""
    if cue.evening is None:
        return cue.expected_error
    window, at = cue.target.window, cue.expected_error
    early, late = at + cue.evening.early, at + cue.evening.late
    return late if late - window.late >= window.early - early else early


def _known_to_miss(cue: Cue) -> bool:
    """Whether the evening alone takes it out of its window: AIR-30 says that, with cures."""
    evening, window = cue.evening, cue.target.window
    return evening is not None and not (window.holds(evening.early) and window.holds(evening.late))


def _bands(book: Book, cues: Sequence[Cue]) -> Iterator[Finding]:
    unsure: dict[str, Cue] = {}
    about = []
    for cue in cues:
        if _may_miss(cue):
            about.append(cue.id)
            name = said(book, cue.target.move)
            if name not in unsure or _miss(cue) > _miss(unsure[name]):
                unsure[name] = cue
    if not unsure:
        return
    worst = sorted(unsure, key=lambda name: _miss(unsure[name]), reverse=True)
    named = "; ".join(f"{name} {_band(unsure[name])}" for name in worst[:MOST_NAMED])
    more = f"; and {len(worst) - MOST_NAMED} more" if len(worst) > MOST_NAMED else ""
    yield Finding(
        code="SHOW-06",
        grade="note",
        place=unsure[worst[0]].target.place,
        says=f"Not sure enough for the windows of {_beats(about)}: {named}{more}.",
        allowed="Measure these leads (`measured`), or allow wider windows.",
        about=tuple(about),
    )


def _band(cue: Cue) -> str:
    lead = cue.lead
    band = f"-{lead.early.in_ms:.0f}..+{lead.late.in_ms:.0f} ms"
    return f"may land {band} in a window of {cue.target.window}{_mostly(cue)}"


def _beats(about: Sequence[str]) -> str:
    return "one beat" if len(about) == 1 else f"{len(about)} beats"


def _miss(cue: Cue) -> Span:
    """By how much the band reaches beyond the window."""
    window, at = cue.target.window, cue.expected_error
    return max(at + cue.lead.late - window.late, window.early - (at - cue.lead.early))


def _may_miss(cue: Cue) -> bool:
    window, at = cue.target.window, cue.expected_error
    if not window.holds(at):
        return False
    return not (window.holds(at + cue.lead.late) and window.holds(at - cue.lead.early))


def _mostly(cue: Cue) -> str:
    """What widens the band most, where the kind knows."""
    if not cue.lead.bands or cue.lead.basis == "measured":
        return ""
    name, share = max(cue.lead.bands.items(), key=lambda item: item[1])
    return f", mostly by {name} ({share.in_ms:.0f} ms)"
