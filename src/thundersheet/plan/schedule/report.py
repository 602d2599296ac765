"""What the builder has to know about a laid-out cue track: findings TRACK-10 to TRACK-16.

In: wants and what the search found. Out: findings. It searches only to try a cure before naming it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.time import Span, Time
from thundersheet.model.show import CueTrack
from thundersheet.plan.schedule import marks
from thundersheet.plan.schedule.code import CHUNK_TONES, CUE_SYMBOLS, MARK_PARTS, MARKS
from thundersheet.plan.schedule.records import Conflict, Want, Word

if TYPE_CHECKING:
    from thundersheet.plan.schedule import direct

SHORT = Span.ms(40)
"""The shortest tone and gap that every receiver must take (ITU-T Q.24, secondary source)."""
USE_MARKS = Cure(
    do="Use `layout: marks`, where cues leave by the controller's clock.",
    cost="a controller in place of a simple receiver",
)


def direct_findings(
    wants: Sequence[Want],
    found: direct.Direct,
    worst: Span,
    copies: int,
    style: CueTrack,
    length: Time,
) -> Iterator[Finding]:
    """Conflicts, a search cut short, a fingerprint that does not fit."""
    by_id = {want.cue_id: want for want in wants}
    for conflict in found.conflicts:
        members = [by_id[cue] for cue in conflict.cues]
        yield _unsure(members) if conflict.unsure else _conflict(conflict, members, style, length)
    if not found.conflicts and worst.ns > found.bound:
        yield Finding(
            code="TRACK-15",
            grade="note",
            says=f"The worst cue leaves {worst} from its instant; that nothing under "
            f"{Span(found.bound)} can be had is proven, what lies between was not searched out.",
        )
    if copies < 2:
        yield _fingerprint(copies, f"four quiet stretches of {_chunk(style)} for each copy")


def _chunk(style: CueTrack) -> Span:
    return (style.tone + style.gap) * CHUNK_TONES


def _up(span: Span) -> Span:
    """Rounded up to a tenth of a millisecond, so that what is said would do."""
    tenth = Span.ms(0.1)
    return Span(-(-span.ns // tenth.ns) * tenth.ns)


def _names(members: Sequence[Want]) -> str:
    """The cues with their instants, the first few of many."""
    shown = [f"{want.cue_id} ({want.at})" for want in members[:6]]
    more = f" and {len(members) - 6} more" if len(members) > 6 else ""
    return ", ".join(shown) + more


def _conflict(
    conflict: Conflict, members: Sequence[Want], style: CueTrack, length: Time
) -> Finding:
    """Why these can't all leave in time, and what would do."""
    if conflict.for_symbols:
        code, why = (
            "TRACK-11",
            (
                f"{len({w.group for w in members})} different groups of outputs need words, "
                f"and the {len(CUE_SYMBOLS)} symbols that cues have do not reach at this pace"
            ),
        )
    elif len(members) == 1:
        code, why = "TRACK-16", "its tone would have to sound outside the programme"
    else:
        code, why = (
            "TRACK-10",
            (f"a tone and its gap take {style.tone + style.gap} and there is one channel"),
        )
    lacking = f" {_up(conflict.missing)} are missing." if conflict.missing is not None else ""
    return Finding(
        code=code,
        grade="refuse",
        place=members[0].place,
        says=f"{_names(members)} can't {'all ' if len(members) > 1 else ''}leave inside "
        f"{'their windows' if len(members) > 1 else 'its window'}: {why}.{lacking}",
        cures=tuple(_cures(conflict, members, style, length)),
        about=conflict.cues,
    )


def _cures(
    conflict: Conflict, members: Sequence[Want], style: CueTrack, length: Time
) -> Iterator[Cure]:
    """What would do, each tried."""
    from thundersheet.plan.schedule.direct import arrange  # layout.py says why not above

    if conflict.missing is not None:
        by = _up(conflict.missing)
        yield Cure(
            do=f"Widen the windows of these beats by {by} at both ends, or move the beats apart.",
            cost="the landings are less exact",
        )
    short = replace(style, tone=min(style.tone, SHORT), gap=min(style.gap, SHORT))
    if short != style and not arrange(members, short, length).conflicts:
        yield Cure(
            do="Write `tone: 40 ms` and `gap: 40 ms`.", cost="less margin with poor receivers"
        )
    yield USE_MARKS


def _unsure(members: Sequence[Want]) -> Finding:
    return Finding(
        code="TRACK-15",
        grade="refuse",
        place=members[0].place,
        says=f"{len(members)} cues stand too close together to be sorted into tones: "
        f"{_names(members)}.",
        cures=(Cure(do="Move some of these beats apart."), USE_MARKS),
        about=tuple(want.cue_id for want in members),
    )


def _fingerprint(copies: int, needs: str) -> Finding:
    """Too few copies to be sure that a stale file is caught."""
    how = "only once" if copies else "not once whole"
    return Finding(
        code="TRACK-12",
        grade="warn",
        says=f"The show's fingerprint is carried {how}, so a file of an older plan may not be "
        "noticed while it plays.",
        allowed=f"Twice: that takes {needs}.",
        cures=(Cure(do="Shorten `tone` and `gap`."), Cure(do="Leave longer quiet stretches.")),
    )


def marks_findings(
    wants: Sequence[Want], words: Sequence[Word], style: CueTrack, length: Time
) -> Iterator[Finding]:
    """Cues that leave too early to be known, numbers run out, a fingerprint that does not fit."""
    spacing = marks.spacing_of(style, length)
    if len(words) == MARKS and spacing.ns * MARKS < length.ns:
        yield Finding(
            code="TRACK-14",
            grade="refuse",
            place=style.origin.of("every"),
            says=f"The {MARKS} marks there are end before the programme does.",
            allowed=f"`every: {Span(-(-length.ns // MARKS))}` or more.",
        )
    unknown = marks.too_early(wants, words, 1)
    if unknown:
        yield _early(unknown, "refuse", "the first mark", words)
    thin = [want for want in marks.too_early(wants, words, 2) if want not in unknown]
    if thin:
        yield _early(thin, "warn", "the second mark", words[1:])
    if len(words) < 2 * MARK_PARTS:
        needs = f"ten marks, {spacing * (2 * MARK_PARTS)} of programme"
        yield _fingerprint(len(words) // MARK_PARTS, needs)


def _early(members: Sequence[Want], grade: str, mark: str, words: Sequence[Word]) -> Finding:
    """Cues before the time is known, or known twice."""
    why = (
        "a controller can't know the time yet"
        if grade == "refuse"
        else "if the first mark is lost, a controller does not know the time yet"
    )
    when = f" at {words[0].end}" if words else ""
    return Finding(
        code="TRACK-13",
        grade="refuse" if grade == "refuse" else "warn",
        place=members[0].place,
        says=f"{_names(members)} must leave before {mark} has been heard{when}: {why}.",
        cures=(
            Cure(do="Move these beats later, or give the programme a silent head."),
            Cure(do="Shorten `tone` and `gap`.", cost="cheap receivers may miss them"),
        ),
        about=tuple(want.cue_id for want in members),
    )
