"""The tank over a declared evening: what stands at its root when each cue leaves, show after show.

In: a plant, what one show draws and when, how many shows and how far apart. Out: per cue the
highest and lowest pressure over all shows, the first show that finds too little, and what the
compressor did. Tank and compressor are followed in closed form from draw to draw.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from thundersheet.physics.gas import R
from thundersheet.physics.plant.records import Plant, State
from thundersheet.physics.plant.reservoir import Reservoir
from thundersheet.physics.plant.running import worst_duty
from thundersheet.plan.air.feed import Line
from thundersheet.plan.air.share import ANR_KG, Draw

LOW_PA = 1000.0
"""A valve that has so much less than with a full tank is fed from a weak one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """What an evening does to the air."""

    highest_pa: Mapping[str, float]
    """By cue: the most that stands at the root when it leaves, over all shows."""
    lowest_pa: Mapping[str, float]
    low_pa: float
    """The least at the root at any instant."""
    weak_show: int | None
    """The first show (from 1) in which a valve has less than with a full tank; None: no such."""
    weak_cue: str
    empty_show: int | None
    """The first show for which air is missing altogether."""
    ran: float
    """Share of the evening that the compressor ran."""
    duty: float
    """Largest share of any ten minutes that it ran."""
    dips_pa: float
    """By how much one show lowers the root if nothing comes."""
    end_pa: float
    """At the root when the last show is over."""


def follow(
    plant: Plant,
    state: State | None,
    draws: Sequence[Draw],
    lines: Mapping[str, Line],
    *,
    shows: int,
    every_s: float,
    least_pa: float = 0.0,
) -> Followed:
    """The whole evening, show by show, from a full tank on.

    A show that would begin with less than ``least_pa`` at the root is another version's: it draws
    as this one does, which is the safe side, and has no say in what this one has to serve.
    """
    reservoir = Reservoir(plant, state)
    begin, full = reservoir.at_s, reservoir.pressure_pa
    ordered = sorted(draws, key=lambda draw: draw.begins_s)
    highest: dict[str, float] = {}
    lowest: dict[str, float] = {}
    weak: tuple[int, str] | None = None
    empty: int | None = None
    for show in range(shows):
        reservoir.advance(max(begin + show * every_s, reservoir.at_s))
        plays = show == 0 or reservoir.pressure_pa >= least_pa
        for draw in ordered:
            reservoir.advance(max(begin + show * every_s + draw.begins_s, reservoir.at_s))
            here = reservoir.pressure_pa
            if plays:
                highest[draw.cue] = max(highest.get(draw.cue, here), here)
                lowest[draw.cue] = min(lowest.get(draw.cue, here), here)
            line = lines[draw.device]
            has, usual = line.standing(here), line.standing(full)
            if plays and weak is None and line.regulated and has < usual - LOW_PA:
                weak = show + 1, draw.cue
            # A chamber that fills to less takes less.
            reservoir.draw(draw.litres * ANR_KG * min(1.0, max(has, 0.0) / usual))
            if plays and empty is None and reservoir.short_kg > 0.0:
                empty = show + 1
    taken = sum(draw.litres for draw in draws) * ANR_KG
    reservoir.advance(max(begin + shows * every_s, reservoir.at_s))
    ran = sum(end - start for start, end in reservoir.running.own)
    return Followed(
        highest_pa=highest,
        lowest_pa=lowest,
        low_pa=reservoir.lowest_pa,
        weak_show=weak[0] if weak else None,
        weak_cue=weak[1] if weak else "",
        empty_show=empty,
        ran=ran / max(reservoir.at_s - begin, 1e-9),
        duty=worst_duty(reservoir.running.own),
        dips_pa=taken * R * plant.ambient_k / plant.bodies[0].volume_m3,
        end_pa=reservoir.pressure_pa,
    )
