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

from thundersheet.model.device import Setting
from thundersheet.physics.gas import RHO0, R, Restriction, in_series, mass_flow
from thundersheet.physics.plant.records import Plant
from thundersheet.plan.air.feed import Line, behind_pa

STEP_S = 0.005
NUDGE_PA, LEAST_PA = 100.0, 1000.0
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
    asks: Steps
    """The same as it would be with nothing but its valve in the way: what it asks of a feed."""

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
        return _step(self.steps, seconds)

    def asked(self, seconds: float) -> float:
        """ANR litres a second that it asks for just then."""
        return _step(self.asks, seconds)


def _step(steps: Steps, seconds: float) -> float:
    index = bisect_right(steps, (seconds, inf))
    return steps[index - 1][1] if index else 0.0


def asked_for(steps: Steps, setting: Setting) -> Steps:
    """Flows as they would be with the feed's pressure at the valve: in proportion to it."""
    supply = setting.supply_pa
    if not setting.feed or supply is None:
        return steps
    feed = in_series([Restriction(c, b) for c, b in setting.feed])
    return tuple(
        (t, flow * supply / behind_pa(feed, supply, flow * ANR_KG, setting.ambient_k))
        for t, flow in steps
    )


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
        flow = draw.asked(middle)
        if flow > 0.0:
            all_of_it = flow + sum(each.asked(middle) for each in others)
            own += flow * (ends - begins)
            shared += flow * flow / all_of_it * (ends - begins)
    return shared / own if own else 1.0


def _overlap(draw: Draw, other: Draw) -> float:
    """Litres that the other takes while this one is on its way."""
    return sum(
        other.asked(0.5 * (begins + ends)) * (ends - begins)
        for begins, ends in _stretches(draw, [other])
        if draw.asked(0.5 * (begins + ends)) > 0.0
    )


def _stretches(draw: Draw, others: Sequence[Draw]) -> list[tuple[float, float]]:
    """The time up to the landing, cut wherever a flow changes."""
    cuts = {t for each in (draw, *others) for t, _ in each.steps}
    inside = sorted(t for t in cuts if draw.begins_s < t < draw.lands_s)
    ends = [draw.begins_s, *inside, draw.lands_s]
    return list(pairwise(ends))


@dataclass(frozen=True, slots=True)
class Moment:
    """A body's air at one instant while it is not full."""

    at_s: float
    pa: float
    comes: float
    """kg/s through its link."""
    goes: float
    """kg/s to the strokes."""


def store_pressures(
    plant: Plant, lines: Mapping[str, Line], draws: Sequence[Draw], store: str, root_pa: float
) -> dict[str, float]:
    """What a store stands at on the mean over each way of the strokes that it feeds, full before.

    In between shows it fills up again.
    """
    full, trace = _followed(plant, lines, draws, store, root_pa)
    return {draw.cue: _mean(draw, trace, full) for draw in draws}


def carried(
    plant: Plant, lines: Mapping[str, Line], draws: Sequence[Draw], body: str, root_pa: float
) -> dict[str, float]:
    """Which share of what the strokes take comes through the link to a small body on their way.

    Below 1 where the body gives of its own, above 1 where it still fills up from the stroke before.
    """
    _, trace = _followed(plant, lines, draws, body, root_pa)
    found = {}
    for draw in draws:
        here = [each for each in trace if draw.begins_s <= each.at_s <= draw.lands_s]
        goes = sum(each.goes for each in here)
        if goes > 0.0:
            found[draw.cue] = sum(each.comes for each in here) / goes
    return found


def _followed(
    plant: Plant, lines: Mapping[str, Line], draws: Sequence[Draw], body: str, root_pa: float
) -> tuple[float, list[Moment]]:
    """A body's pressure when it is full, and what happens in it while it is not."""
    line = lines[draws[0].device]
    full = line.standing_at(body, root_pa)
    parts = next(link.parts for link in line.links if link.into == body)
    if not parts:
        return full, []
    volume = next(each.volume_m3 for each in plant.bodies if each.name == body)
    per_pa = volume / (R * plant.ambient_k)
    ordered = sorted(draws, key=lambda draw: draw.begins_s)
    return full, _trace(ordered, full, in_series(parts), per_pa, plant.ambient_k)


def _trace(
    draws: Sequence[Draw], full: float, path: Restriction, per_pa: float, kelvin: float
) -> list[Moment]:
    """V/(R T) dp/dt = what comes - what the strokes take; Rosenbrock-Euler, so no step is too long.

    A branch takes air as the pressure before it stands, as choked parts do.
    """
    trace: list[Moment] = []
    at, pressure, waiting = draws[0].begins_s, full, list(draws)
    active: list[Draw] = []
    while waiting or active or full - pressure > RECOVERED_PA:
        if not active and full - pressure <= RECOVERED_PA and waiting:
            at, pressure = max(at, waiting[0].begins_s), full
        while waiting and waiting[0].begins_s <= at:
            active.append(waiting.pop(0))
        per_full = sum(draw.asked(at + 0.5 * STEP_S) for draw in active) * ANR_KG / full
        comes = mass_flow(path, full, pressure, kelvin)
        less = mass_flow(path, full, min(pressure + NUDGE_PA, full), kelvin)
        slope = (less - comes) / NUDGE_PA - per_full
        change = (comes - per_full * pressure) * STEP_S / (per_pa - slope * STEP_S)
        after = max(min(pressure + change, full), LEAST_PA)
        goes = per_full * 0.5 * (pressure + after)
        # What came is what went and what stayed: to the last gram, whatever the step.
        comes = goes + per_pa * (after - pressure) / STEP_S
        trace.append(Moment(at, pressure, comes, goes))
        pressure, at = after, at + STEP_S
        active = [draw for draw in active if draw.ends_s > at]
    return trace


def _mean(draw: Draw, trace: Sequence[Moment], full: float) -> float:
    """Weighted with its own flow: where little flows, little is lost."""
    rows = [
        (each.pa, draw.at(each.at_s))
        for each in trace
        if draw.begins_s <= each.at_s <= draw.lands_s
    ]
    weight = sum(flow for _, flow in rows)
    return sum(pa * flow for pa, flow in rows) / weight if weight else full
