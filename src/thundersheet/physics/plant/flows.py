"""Flows that overlap in time: what each has of a shared feed, and what the stores come to.

In come flows as stretches of constant kg/s, out come shares and the stores' pressures as polylines.
The shares are quasi-steady: N equal flows through one regulator have C/N each.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable
from typing import NamedTuple

LEAST_SHARE = 0.05
"""A stroke that took next to nothing in the pass before has at least so much beside the others."""


class Flow(NamedTuple):
    """A stretch of constant flow out of a store; no length: all at once."""

    begin_s: float
    end_s: float
    kg: float
    device: int
    store: int
    shared: tuple[str, ...]

    @property
    def rate(self) -> float:
        """kg/s, none for what comes at once or runs back."""
        length = self.end_s - self.begin_s
        return max(self.kg / length, 0.0) if length > 0.0 else 0.0


class Load:
    """Flows laid over each other: how much has gone by any instant."""

    def __init__(self, flows: Iterable[Flow]) -> None:
        steps: list[tuple[float, float, float]] = []
        for begin, end, kg, *_ in flows:
            if end > begin:
                rate = kg / (end - begin)
                steps += ((begin, rate, 0.0), (end, -rate, 0.0))
            else:
                steps.append((begin, 0.0, kg))
        steps.sort()
        self.at_s: list[float] = []
        self._gone: list[float] = []
        self._rates: list[float] = []
        gone = rate = last = 0.0
        for at_s, more, lump in steps:
            gone += rate * (at_s - last) + lump
            rate, last = rate + more, at_s
            if self.at_s and self.at_s[-1] == at_s:
                self._gone[-1], self._rates[-1] = gone, rate
            else:
                self.at_s.append(at_s)
                self._gone.append(gone)
                self._rates.append(rate)

    def by(self, at_s: float) -> float:
        """The kg that have gone before that instant."""
        i = bisect_left(self.at_s, at_s) - 1
        return self._gone[i] + self._rates[i] * (at_s - self.at_s[i]) if i >= 0 else 0.0

    def rate(self, at_s: float) -> float:
        """The kg/s from that instant on."""
        i = bisect_right(self.at_s, at_s) - 1
        return max(self._rates[i], 0.0) if i >= 0 else 0.0

    def within(self, a: float, b: float) -> float:
        """The kg from ``a`` to ``b``."""
        return self.by(b) - self.by(a)


def share_of(own_kg: float, all_kg: float) -> float:
    """The share of a stretch that a flow has among all that pass it in the same time."""
    others = all_kg - own_kg
    if others <= 1e-9:
        return 1.0
    own = max(own_kg, LEAST_SHARE * others)
    return own / (own + others)


class Blow(NamedTuple):
    """A jet that is open: what it lets out at a pressure of its store."""

    begin_s: float
    end_s: float
    device: int
    store: int
    shared: tuple[str, ...]
    kg_s: Callable[[float], float]


class Now(NamedTuple):
    """Where the stores stand."""

    at_s: float
    pa: list[float]
    gains_kg_s: float
    """Of the root, draws left out."""
    kg_pa: float
    """What a pascal more at the root would take."""


class Level:
    """The root's pressure, where it is the only store: what has gone is missing."""

    def __init__(self, now: Now, load: Load) -> None:
        self._begin, self._pa = now.at_s, now.pa[0]
        self._kg_s, self._kg_pa = now.gains_kg_s, now.kg_pa
        self._load, self._before = load, load.by(now.at_s)

    def at(self, store: int, when: float) -> float:
        """Pressure at one instant."""
        del store
        went = self._load.by(when) - self._before - self._kg_s * (when - self._begin)
        return self._pa - went / self._kg_pa

    def mean(self, store: int, a: float, b: float) -> float:
        """Mean pressure from ``a`` to ``b``, by Simpson's rule."""
        return (self.at(store, a) + 4.0 * self.at(store, 0.5 * (a + b)) + self.at(store, b)) / 6.0

    def lowest(self, store: int, a: float, b: float) -> float:
        """Lowest pressure from ``a`` to ``b``."""
        inside = (self.at(store, t) for t in self._load.at_s if a < t < b)
        return min(self.at(store, a), self.at(store, b), *inside)


class Course(NamedTuple):
    """The stores' pressures over a stretch of time, one polyline each."""

    at_s: list[float]
    pa: list[list[float]]

    def mean(self, store: int, a: float, b: float) -> float:
        """Mean pressure from ``a`` to ``b``."""
        if b - a < 1e-9:
            return self.at(store, a)
        t, p = self.at_s, self.pa[store]
        i = bisect_right(t, a)
        last_t, last_p, total = a, self.at(store, a), 0.0
        while i < len(t) and t[i] < b:
            total += 0.5 * (last_p + p[i]) * (t[i] - last_t)
            last_t, last_p = t[i], p[i]
            i += 1
        total += 0.5 * (last_p + self.at(store, b)) * (b - last_t)
        return total / (b - a)

    def at(self, store: int, when: float) -> float:
        """Pressure at one instant; at a jump the one before it."""
        t, p = self.at_s, self.pa[store]
        i = bisect_right(t, when)
        while i > 0 and t[i - 1] >= when:
            i -= 1
        if i <= 0:
            return p[0]
        if i >= len(t):
            return p[-1]
        return p[i - 1] + (p[i] - p[i - 1]) * (when - t[i - 1]) / (t[i] - t[i - 1])

    def lowest(self, store: int, a: float, b: float) -> float:
        """Lowest pressure from ``a`` to ``b``."""
        first, last = bisect_right(self.at_s, a), bisect_right(self.at_s, b)
        inside = self.pa[store][first:last]
        return min([self.at(store, a), self.at(store, b), *inside])
