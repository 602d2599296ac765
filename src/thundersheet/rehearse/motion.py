"""One device through one show: its `step` from event to event, and where its moves land.

In: a device, what its outputs are told, how much of its voltage arrives. Out: a `Track`, which can
be asked for any instant, and landings found on it by halving. How it moves is the device's own.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import Any

from thundersheet.model.device import Device, Landing, Move, Seen, Setting, Wire
from thundersheet.rehearse.wires import Told, outputs_of

Steps = Sequence[tuple[float, float]]
"""(seconds, value from then on), in order."""
EXACT_S = 1e-9
"""To this a landing is found: a span's own nanosecond."""
GRID_S = 0.02
"""A curve has a point at least so often while anything changes."""
MOST_POINTS = 10_000
"""Of the grid; in a show of more than three minutes it is coarser."""
EDGES_S = (0.0, 0.001, 0.002, 0.005, 0.01)
"""And so soon after each event, where lamps and coils are quick."""
TOGETHER = 60
"""So many points at most are looked at as one line."""
ALIKE = 2e-3
"""Points nearer than this to the line between their neighbours are left out of a curve."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch in which nothing is told anew."""

    at_s: float
    state: Any
    wires: tuple[Wire, ...]
    volts: float


@dataclass(frozen=True, slots=True)
class Track:
    """A device over a show."""

    device: Device
    setting: Setting
    pieces: tuple[Piece, ...]
    """From the beginning on, in order; the last one has no end of its own."""
    ends_s: float

    def state_at(self, at_s: float) -> Any:
        """Its state at an instant."""
        index = bisect_right(self.pieces, at_s, key=lambda piece: piece.at_s) - 1
        return self._step(self.pieces[max(index, 0)], at_s)

    def seen_at(self, at_s: float) -> Seen:
        """What guests see of it at an instant, and what it draws."""
        return self.device.seen(self.state_at(at_s))

    def _step(self, piece: Piece, at_s: float) -> Any:
        return self.device.step(
            piece.state, piece.wires, piece.volts, max(0.0, at_s - piece.at_s), self.setting
        )

    def lands(self, move: Move, land: Landing, from_s: float, until_s: float) -> float | None:
        """When a move landed that was told at ``from_s``; None: not before ``until_s``."""
        first = self.state_at(from_s)

        def landed(piece: Piece, at_s: float) -> bool:
            return self.device.has_landed(move, land, first, self._step(piece, at_s))

        for piece, ends in self._between(from_s, until_s):
            begins = max(piece.at_s, from_s)
            if landed(piece, begins):
                return begins
            if landed(piece, ends):
                return _halved(partial(landed, piece), begins, ends)
        return None

    def _between(self, from_s: float, until_s: float) -> Iterator[tuple[Piece, float]]:
        """The pieces that reach into a stretch, each with its end in it."""
        ends = [piece.at_s for piece in self.pieces[1:]] + [max(self.ends_s, until_s)]
        for piece, end in zip(self.pieces, ends, strict=True):
            if end > from_s and piece.at_s < until_s:
                yield piece, min(end, until_s)

    def samples(self) -> tuple[tuple[float, Seen], ...]:
        """The device at instants so close that straight lines between them tell all of it."""
        return tuple((at, self.seen_at(at)) for at in self._instants())

    def _instants(self) -> Iterator[float]:
        """The grid, and what is near an event, in order and each once."""
        events = [piece.at_s for piece in self.pieces] + [self.ends_s]
        for begin, end in pairwise(events):
            if end <= begin:
                continue
            near = [begin + edge for edge in EDGES_S if begin + edge < end]
            first = near[-1]
            grid = max(GRID_S, self.ends_s / MOST_POINTS)
            count = int((end - first) / grid)
            yield from near
            yield from (first + k * grid for k in range(1, count + 1) if first + k * grid < end)
            # Just before the next event, so that a jump is drawn as one.
            yield max(end - EXACT_S, near[-1])
        yield self.ends_s


def _halved(true_at: Callable[[float], bool], low: float, high: float) -> float:
    """The first instant at which something is true that is false at `low` and true at `high`."""
    while high - low > EXACT_S:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if true_at(middle) else (middle, high)
    return high


def thinned(points: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Without the points that lie on the line between those that are kept."""
    kept: list[tuple[float, float]] = []
    held: list[tuple[float, float]] = []
    for point in points:
        if kept and point[0] <= (held[-1] if held else kept[-1])[0]:
            continue
        if len(held) >= TOGETHER or (kept and held and not _straight(kept[-1], held, point)):
            kept.append(held[-1])
            held = []
        if kept:
            held.append(point)
        else:
            kept.append(point)
    return [*kept, *held[-1:]]


def _straight(
    first: tuple[float, float], between: Sequence[tuple[float, float]], last: tuple[float, float]
) -> bool:
    slope = (last[1] - first[1]) / (last[0] - first[0])
    return all(abs(first[1] + slope * (at - first[0]) - value) <= ALIKE for at, value in between)


def follow(
    device: Device,
    told: Mapping[str, Sequence[Told]],
    ends_s: float,
    setting: Setting,
    volts: Steps = ((0.0, 1.0),),
) -> Track:
    """A device from the beginning of a show on."""
    names = outputs_of(device)
    wires = [Wire.at(out.safe) for out in device.outputs()]
    rows = sorted((row for name in names for row in told.get(name, ())), key=lambda r: r.at_s)
    state, now, share = device.begins(setting), 0.0, _from(volts, 0.0)
    state = device.step(state, tuple(wires), share, 0.0, setting)
    pieces = [Piece(0.0, state, tuple(wires), share)]
    at = 0
    while True:
        then = _next(rows[at : at + 1], wires, now, volts)
        if then is None or then >= ends_s:
            return Track(device, setting, tuple(pieces), ends_s)
        state = device.step(state, tuple(wires), share, then - now, setting)
        wires = [wire.after(then - now) for wire in wires]
        now, share = then, _from(volts, then)
        while at < len(rows) and rows[at].at_s <= now:
            index = names.index(rows[at].output)
            wires[index] = Wire(wires[index].value, rows[at].value, rows[at].over_s)
            wires[index] = wires[index] if rows[at].over_s > 0.0 else Wire.at(rows[at].value)
            at += 1
        state = device.step(state, tuple(wires), share, 0.0, setting)
        pieces.append(Piece(now, state, tuple(wires), share))


def _next(rows: Sequence[Told], wires: Sequence[Wire], now: float, volts: Steps) -> float | None:
    """When something is told (the next row), a ramp ends or the voltage changes."""
    coming = [max(row.at_s, now) for row in rows]
    coming += [now + wire.left_s for wire in wires if wire.left_s > 0.0]
    later = bisect_right(volts, now, key=lambda step: step[0])
    coming += [at for at, _ in volts[later : later + 1]]
    return min(coming, default=None)


def _from(steps: Steps, at_s: float) -> float:
    """The value of a stepwise course at an instant; before its first step, that step's."""
    return steps[max(bisect_right(steps, at_s, key=lambda step: step[0]) - 1, 0)][1]
