"""From heard tones back to words: marks and fingerprints, with tones lost, added or wrong.

In: tones with a symbol and an onset, of a file or a live receiver; how far the tones of a word
stand apart. Out: words, each said to be whole, mended or torn, and the fingerprint carried. It
hears no tones (`receive`, `live`) and turns no word into a cue (`follow`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from thundersheet.plan.schedule import Schedule
from thundersheet.plan.schedule.code import (
    CHUNK_TONES,
    CHUNKS,
    DIGITS,
    MARK_PARTS,
    MARK_TONES,
    ONE_BIT,
    START,
    SYMBOLS,
    VALUE,
    ZERO_BIT,
    chunk_of,
    fingerprint_of_parts,
    mark_of,
    missing_digit,
)

MOST_SPEED = 0.065
"""A semitone is 5.9 %, film against video 4.2 %: read them still, so that a proof can say so."""
SLACK = 0.12
"""How far, in pitches, a tone may stand from its place once the speed is known."""

State = Literal["whole", "mended", "torn"]


class HeardTone(Protocol):
    """What a receiver says of one tone."""

    @property
    def symbol(self) -> str:
        """One of the sixteen."""

    @property
    def onset_s(self) -> float:
        """First instant of its attack."""

    @property
    def length_s(self) -> float:
        """How long it sounds."""


@dataclass(frozen=True, slots=True)
class Framing:
    """How marks were written."""

    pitch_s: float
    """From tone to tone of a word."""
    spacing_s: float
    """From mark to mark."""
    first_s: float
    """Onset of mark 0."""

    @classmethod
    def of(cls, schedule: Schedule) -> Framing:
        """The framing of a schedule's marks; they begin where its first word does."""
        first = schedule.words[0].onset.s if schedule.words else 0.0
        style = schedule.style
        return cls((style.tone + style.gap).s, schedule.spacing.s, first)

    def written_s(self, number: int, tone: int) -> float:
        """When a tone of a mark was written."""
        return self.first_s + number * self.spacing_s + tone * self.pitch_s


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadWord:
    """A mark as it was read."""

    state: State
    """Whole: every tone heard, all checks pass. Mended: one tone was lost, the check digit gave
    it back and the neighbours agree. Torn: a start with too little behind it, or a failed check;
    it has no number."""
    number: int | None
    part: int | None
    """What it carries of the fingerprint: part number modulo five."""
    onset_s: float
    tones: tuple[float | None, ...]
    """Onset of each of its seven tones; None where it was lost."""
    stretch: float
    """Its length against the one written: 1.015 is slow by 1.5 %."""

    @property
    def id(self) -> str:
        """As the schedule names it; empty for a torn one."""
        return "" if self.number is None else f"mark {self.number}"

    @property
    def end_s(self) -> float:
        """Onset of the last tone that was heard."""
        return max(onset for onset in self.tones if onset is not None)


def read_words(tones: Iterable[HeardTone], framing: Framing) -> tuple[ReadWord, ...]:
    """Every mark among the tones, in time's order; torn ones too, so that a proof can count them.

    Speeds to 6.5 % off, lost, added and wrong tones are taken; a number is given only to a word
    whose start, places, check digit and spare bit all hold.
    """
    row = sorted(tones, key=lambda tone: tone.onset_s)
    words = [
        _word(row, index, framing.pitch_s) for index, tone in enumerate(row) if tone.symbol == START
    ]
    whole = [word for word in words if word.state == "whole"]
    return tuple(_confirmed(word, whole, framing) for word in words)


def _word(row: Sequence[HeardTone], index: int, pitch_s: float) -> ReadWord:
    """The word that starts with this tone."""
    start = row[index]
    places = [
        (tone, (tone.onset_s - start.onset_s) / pitch_s)
        for tone in row[index + 1 : index + 4 * MARK_TONES]
        if tone.onset_s - start.onset_s < (DIGITS + 0.5) * (1 + MOST_SPEED) * pitch_s
        and tone.symbol != START
    ]
    stretch = _stretch([place for _, place in places])
    slots: list[HeardTone | None] = [None] * DIGITS
    for slot in range(1, DIGITS + 1):
        near = min(places, key=lambda p: abs(p[1] - slot * stretch), default=None)
        if near is not None and abs(near[1] - slot * stretch) <= SLACK:
            slots[slot - 1] = near[0]
    return _judged(start, slots, stretch)


def _stretch(places: Sequence[float]) -> float:
    """The speed at which most slots have a tone, and those the least off."""

    def poor(stretch: float) -> tuple[int, float]:
        offs = [
            min((abs(place - slot * stretch) for place in places), default=9.0)
            for slot in range(1, DIGITS + 1)
        ]
        hits = [off for off in offs if off <= SLACK]
        return -len(hits), sum(hits)

    tries = [
        place / slot
        for place in places
        for slot in range(1, DIGITS + 1)
        if abs(place / slot - 1) <= MOST_SPEED
    ]
    return min(tries, key=poor, default=1.0)


