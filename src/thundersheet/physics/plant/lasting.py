"""How long the air of a plant lasts: shows without a compressor, recovery, duty, tanks, leaks.

In come a plant and what a show draws; out come counts, seconds, shares and volumes, each found by
following a `Reservoir`. A show's air is a mass, drawn at its start, which is the safe side.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf

from thundersheet.physics.plant.records import Body, Plant, State
from thundersheet.physics.plant.reservoir import Reservoir

MOST_SHOWS = 100_000
MOST_S = 7 * 24 * 3600.0
"""A week: what has not happened by then is said never to happen."""


def shows_without_compressor(
    plant: Plant, kg_per_show: float, least_pa: float, *, every_s: float, state: State | None = None
) -> int:
    """How many shows can begin with the compressor off and the tank never below ``least_pa``.

    ``least_pa`` is absolute, at the root, what the shows need at their end; leaks count between.
    """
    return shows_until(
        Reservoir(plant, state).alone(), kg_per_show, least_pa, every_s=every_s, most=MOST_SHOWS
    )


def shows_until(
    reservoir: Reservoir, kg_per_show: float, least_pa: float, *, every_s: float, most: int
) -> int:
    """How many of ``most`` shows, ``every_s`` apart, leave the root at ``least_pa`` or above."""
    if kg_per_show <= 0.0 or every_s <= 0.0:
        raise ValueError("a show draws air, and there is time between two shows")
    for number in range(most):
        reservoir.draw(kg_per_show)
        if reservoir.pressure_pa < least_pa:
            return number
        reservoir.advance(reservoir.at_s + every_s)
    return most


def recovery_s(
    plant: Plant, to_pa: float, *, state: State, within_s: float = MOST_S
) -> float | None:
    """Seconds from ``state`` until the root has come to ``to_pa``; None: not within that time.

    The compressor starts when its pressure switch says so: from above cut-in it never does.
    """
    reservoir = Reservoir(plant, state)
    begin = reservoir.at_s
    if reservoir.pressure_pa >= to_pa:
        return 0.0
    came = reservoir.advance(begin + within_s, stop_at_pa=to_pa)
    return reservoir.at_s - begin if came else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """One round of a compressor under a constant demand; None where it never turns round."""

    on_s: float | None
    """From cut-in to cut-out; None: it never gets there."""
    off_s: float | None
    """From cut-out to cut-in; None: nothing draws the tank down."""
    duty: float
    """Share of the time that it runs, its own limit left out; 1: it never stops."""


def cycle(plant: Plant, demand_kg_s: float) -> Cycle:
    """How the compressor cycles under leaks and a constant demand, were its duty unlimited."""
    if plant.compressor is None:
        raise ValueError("a plant without a compressor has no cycle")
    compressor = replace(plant.compressor, duty=1.0, quiet_s=())
    reservoir = Reservoir(replace(plant, compressor=compressor))
    begin = reservoir.at_s
    reservoir.draw(demand_kg_s * 3 * MOST_S, 3 * MOST_S)
    if not reservoir.advance(begin + MOST_S, stop_at_pa=compressor.cut_in_pa):
        return Cycle(on_s=None, off_s=None, duty=0.0)
    off = reservoir.at_s - begin
    if not reservoir.advance(begin + off + MOST_S, stop_at_pa=compressor.cut_out_pa):
        return Cycle(on_s=None, off_s=off, duty=1.0)
    on = reservoir.at_s - begin - off
    return Cycle(on_s=on, off_s=off, duty=on / (on + off))


def tank_for_rush(
    plant: Plant,
    kg_per_show: float,
    least_pa: float,
    *,
    shows: int,
    every_s: float,
    most_m3: float = 10.0,
) -> float | None:
    """The smallest root volume (m3) with which a rush of so many shows stays above ``least_pa``.

    It begins at cut-out; found to 0.1 % by halving. None: not even ``most_m3`` is enough.
    """

    def enough(volume: float) -> bool:
        root: Body = replace(plant.bodies[0], volume_m3=volume)
        reservoir = Reservoir(replace(plant, bodies=(root, *plant.bodies[1:])))
        return shows_until(reservoir, kg_per_show, least_pa, every_s=every_s, most=shows) == shows

    return _least(enough, 1e-6, most_m3)


def _least(enough: Callable[[float], bool], low: float, high: float) -> float | None:
    """The least value that is enough, by halving on a logarithmic scale."""
    if not enough(high):
        return None
    while high / low > 1.001:
        middle = (low * high) ** 0.5
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """What standing under air for a night costs, nothing else drawn."""

    lost_kg: float
    ran_s: float
    """How long the compressor ran for it."""
    starts: int
    left_pa: float
    """At the root, at the end."""


def leak_over(plant: Plant, seconds: float, state: State | None = None) -> Night:
    """What the plant's leaks alone cost in so many seconds."""
    reservoir = Reservoir(plant, state)
    reservoir.advance(reservoir.at_s + seconds)
    runs = reservoir.running.own
    return Night(
        lost_kg=reservoir.leaked_kg,
        ran_s=sum(end - begin for begin, end in runs),
        starts=len(runs),
        left_pa=reservoir.pressure_pa,
    )


def falls_to_s(plant: Plant, pa: float, *, state: State | None = None) -> float:
    """Seconds until leaks alone have brought the root to ``pa``, compressor off; inf: never."""
    reservoir = Reservoir(plant, state).alone()
    begin = reservoir.at_s
    return reservoir.at_s - begin if reservoir.advance(begin + MOST_S, stop_at_pa=pa) else inf
