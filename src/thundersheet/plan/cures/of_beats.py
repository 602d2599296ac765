"""Cures in the beats and times of the book: later, earlier, further apart, fewer, left out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from thundersheet.base.time import ZERO, Span, Time, clock
from thundersheet.model.device import Move
from thundersheet.model.show import Beat, Guests
from thundersheet.plan.cures.idea import DROP, SAY, SHIFT, Change, Idea, Step, Trouble, device_of
from thundersheet.plan.gate import is_home, start_again
from thundersheet.plan.records import Cue
from thundersheet.plan.wording import said, up

CHASE = 3
"""More lamps alike than this are a chase."""
# Steps by which a beat may move: fine where it is cheap, then coarser. 10 ms is what people write.
SHIFTS_MS = (
    *range(10, 200, 10), *range(200, 1000, 50), *range(1000, 5000, 250), *range(5000, 15_001, 1000),
)  # fmt: skip


def _shifts(trouble: Trouble) -> Iterator[int]:
    """Shifts in ms from small to large; from what is missing on where two cues tell."""
    later, earlier = trouble.cue(0), trouble.cue(1)
    missing = 0.0
    if trouble.finding.code == "MOVE-02" and later is not None and earlier is not None:
        missing = (earlier.at + earlier.lead.rest).since(later.at).in_ms
    first = max(0, int(missing // 10) * 10)
    return (first + ms for ms in ((0, *SHIFTS_MS) if first else SHIFTS_MS))


def later(trouble: Trouble) -> Iterator[Idea]:
    """The beat of the first cue comes later."""
    beat, cue = trouble.beat(0), trouble.cue(0)
    if beat is None or cue is None:
        return
    other = trouble.cue(1)
    if beat.times > 1 and other is not None and other.target.beat == cue.target.beat:
        return  # repeats of one beat move together
    name = said(trouble.book, cue.target.move)
    steps = []
    for ms in _shifts(trouble):
        last = beat.at + Span.ms(ms) + (beat.every or Span(0)) * (beat.times - 1)
        if last <= trouble.book.show.length and last < _neighbour(trouble, cue, 1):
            steps.append(
                Step(f"Move the beat of `{name}` to {up(beat.at + Span.ms(ms))}.", _at(beat, ms))
            )
    yield Idea(SHIFT, tuple(steps), "it comes that much later than written")


def earlier(trouble: Trouble) -> Iterator[Idea]:
    """The beat of the last cue comes earlier."""
    index = len(trouble.finding.about) - 1
    beat, cue = trouble.beat(index), trouble.cue(index)
    if beat is None or cue is None or (index and trouble.beat(0) is beat):
        return
    name = said(trouble.book, cue.target.move)
    steps = [
        Step(f"Move the beat of `{name}` to {clock(beat.at - Span.ms(ms), 2)}.", _at(beat, -ms))
        for ms in _shifts(trouble)
        if beat.at - Span.ms(ms) > max(_neighbour(trouble, cue, -1), ZERO)
    ]
    yield Idea(SHIFT, tuple(steps), "it comes that much earlier than written")


def _neighbour(trouble: Trouble, cue: Cue, way: int) -> Time:
    """The device's next beat (`way` 1) or the one before: a shift must not pass it."""
    times = [
        other.target.beat_at
        for other in trouble.cues.values()
        if other.target.move.device == cue.target.move.device
    ]
    here = cue.target.beat_at
    if way > 0:
        return min((t for t in times if t > here), default=Time(1 << 62))
    return max((t for t in times if t < here), default=ZERO - Span(1))


