"""From wants to the whole cue track, in the layout that the book asks for.

In: wants, the style, the programme's length, the fingerprint. Out: a Schedule with its findings.
It makes no sound: `track/encode.py` does.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from thundersheet.base.time import Span, Time
from thundersheet.model.show import CueTrack
from thundersheet.plan.schedule import marks, quiet
from thundersheet.plan.schedule.code import MARK_PARTS
from thundersheet.plan.schedule.records import Allotment, Departure, Schedule, Want, Word
from thundersheet.plan.schedule.report import direct_findings, marks_findings

if TYPE_CHECKING:
    from thundersheet.plan.schedule import direct
    from thundersheet.plan.schedule.jobs import Emission


def carried(fingerprint: str) -> int:
    """The 32 bits of a plan's fingerprint that the cue track carries: its first 8 hex digits."""
    if len(fingerprint) < 8:
        raise ValueError("a fingerprint has at least eight hex digits")
    return int(fingerprint[:8], 16)


def lay_out(wants: Sequence[Want], style: CueTrack, length: Time, fingerprint: str) -> Schedule:
    """The cue track of a show; with conflicts it has no departures and no cue words.

    Wants keep their order in `departures`. A cue id stands once.
    """
    if len({want.cue_id for want in wants}) != len(wants):
        raise ValueError("a cue id stands twice")
    if any(want.early.ns < 0 or want.late.ns < 0 for want in wants):
        raise ValueError("a window that does not hold its own instant")
    bits = carried(fingerprint)
    if style.layout == "marks":
        return _marks(wants, style, length, bits)
    return _direct(wants, style, length, bits)


def _marks(wants: Sequence[Want], style: CueTrack, length: Time, fingerprint: int) -> Schedule:
    words = marks.mark_words(wants, style, length, fingerprint)
    return Schedule(
        layout="marks",
        style=style,
        length=length,
        words=tuple(words),
        departures=tuple(Departure(cue_id=w.cue_id, at=w.at, error=Span(0)) for w in wants),
        spacing=marks.spacing_of(style, length),
        fingerprint=fingerprint,
        copies=len(words) // MARK_PARTS,
        findings=tuple(marks_findings(wants, words, style, length)),
    )


def _direct(wants: Sequence[Want], style: CueTrack, length: Time, fingerprint: int) -> Schedule:
    from thundersheet.plan.schedule import direct  # a search that most books have no need of

    found = direct.arrange(wants, style, length)
    symbols = dict(found.words)
    bits = direct.Bits(wants)
    words = [
        _cue_word(number, emission, symbols[emission.commands], wants, style)
        for number, emission in enumerate(found.emissions, 1)
    ]
    departures = _departures(wants, words)
    uses = Counter(emission.commands for emission in found.emissions)
    table = [bits.allotment(key, word, uses[key]) for key, word in found.words]
    carriers = quiet.fingerprint_words(words, style, length, fingerprint)
    worst = max((abs(d.error) for d in departures), default=Span(0))
    copies = quiet.whole_copies(carriers)
    return Schedule(
        layout="direct",
        style=style,
        length=length,
        words=tuple(sorted([*words, *carriers], key=lambda w: w.onset)),
        departures=departures,
        allotments=_in_order(table),
        worst_error=worst,
        bound=Span(found.bound),
        proven=_proven(found, worst),
        fingerprint=fingerprint,
        copies=copies,
        conflicts=found.conflicts,
        findings=tuple(direct_findings(wants, found, worst, copies, style, length)),
    )


def _proven(found: direct.Direct, worst: Span) -> bool:
    """Whether nothing better can be had, or, where nothing can be had at all, that is proven."""
    if found.conflicts:
        return not any(conflict.unsure for conflict in found.conflicts)
    return worst.ns == found.bound


def _in_order(table: Sequence[Allotment]) -> tuple[Allotment, ...]:
    """The receiver's table, singles first."""
    return tuple(sorted(table, key=lambda a: (len(a.symbols), a.symbols)))


def _cue_word(
    number: int,
    emission: Emission,
    symbols: str,
    wants: Sequence[Want],
    style: CueTrack,
) -> Word:
    """The word that makes an emission: its last tone starts `listening` before the switch."""
    switch = Time(emission.x)
    onset = switch - style.listening - (style.tone + style.gap) * (len(symbols) - 1)
    cues = tuple(wants[index].cue_id for index in sorted(emission.members))
    return Word(
        id=f"cue {number}",
        kind="cue",
        symbols=symbols,
        onset=onset,
        tone_onsets=quiet.tone_onsets(onset, len(symbols), style),
        tone=style.tone,
        cues=cues,
        switches_at=switch,
    )


def _departures(wants: Sequence[Want], words: Sequence[Word]) -> tuple[Departure, ...]:
    """When each want leaves, in the wants' order; none when there are no words."""
    by_cue = {cue: word for word in words for cue in word.cues}
    out = []
    for want in wants:
        word = by_cue.get(want.cue_id)
        if word is None or word.switches_at is None:
            return ()
        error = word.switches_at.since(want.at)
        out.append(Departure(cue_id=want.cue_id, at=word.switches_at, error=error, word=word.id))
    return tuple(out)
