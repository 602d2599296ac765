"""Flows that overlap in time: what each has of a shared feed, and what the stores come to.

In come flows as stretches of constant kg/s, out come shares and the stores' pressures as polylines.
The shares are quasi-steady: N equal flows through one regulator have C/N each.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from math import inf
from typing import NamedTuple

from thundersheet.physics.plant.closed import gain
from thundersheet.physics.plant.feeds import Store, leaked_kg_s, refill_kg_s

STEP_S = 0.01
"""Longest step of a store that fills while something flows."""
IDLE_S = 1.0
MOST_CHANGE = 0.01
"""Of a store's pressure in one step."""


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

    def within(self, a: float, b: float) -> float:
        """The kg that fall into [a, b), what comes at once included."""
        if self.end_s <= self.begin_s:
            return self.kg if a <= self.begin_s < b else 0.0
        over = min(b, self.end_s) - max(a, self.begin_s)
        return self.kg * over / (self.end_s - self.begin_s) if over > 0.0 else 0.0


def shares_of(own: Flow, names: Sequence[str], flows: Iterable[Flow]) -> tuple[float, ...]:
    """Mean share of each named stretch (empty name: all of it) that a flow has while it lasts."""
    if own.end_s <= own.begin_s or not any(names):
        return (1.0,) * len(names)
    others = [
        each
        for each in flows
        if each.device != own.device
        and each.begin_s < own.end_s
        and each.end_s > own.begin_s
        and each.rate > 0.0
        and each.shared
    ]
    if not others:
        return (1.0,) * len(names)
    edges = {own.begin_s, own.end_s}
    for each in others:
        edges |= {max(each.begin_s, own.begin_s), min(each.end_s, own.end_s)}
    cuts = sorted(edges)
    return tuple(_share(own, name, others, cuts) if name else 1.0 for name in names)


def _share(own: Flow, name: str, others: Sequence[Flow], cuts: Sequence[float]) -> float:
    rate, total = max(own.rate, 1e-9), 0.0
    for a, b in pairwise(cuts):
        middle = 0.5 * (a + b)
        more = sum(
            each.rate
            for each in others
            if name in each.shared and each.begin_s < middle < each.end_s
        )
        total += (b - a) * rate / (rate + more)
    return total / (own.end_s - own.begin_s)


class Blow(NamedTuple):
    """A jet that is open: what it lets out at a pressure of its store."""

    begin_s: float
    end_s: float
    device: int
    store: int
    shared: tuple[str, ...]
    kg_s: Callable[[float], float]


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
    pa: list[float],
    root_kg_s: float,
    root_kg_pa: float,
    flows: Sequence[Flow],
    blows: Sequence[Blow],
    begin_s: float,
    end_s: float,
    atmosphere_pa: float,
    took: Callable[[Step], None] | None = None,
) -> Course:
    """Follow the stores from ``begin_s`` to ``end_s``; ``pa`` is left at the end's pressures.

    The root gains ``root_kg_s`` besides. ``took`` is told of every step's masses: they add up.
    """
    course = Course([begin_s], [[p] for p in pa])
    gain_kg_s = [root_kg_s] + [0.0] * (len(stores) - 1)
    for a, b in _stretches(flows, blows, begin_s, end_s):
        t = a
        while t < b:
            draws = [0.0] * len(stores)
            for each in flows:
                if each.begin_s <= t < each.end_s:
                    draws[each.store] += each.kg / (each.end_s - each.begin_s)
            blown = {x.device: x.kg_s(pa[x.store]) for x in blows if x.begin_s <= t < x.end_s}
            for jet in blows:
                draws[jet.store] += blown.get(jet.device, 0.0)
            rates = _rates(stores, pa, draws, atmosphere_pa)
            h = _step_s(pa, rates, b - t, idle=not any(draws))
            step = _step(stores, pa, root_kg_pa, gain_kg_s, draws, rates, t, h, atmosphere_pa)
            for each in flows:
                if each.begin_s == each.end_s and t <= each.begin_s < t + h:
                    kg_pa = stores[each.store].kg_pa if each.store else root_kg_pa
                    pa[each.store] -= each.kg / kg_pa
                    step.out_kg[each.store] += each.kg
            t = b if b - t - h < 1e-9 else t + h
            course.at_s.append(t)
            for kept, now in zip(course.pa, pa, strict=True):
                kept.append(now)
            if took is not None:
                took(step._replace(end_s=t, blown_kg={d: x * h for d, x in blown.items()}))
    return course


def _stretches(
    flows: Sequence[Flow], blows: Sequence[Blow], begin_s: float, end_s: float
) -> list[tuple[float, float]]:
    """The time cut at every edge of a flow."""
    spans = [(x.begin_s, x.end_s) for x in flows] + [(x.begin_s, x.end_s) for x in blows]
    edges = {begin_s, end_s, *(x for span in spans for x in span if begin_s < x < end_s)}
    cuts = sorted(edges)
    return list(pairwise(cuts))


def _net(store: Store, pa: float, above_pa: float, draw: float, atmosphere_pa: float) -> float:
    come = refill_kg_s(store, pa, above_pa, atmosphere_pa)
    return (come - draw - leaked_kg_s(store, pa, atmosphere_pa)) / store.kg_pa


def _rates(
    stores: Sequence[Store], pa: Sequence[float], draws: Sequence[float], atmosphere_pa: float
) -> list[tuple[float, float]]:
    """dp/dt of every store but the root, and its slope."""
    found = [(0.0, 0.0)]
    for store, p, draw in zip(stores[1:], pa[1:], draws[1:], strict=True):
        above = pa[store.fed_by]
        rate = _net(store, p, above, draw, atmosphere_pa)
        more = 1e-5 * p
        slope = (_net(store, p + more, above, draw, atmosphere_pa) - rate) / more
        found.append((rate, min(slope, 0.0)))
    return found


def _step_s(
    pa: Sequence[float], rates: Sequence[tuple[float, float]], left_s: float, *, idle: bool
) -> float:
    h = left_s
    if len(pa) == 1:
        return h
    h = min(h, IDLE_S if idle else STEP_S)
    for p, (rate, _) in zip(pa[1:], rates[1:], strict=True):
        if rate:
            h = min(h, max(MOST_CHANGE * p / abs(rate), 1e-4))
    return h


def _step(
    stores: Sequence[Store],
    pa: list[float],
    root_kg_pa: float,
    gain_kg_s: Sequence[float],
    draws: Sequence[float],
    rates: Sequence[tuple[float, float]],
    t: float,
    h: float,
    atmosphere_pa: float,
) -> Step:
    """One step by the exponential of each store's own slope, stiff or not; masses kept."""
    out = [draw * h for draw in draws]
    leaked = 0.0
    for i in range(len(stores) - 1, 0, -1):
        store = stores[i]
        change = gain(*rates[i], h)
        leak = leaked_kg_s(store, pa[i], atmosphere_pa) * h
        leaked += leak
        out[store.fed_by] += store.kg_pa * change + out[i] + leak
        pa[i] += change
    pa[0] += (gain_kg_s[0] * h - out[0]) / root_kg_pa if root_kg_pa < inf else 0.0
    return Step(t, t + h, out, leaked, {})
