"""Layout `marks`: numbered words on a fixed grid; the controller holds the plan.

In: wants. Out: marks, and the cues that leave before a controller can know the time. Cues leave
just when they should, by the controller's clock, so there is nothing to optimise.
"""

from __future__ import annotations

from collections.abc import Sequence

from thundersheet.base.time import Span, Time
from thundersheet.model.show import CueTrack
from thundersheet.plan.schedule.code import MARK_PARTS, MARK_TONES, MARKS, mark_symbols
from thundersheet.plan.schedule.quiet import HEAD, tone_onsets
from thundersheet.plan.schedule.records import Want, Word

USUAL_SPACING = Span.seconds(1)
QUIET_PITCHES = 1
"""Silence kept behind a mark beyond its last gap, so that words stand apart to eye and ear."""
STEP = Span.ms(10)
"""Spacings are multiples of this: whole samples at 8, 44.1, 48, 96 and 192 kHz, tidy on paper."""


def shortest_spacing(style: CueTrack) -> Span:
    """The closest that marks of this style may stand."""
    need = (style.tone + style.gap) * (MARK_TONES + QUIET_PITCHES)
    return Span(-(-need.ns // STEP.ns) * STEP.ns)


def spacing_of(style: CueTrack, length: Time) -> Span:
    """As the book says; else one second, or closer where the fingerprint would not fit twice.

    Wider than a second when tones are long, or when one a second would run out of numbers.
    """
    if style.every is not None:
        return style.every
    floor = shortest_spacing(style)
    twice = STEP * ((length.ns - HEAD.ns) // (2 * MARK_PARTS) // STEP.ns)
    enough = STEP * -(-length.ns // MARKS // STEP.ns)
    return max(floor, min(USUAL_SPACING, twice), enough)


def mark_count(style: CueTrack, length: Time, spacing: Span) -> int:
    """How many whole marks fit, as far as the numbers go."""
    pitch = style.tone + style.gap
    room = length.ns - HEAD.ns - (pitch * MARK_TONES - style.gap).ns
    return 0 if room < 0 else min(MARKS, room // spacing.ns + 1)


def mark_words(
    wants: Sequence[Want], style: CueTrack, length: Time, fingerprint: int
) -> list[Word]:
    """The marks, each with the cues that are due from it to the next."""
    spacing = spacing_of(style, length)
    count = mark_count(style, length, spacing)
    due: dict[int, list[str]] = {}
    for want in sorted(wants, key=lambda w: (w.at, w.cue_id)):
        number = (want.at.ns - HEAD.ns) // spacing.ns
        due.setdefault(max(0, min(count - 1, number)), []).append(want.cue_id)
    return [
        _mark(number, spacing, style, fingerprint, tuple(due.get(number, ())))
        for number in range(count)
    ]


def _mark(
    number: int, spacing: Span, style: CueTrack, fingerprint: int, cues: tuple[str, ...]
) -> Word:
    onset = Time(HEAD.ns) + spacing * number
    return Word(
        id=f"mark {number}",
        kind="mark",
        symbols=mark_symbols(number, fingerprint),
        onset=onset,
        tone_onsets=tone_onsets(onset, MARK_TONES, style),
        tone=style.tone,
        cues=cues,
        number=number,
    )


def too_early(wants: Sequence[Want], words: Sequence[Word], marks: int) -> list[Want]:
    """The wants that leave before so many marks have been heard whole.

    A mark is known when a receiver has heard the last tone out, so at its end.
    """
    ends = sorted(word.end for word in words)
    if len(ends) < marks:
        return list(wants)
    return [want for want in wants if want.at < ends[marks - 1]]
