"""What a receiver at the far end would do on hearing these tones: the exact inverse of writing.

In: a schedule and heard tones. Out: when each cue would leave. Layout `direct`: a simple receiver
with the schedule's table. Layout `marks`: a controller that holds the plan, knows nothing before
its first whole word and then runs on its own clock from word to word. It reads no clock itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from thundersheet.plan.schedule import Schedule
from thundersheet.track.words import Framing, HeardTone, ReadWord, read_words

PATIENCE = 1.5
"""Pitches after which a simple receiver gives up on the next tone of a word."""
RESOLUTION_S = 25e-6
"""About a sample at 44.1 kHz: a speed error that shows less than this is not believed."""
REMEMBERED = 8
"""Marks that a live clock takes its rate from, so that a player whose speed drifts is followed."""
LATEST = 2
"""Marks of these that it takes the time from."""


@dataclass(frozen=True, slots=True)
class Switch:
    """A simple receiver switches."""

    at_s: float
    symbols: str


@dataclass(frozen=True, slots=True)
class HeardCue:
    """A cue leaves."""

    cue_id: str
    at_s: float
    """On the same line as the tones' onsets."""


@dataclass(frozen=True, slots=True)
class Clock:
    """heard = offset + rate x written, in seconds."""

    offset_s: float
    rate: float

    def heard(self, written_s: float) -> float:
        """When something written there is heard."""
        return self.offset_s + self.rate * written_s


def set_clock(
    words: Sequence[ReadWord], framing: Framing, latest: int | None = None
) -> Clock | None:
    """The clock by the tones of these words; None without a numbered one.

    `latest`: so many words at the end say what time it is; None: all do. Theil-Sen, over pairs
    half the row apart: the median slope, then the median offset, so that some onsets may be far
    off. A rate that differs from 1 by less than shows is taken as 1.
    """
    points = _points(words, framing)
    if not points:
        return None
    half = len(points) // 2
    slopes = [
        (heard - heard0) / (written - written0)
        for (written0, heard0), (written, heard) in zip(points, points[half:], strict=False)
        if written > written0
    ]
    rate = median(slopes) if slopes else 1.0
    span = points[-1][0] - points[0][0]
    if abs(rate - 1) * span < RESOLUTION_S:
        rate = 1.0
    recent = _points(words[-latest:], framing) if latest else points
    return Clock(median(heard - rate * written for written, heard in recent), rate)


def _points(words: Sequence[ReadWord], framing: Framing) -> list[tuple[float, float]]:
    """When each tone of numbered words was written and heard."""
    return [
        (framing.written_s(word.number, tone), onset)
        for word in words
        if word.number is not None
        for tone, onset in enumerate(word.tones)
        if onset is not None
    ]


def switches(schedule: Schedule, tones: Iterable[HeardTone]) -> tuple[Switch, ...]:
    """Layout `direct`: what a simple receiver makes of the tones with the schedule's table."""
    table = {allotment.symbols for allotment in schedule.allotments}
    openings = {word[:count] for word in table for count in range(1, len(word))}
    patience = PATIENCE * (schedule.style.tone + schedule.style.gap).s
    out = []
    so_far, last = "", 0.0
    for tone in sorted(tones, key=lambda tone: tone.onset_s):
        joined = so_far + tone.symbol if tone.onset_s - last <= patience else tone.symbol
        so_far = joined if joined in table | openings else tone.symbol
        last = tone.onset_s
        if so_far in table:
            out.append(Switch(tone.onset_s + schedule.style.listening.s, so_far))
            so_far = ""
        elif so_far not in openings:
            so_far = ""
    return tuple(out)


def follow(schedule: Schedule, tones: Iterable[HeardTone]) -> tuple[HeardCue, ...]:
    """Every cue that would leave, and when; a cue whose word or time is not known is not there."""
    if schedule.layout == "marks":
        return _by_clock(schedule, read_words(tones, Framing.of(schedule)))
    return _by_table(schedule, switches(schedule, tones))


def _by_clock(schedule: Schedule, words: Sequence[ReadWord]) -> tuple[HeardCue, ...]:
    """Each cue by the words that were whole before it."""
    framing = Framing.of(schedule)
    tone_s = schedule.style.tone.s
    known = [word for word in words if word.number is not None]
    out = []
    count = 0
    clock: Clock | None = None
    for departure in sorted(schedule.departures, key=lambda d: d.at):
        fresh = count
        while fresh < len(known) and _due(clock, departure.at.s) >= known[fresh].end_s + tone_s:
            fresh += 1
            clock = set_clock(known[max(0, fresh - REMEMBERED) : fresh], framing, LATEST)
        count = fresh
        if clock is not None and clock.heard(departure.at.s) >= known[0].end_s + tone_s:
            out.append(HeardCue(departure.cue_id, clock.heard(departure.at.s)))
    return tuple(out)


def _due(clock: Clock | None, written_s: float) -> float:
    """When something is due as far as is known; a controller out of step hears any next word."""
    return float("inf") if clock is None else clock.heard(written_s)


def _by_table(schedule: Schedule, heard: Sequence[Switch]) -> tuple[HeardCue, ...]:
    """Each cue by the switch that stands nearest to its word, in order and each used once."""
    written = [word for word in schedule.words if word.kind == "cue"]
    out = []
    at = 0
    for word in written:
        due = word.tone_onsets[-1].s + schedule.style.listening.s
        found = next((i for i in range(at, len(heard)) if heard[i].symbols == word.symbols), None)
        if found is None or abs(heard[found].at_s - due) > schedule.style.tone.s:
            continue
        at = found + 1
        out += [HeardCue(cue, heard[found].at_s) for cue in word.cues]
    return tuple(out)
