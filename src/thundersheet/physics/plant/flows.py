"""Flows that overlap in time: what each has of a shared feed, and what the stores come to.

In come flows as stretches of constant kg/s, out come shares and the stores' pressures as polylines.
The shares are quasi-steady: N equal flows through one regulator have C/N each.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from math import inf
from typing import NamedTuple

from thundersheet.physics.gas import LAMINAR
from thundersheet.physics.plant.closed import gain
from thundersheet.physics.plant.feeds import Store, fed_pa, leaked_kg_s, refill_kg_s

STEP_S = 0.03
"""Longest step of a store that fills while something flows."""
IDLE_S = 1.0
LEAST_SHARE = 0.05
"""A stroke that took next to nothing in the pass before has at least so much beside the others."""
MOST_CHANGE = 0.02
"""Of a store's pressure in one step."""


NEARING = 0.4
"""Of the way to what it is fed with that a store goes in one step."""


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


class Step(NamedTuple):
    """What one step of `walk` moved: kg out of each store, leaked, blown by each jet."""

    begin_s: float
    end_s: float
    out_kg: list[float]
    leaked_kg: float
    blown_kg: dict[int, float]


def walk(
    stores: Sequence[Store],
    now: Now,
    flows: Sequence[Flow],
    blows: Sequence[Blow],
    end_s: float,
    atmosphere_pa: float,
    took: Callable[[Step], None] | None = None,
) -> Course:
    """Follow the stores to ``end_s``; with ``took``, ``now``'s pressures go along.

    ``took`` is told of every step's masses: they add up.
    """
    begin_s, pa = now.at_s, now.pa if took else list(now.pa)
    course = Course([begin_s], [[p] for p in pa])
    loads = [Load(x for x in flows if x.store == i) for i in range(len(stores))]
    for a, b in _stretches(loads, blows, begin_s, end_s):
        t = a
        while t < b:
            blown = {x.device: x.kg_s(pa[x.store]) for x in blows if x.begin_s <= t < x.end_s}
            draws = _draws(loads, blows, blown, t)
            rates = _rates(stores, pa, draws, now, atmosphere_pa)
            h = _step_s(pa, rates, b - t, idle=not any(draws), jets=bool(blown))
            h = min(h, _nearing_s(stores, pa, rates, atmosphere_pa))
            if blown:
                # The jets' mean over the step is near theirs at its middle.
                middle = [p + 0.5 * gain(*rate, h) for p, rate in zip(pa, rates, strict=True)]
                blown = {x.device: x.kg_s(middle[x.store]) for x in blows if x.device in blown}
                draws = _draws(loads, blows, blown, t)
                rates = _rates(stores, pa, draws, now, atmosphere_pa)
            jets = [draw - load.rate(t) for draw, load in zip(draws, loads, strict=True)]
            step = _step(stores, pa, draws, rates, t, h, atmosphere_pa)
            for i, load in enumerate(loads):
                at_once = load.within(t, t + h) + jets[i] * h - draws[i] * h
                step.out_kg[i] += at_once
                if i:
                    pa[i] -= at_once / stores[i].kg_pa
            pa[0] += (now.gains_kg_s * h - step.out_kg[0]) / now.kg_pa
            t = b if b - t - h < 1e-9 else t + h
            course.at_s.append(t)
            for kept, p in zip(course.pa, pa, strict=True):
                kept.append(p)
            if took is not None:
                took(step._replace(end_s=t, blown_kg={d: x * h for d, x in blown.items()}))
    return course


def _stretches(
    loads: Sequence[Load], blows: Sequence[Blow], begin_s: float, end_s: float
) -> list[tuple[float, float]]:
    """The time cut at every edge of a flow."""
    edges = {begin_s, end_s}
    for load in loads:
        edges |= {x for x in load.at_s if begin_s < x < end_s}
    for jet in blows:
        edges |= {x for x in (jet.begin_s, jet.end_s) if begin_s < x < end_s}
    return list(pairwise(sorted(edges)))


def _net(store: Store, pa: float, above_pa: float, draw: float, atmosphere_pa: float) -> float:
    come = refill_kg_s(store, pa, above_pa, atmosphere_pa)
    return (come - draw - leaked_kg_s(store, pa, atmosphere_pa)) / store.kg_pa


def _draws(
    loads: Sequence[Load], blows: Sequence[Blow], blown: Mapping[int, float], t: float
) -> list[float]:
    """The kg/s out of each store from ``t`` on."""
    draws = [load.rate(t) for load in loads]
    for jet in blows:
        draws[jet.store] += blown.get(jet.device, 0.0) if jet.begin_s <= t < jet.end_s else 0.0
    return draws


def _rates(
    stores: Sequence[Store],
    pa: Sequence[float],
    draws: Sequence[float],
    now: Now,
    atmosphere_pa: float,
) -> list[tuple[float, float]]:
    """dp/dt of every store, and its slope; the root's for the length of a step only."""
    found = [((now.gains_kg_s - draws[0]) / now.kg_pa, 0.0)]
    for store, p, draw in zip(stores[1:], pa[1:], draws[1:], strict=True):
        above = pa[store.fed_by]
        rate = _net(store, p, above, draw, atmosphere_pa)
        more = 1e-5 * p
        slope = (_net(store, p + more, above, draw, atmosphere_pa) - rate) / more
        found.append((rate, min(slope, 0.0)))
    return found


def _step_s(
    pa: Sequence[float],
    rates: Sequence[tuple[float, float]],
    left_s: float,
    *,
    idle: bool,
    jets: bool,
) -> float:
    h = left_s
    if len(pa) > 1:
        h = min(h, IDLE_S if idle else STEP_S)
    for p, (rate, _) in zip(pa if jets else pa[1:], rates if jets else rates[1:], strict=True):
        if rate:
            h = min(h, max(MOST_CHANGE * p / abs(rate), 1e-4))
    return h


def _nearing_s(
    stores: Sequence[Store],
    pa: Sequence[float],
    rates: Sequence[tuple[float, float]],
    atmosphere_pa: float,
) -> float:
    """So short that no store shoots beyond what it is fed with.

    Above 0.995 of that the law is a line and a step of any length is exact; below it steepens on
    the way, which the slope at a step's beginning does not know.
    """
    h = inf
    for store, p, (rate, _) in zip(stores[1:], pa[1:], rates[1:], strict=True):
        fed = fed_pa(store, pa[store.fed_by], atmosphere_pa)
        if p < LAMINAR * fed and rate > 0.0:
            h = min(h, max(NEARING * (fed - p) / rate, 1e-4))
    return h


def _step(
    stores: Sequence[Store],
    pa: list[float],
    draws: Sequence[float],
    rates: Sequence[tuple[float, float]],
    t: float,
    h: float,
    atmosphere_pa: float,
) -> Step:
    """One step by the exponential of each store's own slope, stiff or not; the root is left."""
    out = [draw * h for draw in draws]
    leaked = 0.0
    for i in range(len(stores) - 1, 0, -1):
        store = stores[i]
        change = gain(*rates[i], h)
        leak = leaked_kg_s(store, pa[i], atmosphere_pa) * h
        leaked += leak
        out[store.fed_by] += store.kg_pa * change + out[i] + leak
        pa[i] += change
    return Step(t, t + h, out, leaked, {})