def _judged(start: HeardTone, slots: Sequence[HeardTone | None], stretch: float) -> ReadWord:
    """The word of these slots, by its checks alone."""
    lost = [index for index, tone in enumerate(slots) if tone is None]
    found = None
    if len(lost) <= 1:
        digits = tuple(0 if tone is None else VALUE[tone.symbol] for tone in slots)
        if lost:
            filled = missing_digit(digits, lost[0])
            digits = (*digits[: lost[0]], filled, *digits[lost[0] + 1 :])
        found = mark_of(START + "".join(SYMBOLS[digit] for digit in digits))
    number, part = found if found is not None else (None, None)
    state: State = "torn" if found is None else "mended" if lost else "whole"
    onsets = (start.onset_s, *(None if tone is None else tone.onset_s for tone in slots))
    return ReadWord(
        state=state,
        number=number,
        part=part,
        onset_s=start.onset_s,
        tones=onsets,
        stretch=stretch,
    )


def _confirmed(word: ReadWord, whole: Sequence[ReadWord], framing: Framing) -> ReadWord:
    """A mended word only if the nearest whole word agrees: its check digit is used up.

    Agreement in number and, where one of the same part was heard, in the fingerprint leaves a
    wrong tone beside the lost one about one chance in 20,000 to pass.
    """
    if word.state != "mended" or word.number is None:
        return word
    nearest = min(whole, key=lambda other: abs(other.onset_s - word.onset_s), default=None)
    agrees = False
    if nearest is not None and nearest.number is not None:
        apart = word.onset_s - nearest.onset_s
        steps = (word.number - nearest.number) * framing.spacing_s
        slack = MOST_SPEED * abs(steps) + SLACK * framing.pitch_s
        agrees = abs(apart - steps) <= min(slack, framing.spacing_s / 2)
    parts = {
        other.part
        for other in whole
        if other.number is not None and (other.number - word.number) % MARK_PARTS == 0
    }
    if agrees and (not parts or word.part in parts):
        return word
    return ReadWord(
        state="torn",
        number=None,
        part=None,
        onset_s=word.onset_s,
        tones=word.tones,
        stretch=word.stretch,
    )


def marks_fingerprint(words: Iterable[ReadWord]) -> int | None:
    """The fingerprint that the marks carry; None unless each part is there and undisputed."""
    votes: dict[int, Counter[int]] = {place: Counter() for place in range(MARK_PARTS)}
    for word in words:
        if word.number is not None and word.part is not None:
            votes[word.number % MARK_PARTS][word.part] += 1
    parts = _winners(votes)
    return None if parts is None else fingerprint_of_parts(parts)


def _winners(votes: Mapping[int, Counter[int]]) -> tuple[int, ...] | None:
    """For each place the value with a clear majority; None when one has none."""
    winners = []
    for place in sorted(votes):
        best = votes[place].most_common(1)
        if not best or 2 * best[0][1] <= votes[place].total():
            return None
        winners.append(best[0][0])
    return tuple(winners)


def direct_fingerprint(tones: Iterable[HeardTone], pitch_s: float) -> int | None:
    """The fingerprint in the quiet stretches of layout `direct`, or None as above."""
    votes: dict[int, Counter[int]] = {index: Counter() for index in range(CHUNKS)}
    for run in _bit_runs(sorted(tones, key=lambda tone: tone.onset_s), pitch_s):
        found = _chunk(run, pitch_s)
        if found is not None:
            votes[found[0]][found[1]] += 1
    parts = _winners(votes)
    return None if parts is None else int.from_bytes(bytes(parts), "big")


def _bit_runs(row: Sequence[HeardTone], pitch_s: float) -> list[list[HeardTone]]:
    """The fingerprint's tones in runs: 2.5 pitches apart, or a cue between, is another run."""
    runs: list[list[HeardTone]] = [[]]
    for tone in row:
        if tone.symbol not in (ZERO_BIT, ONE_BIT):
            runs.append([])
        elif runs[-1] and tone.onset_s - runs[-1][-1].onset_s > 2.5 * pitch_s:
            runs.append([tone])
        else:
            runs[-1].append(tone)
    return runs


def _chunk(run: Sequence[HeardTone], pitch_s: float) -> tuple[int, int] | None:
    """The chunk that a run is; one tone lost inside is given back by the check bits."""
    if len(run) not in (CHUNK_TONES, CHUNK_TONES - 1):
        return None
    symbols = ""
    for before, tone in zip((None, *run), run, strict=False):
        steps = 1 if before is None else round((tone.onset_s - before.onset_s) / pitch_s)
        symbols += "?" * (steps - 1) + tone.symbol
    if len(symbols) != CHUNK_TONES:
        return None
    tries = {chunk_of(symbols.replace("?", bit)) for bit in (ZERO_BIT, ONE_BIT)} - {None}
    return tries.pop() if len(tries) == 1 else None


def heard_fingerprint(tones: Iterable[HeardTone], schedule: Schedule) -> str:
    """The eight hex digits carried by tones of this schedule's style; empty: none to be had."""
    framing = Framing.of(schedule)
    if schedule.layout == "marks":
        value = marks_fingerprint(read_words(tones, framing))
    else:
        value = direct_fingerprint(tones, framing.pitch_s)
    return "" if value is None else f"{value:08x}"