def _at(beat: Beat, ms: int) -> Change:
    # To a whole 10 ms: what the sentence says is what was tried.
    exact = beat.at + Span.ms(ms)
    tick = Span.ms(10).ns
    rounded = -(-exact.ns // tick) * tick if ms > 0 else exact.ns // tick * tick
    return _with_beat(beat, at=replace(exact, ns=rounded))


def _with_beat(beat: Beat, **changes: Any) -> Change:
    return lambda book: replace(
        book,
        beats=tuple(replace(b, **changes) if b is beat else b for b in book.beats),
    )


def wider_every(trouble: Trouble) -> Iterator[Idea]:
    """Repeats stand further apart."""
    beat = trouble.beat(0)
    if beat is None or beat.times < 2 or beat.every is None:
        return
    steps = []
    for ms in range(10, 2000, 10):
        every = Span(-(-(beat.every.ns + ms * 1_000_000) // 10_000_000) * 10_000_000)
        if beat.at + every * (beat.times - 1) <= trouble.book.show.length:
            steps.append(Step(f"Write `every: {every}`.", _with_beat(beat, every=every)))
    yield Idea(SHIFT, tuple(steps), "the repeats take longer")


def thinner(trouble: Trouble) -> Iterator[Idea]:
    """Every second lamp of a chase is left out."""
    device = device_of(trouble)
    if device is None:
        return
    alike = [
        each.name
        for each in trouble.book.devices
        if each.KIND == device.KIND and each.lit_share == device.lit_share
    ]
    if len(alike) > CHASE:
        out = set(alike[1::2])
        do = f"Leave every second lamp out of the chase: {', '.join(alike[1::2])}."
        yield Idea(DROP, (Step(do, _without_devices(out)),), "half as many lamps go by")


def _without_devices(names: set[str]) -> Change:
    return lambda book: replace(
        book,
        beats=tuple(
            replace(b, moves=tuple(m for m in b.moves if m.device not in names)) for b in book.beats
        ),
    )


def fewer(trouble: Trouble) -> Iterator[Idea]:
    """Fewer repeats."""
    beat = trouble.beat(0)
    if beat is None or beat.times < 2:
        return
    steps = tuple(
        Step(f"Write `times: {times}`." if times > 1 else "Leave out the repeats.", change)
        for times in range(beat.times - 1, 0, -1)
        for change in [_with_beat(beat, times=times)]
    )
    yield Idea(DROP, steps, f"fewer than the {beat.times} of the beat")


def without(trouble: Trouble) -> Iterator[Idea]:
    """The first cue's move is left out of its beat."""
    beat, cue = trouble.beat(0), trouble.cue(0)
    if beat is None or cue is None or beat.times > 1:
        return
    moves = tuple(move for move in beat.moves if move != cue.target.move)
    name = said(trouble.book, cue.target.move)
    do = f"Leave out `{name}` at {clock(beat.at)}."
    yield Idea(DROP, (Step(do, _with_beat(beat, moves=moves)),), "one effect less")


def again(trouble: Trouble) -> Iterator[Idea]:
    """The start stays locked until the last device is at rest."""
    cues = [trouble.cues[cue_id] for cue_id in trouble.finding.about if cue_id in trouble.cues]
    if cues:
        rests = max(cue.at + cue.lead.rest for cue in cues)
        later = Time(-(-rests.ns // 10_000_000) * 10_000_000)
        guests = replace(trouble.book.guests, again=later)
        do = f"Write `again: {up(later)}` under `guests`."
        yield Idea(SAY, (Step(do, _with_guests(guests)),), "guests wait that much longer")


def per_hour(trouble: Trouble) -> Iterator[Idea]:
    """As many shows an hour as fit."""
    seconds = start_again(trouble.book).s
    fits = int(3600.0 / seconds) if seconds > 0 else 0
    if fits:
        guests = replace(trouble.book.guests, shows_per_hour=float(fits))
        do = f"Write `shows per hour: {fits}`."
        yield Idea(SAY, (Step(do, _with_guests(guests)),), "fewer guests an hour")


def _with_guests(guests: Guests) -> Change:
    return lambda book: replace(book, guests=guests)


def bring_home(trouble: Trouble) -> Iterator[Idea]:
    """One more beat takes the device home."""
    device, cue = device_of(trouble), trouble.cue(0)
    if device is None or cue is None:
        return
    for action in device.ACTIONS:
        move = Move(device=device.name, action=action.name)
        if "to" in action.takes or not is_home(device, move):
            continue
        beat = Beat(at=trouble.book.show.length, do=(said(trouble.book, move),), moves=(move,))
        do = f"Add a beat `{said(trouble.book, move)}` at {clock(beat.at)} or before."
        yield Idea(SAY, (Step(do, _one_more(beat)),))
        return


def _one_more(beat: Beat) -> Change:
    return lambda book: replace(book, beats=(*book.beats, beat))
