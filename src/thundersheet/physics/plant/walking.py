"""Stores that take time to fill, walked through what is drawn from them and blown by jets.

In come stores, flows and jets, out come their pressures as polylines; masses are kept exactly. A
step is as long as the exponential of each store's own slope is right.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import inf
from typing import NamedTuple

from thundersheet.physics.gas import LAMINAR
from thundersheet.physics.plant.closed import gain
from thundersheet.physics.plant.feeds import Store, fed_pa, leaked_kg_s, refill
from thundersheet.physics.plant.flows import Blow, Course, Flow, Load, Now

STEP_S = 0.15
"""Longest step of a store that fills while something flows."""
IDLE_S = 1.0
MOST_CHANGE = 0.02
"""Of a store's pressure in one step."""
NEARING = 0.4
"""Of the way to what it is fed with that a store goes in one step.

Above 0.995 of that the law is a line and a step of any length is exact; below it steepens on the
way, which the slope at a step's beginning does not know: it would shoot beyond.
"""
LEAST_S = 1e-4


class Step(NamedTuple):
    """What one step of `walk` moved: kg out of each store, leaked, blown by each jet."""

    begin_s: float
    end_s: float
    out_kg: list[float]
    leaked_kg: float
    blown_kg: dict[int, float]


class Rate(NamedTuple):
    """How a store moves: dp/dt, its slope, what leaks, and for how long that is right."""

    rate: float
    slope: float
    leaks_kg_s: float
    lasts_s: float


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
    pa = now.pa if took else list(now.pa)
    course = Course([now.at_s], [[p] for p in pa])
    loads = [Load(x for x in flows if x.store == i) for i in range(len(stores))]
    for a, b in _stretches(loads, blows, now.at_s, end_s):
        base = [load.rate(a) for load in loads]
        at_once = [load.within(a, b) - x * (b - a) for load, x in zip(loads, base, strict=True)]
        jets = [x for x in blows if x.begin_s <= a < x.end_s]
        t = a
        while t < b:
            draws, blown = _draws(base, jets, pa)
            rates = _rates(stores, pa, draws, now, atmosphere_pa)
            h = _step_s(pa, rates, b - t, idle=not any(draws), jets=bool(jets))
            if jets:
                # The jets' mean over the step is near theirs at its middle.
                middle = [p + 0.5 * gain(x[0], x[1], h) for p, x in zip(pa, rates, strict=True)]
                draws, blown = _draws(base, jets, middle)
                rates = _rates(stores, pa, draws, now, atmosphere_pa)
            out, leaked = _step(stores, pa, now, draws, at_once, rates, h)
            at_once = [0.0] * len(stores)
            begin, t = t, (b if b - t - h < 1e-9 else t + h)
            course.at_s.append(t)
            for kept, p in zip(course.pa, pa, strict=True):
                kept.append(p)
            if took is not None:
                took(Step(begin, t, out, leaked, {device: x * h for device, x in blown.items()}))
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


def _draws(
    base: list[float], jets: Sequence[Blow], pa: Sequence[float]
) -> tuple[list[float], dict[int, float]]:
    """The kg/s out of each store with its jets, and of each jet."""
    if not jets:
        return base, {}
    draws, blown = list(base), {}
    for jet in jets:
        blown[jet.device] = kg_s = jet.kg_s(pa[jet.store])
        draws[jet.store] += kg_s
    return draws, blown


def _rates(
    stores: Sequence[Store],
    pa: Sequence[float],
    draws: Sequence[float],
    now: Now,
    atmosphere_pa: float,
) -> list[Rate]:
    """How every store moves; the root by what is known of it for the length of a step."""
    found = [Rate((now.gains_kg_s - draws[0]) / now.kg_pa, 0.0, 0.0, inf)]
    for i in range(1, len(stores)):
        store, p = stores[i], pa[i]
        above = pa[store.fed_by]
        come, bend = refill(store, p, above, atmosphere_pa)
        leaks = leaked_kg_s(store, p, atmosphere_pa) if store.leaks else 0.0
        rate = (come - draws[i] - leaks) / store.kg_pa
        lasts = MOST_CHANGE * p / abs(rate) if rate else inf
        if rate > 0.0:
            fed = fed_pa(store, above, atmosphere_pa)
            if p < LAMINAR * fed:
                lasts = min(lasts, NEARING * (fed - p) / rate)
        found.append(Rate(rate, bend / store.kg_pa, leaks, lasts))
    return found


def _step_s(
    pa: Sequence[float], rates: Sequence[Rate], left_s: float, *, idle: bool, jets: bool
) -> float:
    if len(pa) == 1 and not jets:
        return left_s
    h = min(x.lasts_s for x in rates)
    if jets and rates[0].rate:
        h = min(h, MOST_CHANGE * pa[0] / abs(rates[0].rate))
    if len(pa) > 1:
        h = min(h, IDLE_S if idle else STEP_S)
    return min(max(h, LEAST_S), left_s)


def _step(
    stores: Sequence[Store],
    pa: list[float],
    now: Now,
    draws: Sequence[float],
    at_once: Sequence[float],
    rates: Sequence[Rate],
    h: float,
) -> tuple[list[float], float]:
    """One step by the exponential of each store's own slope, stiff or not; kg out, and leaked."""
    out = [draw * h for draw in draws]
    leaked = 0.0
    for i in range(len(stores) - 1, 0, -1):
        store, rate = stores[i], rates[i]
        change = gain(rate.rate, rate.slope, h)
        leak = rate.leaks_kg_s * h
        leaked += leak
        out[store.fed_by] += store.kg_pa * change + out[i] + leak
        out[i] += at_once[i]
        pa[i] += change - at_once[i] / store.kg_pa
    out[0] += at_once[0]
    pa[0] += (now.gains_kg_s * h - out[0]) / now.kg_pa
    return out, leaked
