"""The receiver as a plain loop over samples: the specification of all others.

In: samples of 12 bits at 8 kHz, one by one or many. Out: events. Whole numbers throughout; `>>` of
a negative number is the floor, as with an arithmetic shift. In Python some 70 times as fast as the
sound; `swift` gives the same events sooner.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from thundersheet.track.live import tables as t
from thundersheet.track.live.ladder import Event, Ladder

Waves = tuple[tuple[int, int], ...]
"""Real and imaginary part at each of the eight frequencies."""
NOTHING: Waves = ((0, 0),) * t.TONES


@dataclass(frozen=True, slots=True)
class Look:
    """What one hop says."""

    raw: int
    """The digit, 0 to 15, that passes the strict test; -1: none."""
    best: int
    """The strongest pair, whatever it is worth."""
    holds: bool
    """Whether the strongest pair would do to hold an active digit."""


class Bank:
    """Eight oscillators that never stop, and the sums over the last hops."""

    def __init__(self) -> None:
        self._phase = [0] * t.TONES
        self._re = [0] * t.TONES
        self._im = [0] * t.TONES
        self._energy = 0
        self._count = 0
        self._b: deque[Waves] = deque([NOTHING] * 4, 4)
        self._e: deque[int] = deque([0] * 4, 4)
        self._z: deque[Waves] = deque([NOTHING] * 3, 3)
        self._q: deque[tuple[int, ...]] = deque([(0,) * t.TONES] * t.KEPT, t.KEPT)

    def past(self) -> tuple[Sequence[Sequence[int]], Sequence[int]]:
        """The powers of the last looks and the energies of the last four hops."""
        return self._q, self._e

    def take(self, x: int) -> Look | None:
        """One sample; a look at the end of each hop."""
        for i, step in enumerate(t.STEPS):
            k = self._phase[i] >> 8
            self._re[i] += x * t.COSINE[k]
            self._im[i] += x * t.SINE[k]
            self._phase[i] = (self._phase[i] + step) & 0xFFFF
        self._energy += x * x
        self._count += 1
        return self._look() if self._count == t.HOP else None

    def _look(self) -> Look:
        self._b.append(tuple((re >> 8, im >> 8) for re, im in zip(self._re, self._im, strict=True)))
        self._e.append(self._energy)
        self._re, self._im, self._energy, self._count = [0] * t.TONES, [0] * t.TONES, 0, 0
        self._z.append(tuple(self._smoothed(i) for i in range(t.TONES)))
        q = tuple((re * re + im * im) >> 5 for re, im in self._z[-1])
        self._q.append(q)
        return self._judged(q, smooth(self._e) >> 5)

    def _smoothed(self, i: int) -> tuple[int, int]:
        re = smooth([waves[i][0] for waves in self._b])
        return re >> 2, smooth([waves[i][1] for waves in self._b]) >> 2

    def _judged(self, q: Sequence[int], energy: int) -> Look:
        row = max(range(4), key=lambda i: q[i])
        column = max(range(4, 8), key=lambda i: q[i])
        best = 4 * row + column - 4
        low, high = q[row], q[column]
        strict = (
            low >= t.LEVEL
            and high >= t.LEVEL
            and 16 * (low + high) >= t.DOMINANCE * energy
            and high <= t.HIGH_OVER_LOW * low
            and low <= t.LOW_OVER_HIGH * high
            and all(t.IN_GROUP * q[i] <= low for i in range(4) if i != row)
            and all(t.IN_GROUP * q[i] <= high for i in range(4, 8) if i != column)
            and self._in_tune(row)
            and self._in_tune(column)
        )
        holds = (
            low >= t.HOLD_LEVEL
            and high >= t.HOLD_LEVEL
            and 16 * (low + high) >= t.HOLD_DOMINANCE * energy
        )
        return Look(best if strict else t.NONE, best, holds)

    def _in_tune(self, i: int) -> bool:
        """Whether the phase went on as that of the frequency does: needs no arc tangent."""
        (zr, zi), (yr, yi) = self._z[-1][i], self._z[-1 - t.LAGS[i]][i]
        along = (zr * yr + zi * yi) >> 8
        across = abs(zi * yr - zr * yi) >> 8
        return 64 * across <= along * t.TURNS[i]


def smooth(four: Sequence[int]) -> int:
    """The last four hops, oldest first, with weights 1 2 2 1: a window of 15 ms."""
    return four[0] + 2 * four[1] + 2 * four[2] + four[3]


class PlainReceiver:
    """Bank and ladder together."""

    def __init__(self) -> None:
        self._bank = Bank()
        self._ladder = Ladder()
        self._hop = 0

    def push(self, samples: Iterable[int]) -> list[Event]:
        """The events that these samples bring, in order."""
        out: list[Event] = []
        for x in samples:
            look = self._bank.take(int(x))
            if look is None:
                continue
            out += self._ladder.step(self._hop, look.raw, look.best, look.holds, self._bank.past)
            self._hop += 1
        return out
