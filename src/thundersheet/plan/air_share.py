"""Who shares a feed with whom, and how much of it each stroke has.

In: how fast each move draws air, and what its line to the root is. Out: each move's share of the
links it has in common with others that draw at the same time, and what a small tank near the
valves stands at meanwhile. Quasi-steady: a part passes what its pressures say at every instant,
so that strokes which flow together divide it as their flows stand to each other; N equal ones have
a Nth each (reference model 3.2).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf

from thundersheet.physics.gas import RHO0, R, Restriction, in_series, mass_flow
from thundersheet.physics.plant.records import Plant
from thundersheet.plan.air_feed import Line

STEP_S = 0.01
RECOVERED_PA = 20.0
ANR_KG = RHO0 / 1000.0
"""kg in a standard litre."""

Steps = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Draw:
    """One move's air: when it flows, and until when that matters for its landing."""

    cue: str
    device: str
    steps: Steps
    """(seconds of the show, ANR litres a second) stepwise, the last one zero."""
    lands_s: float
    litres: float

    @property
    def begins_s(self) -> float:
        """When it first draws."""
        return self.steps[0][0]

    @property
    def ends_s(self) -> float:
        """When it draws no more."""
        return self.steps[-1][0]

    def at(self, seconds: float) -> float:
        """ANR litres a second just then."""
        index = bisect_right(self.steps, (seconds, inf))
        return self.steps[index - 1][1] if index else 0.0


@dataclass(frozen=True, slots=True)
class Common:
    """A move that shares a link with others while it is on its way."""

    cue: str
    link: str
    share: float
    others: tuple[str, ...]
    """Cues, the one that takes most first."""


def commons(
    draws: Sequence[Draw], lines: Mapping[str, Line], stores: Iterable[str]
) -> list[Common]:
    """Every move's shares of links, where it is not alone on them."""
    kept = dict.fromkeys(stores, 0.0)
    by_link: dict[str, list[Draw]] = {}
    for draw in draws:
        for link in lines[draw.device].after(kept)[:-1]:
            if link.parts:
                by_link.setdefault(link.into, []).append(draw)
    return [
        found
        for link, here in by_link.items()
        for draw in here
        for found in _common(draw, link, here)
    ]


def _common(draw: Draw, link: str, here: Sequence[Draw]) -> Iterable[Common]:
    others = [
        each
        for each in here
        if each.device != draw.device
        and each.begins_s < draw.lands_s
        and each.ends_s > draw.begins_s
    ]
    if others:
        taken = {each.cue: _overlap(draw, each) for each in others}
        names = tuple(sorted((c for c in taken if taken[c] > 0.0), key=lambda c: -taken[c]))
        if names:
            yield Common(draw.cue, link, _share(draw, others), names)


def _share(draw: Draw, others: Sequence[Draw]) -> float:
    """Mean of own flow over all flow up to the landing, weighted with the own flow.

    Where little flows, little is lost, so that the share then matters little.
    """
    own = shared = 0.0
    for begins, ends in _stretches(draw, others):
        middle = 0.5 * (begins + ends)
        flow = draw.at(middle)
        if flow > 0.0:
            all_of_it = flow + sum(each.at(middle) for each in others)
            own += flow * (ends - begins)
            shared += flow * flow / all_of_it * (ends - begins)
    return shared / own if own else 1.0


def _overlap(draw: Draw, other: Draw) -> float:
    """Litres that the other takes while this one is on its way."""
    return sum(
        other.at(0.5 * (begins + ends)) * (ends - begins)
        for begins, ends in _stretches(draw, [other])
        if draw.at(0.5 * (begins + ends)) > 0.0
    )


def _stretches(draw: Draw, others: Sequence[Draw]) -> list[tuple[float, float]]:
    """The time up to the landing, cut wherever a flow changes."""
    cuts = {t for each in (draw, *others) for t, _ in each.steps}
    inside = sorted(t for t in cuts if draw.begins_s < t < draw.lands_s)
    ends = [draw.begins_s, *inside, draw.lands_s]
    return list(pairwise(ends))


def store_pressures(
    plant: Plant,
    lines: Mapping[str, Line],
    draws: Sequence[Draw],
    store: str,
    root_pa: float,
) -> dict[str, float]:
    """What a store stands at on the mean over each way of the strokes that it feeds, full before.

    V/(R T) dp/dt = what comes through its link - what the strokes take, in even steps; in between
    shows it fills up again.
    """
    mine = sorted(draws, key=lambda draw: draw.begins_s)
    line = lines[mine[0].device]
    full = line.standing_at(store, root_pa)
    parts = next(link.parts for link in line.links if link.into == store)
    body = next(each for each in plant.bodies if each.name == store)
    per_pa = body.volume_m3 / (R * plant.ambient_k)
    trace = _trace(mine, full, in_series(parts) if parts else None, per_pa, plant.ambient_k)
    return {draw.cue: _mean(draw, trace, full) for draw in mine}


def _trace(
    draws: Sequence[Draw], full: float, path: Restriction | None, per_pa: float, kelvin: float
) -> list[tuple[float, float]]:
    """(seconds, pascals) while it is not full."""
    trace: list[tuple[float, float]] = []
    if path is None:
        return trace
    at, pressure, waiting = draws[0].begins_s, full, list(draws)
    active: list[Draw] = []
    while waiting or active or full - pressure > RECOVERED_PA:
        if not active and full - pressure <= RECOVERED_PA and waiting:
            at, pressure = max(at, waiting[0].begins_s), full
        while waiting and waiting[0].begins_s <= at:
            active.append(waiting.pop(0))
        goes = sum(draw.at(at + 0.5 * STEP_S) for draw in active) * ANR_KG
        comes = mass_flow(path, full, min(pressure, full), kelvin)
        trace.append((at, pressure))
        pressure = max(min(pressure + (comes - goes) * STEP_S / per_pa, full), 1000.0)
        at += STEP_S
        active = [draw for draw in active if draw.ends_s > at]
    return trace


def _mean(draw: Draw, trace: Sequence[tuple[float, float]], full: float) -> float:
    found = [p for t, p in trace if draw.begins_s <= t <= draw.lands_s]
    return sum(found) / len(found) if found else full
