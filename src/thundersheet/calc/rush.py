"""What tank a rush of shows wants."""

from __future__ import annotations

from dataclasses import dataclass, replace

from thundersheet.base.shape import whole
from thundersheet.calc._plant import CAUTIONS, SOURCE, AirAsk, Asked, asked
from thundersheet.calc._sum import Result, Sum
from thundersheet.physics.plant.lasting import shows_until, tank_for_rush
from thundersheet.physics.plant.records import Compressor, Plant
from thundersheet.physics.plant.reservoir import Reservoir


@dataclass(frozen=True, kw_only=True)
class Ask(AirAsk):
    """A rush of shows, one after another."""

    shows: int = whole("How many, one after another.", default=20, low=1, high=10_000)


def answer(ask: Ask) -> tuple[Result, ...]:
    """The tank, the tank without a compressor, and what the given tank does."""
    given = ask.volume_m3 is not None or bool(ask.book)
    # Where nobody has said a tank, its volume is what is looked for.
    found = asked(ask if given else replace(ask, volume_m3=UNKNOWN_M3))
    wanted = _tank(found, found.plant, ask.shows) if found.plant.compressor else None
    alone = _tank(found, _idle(found), ask.shows)
    return (
        Result("tank", wanted, "m3", "volume"),
        Result("tank_without_compressor", alone, "m3", "volume"),
        *(_given(found, ask.shows) if given else ()),
    )


UNKNOWN_M3 = 0.001


def _tank(found: Asked, plant: Plant, shows: int) -> float | None:
    return tank_for_rush(
        plant, found.show_kg(), found.least(), shows=shows, every_s=found.pause_s()
    )


def _idle(found: Asked) -> Plant:
    """The same with a compressor that delivers nothing."""
    low, full = found.plant.atmosphere_pa, found.full_pa
    idle = Compressor(delivers=((full, 0.0),), cut_in_pa=low, cut_out_pa=full)
    return replace(found.plant, compressor=idle)


def _given(found: Asked, shows: int) -> tuple[Result, ...]:
    """How the tank that was given does."""
    plant = found.plant if found.plant.compressor else _idle(found)
    kg, every = found.show_kg(), found.pause_s()
    played = shows_until(Reservoir(plant), kg, found.least(), every_s=every, most=shows)
    reservoir = Reservoir(plant)
    for number in range(shows):
        if number:
            reservoir.advance(reservoir.at_s + every)
        reservoir.draw(kg)
    return (
        Result("enough", played == shows),
        Result("first_weak_show", None if played == shows else played + 1),
        Result("lowest", reservoir.lowest_pa - plant.atmosphere_pa, "Pa", "pressure"),
    )


SUM = Sum(
    about="What tank a rush of shows wants, with the compressor and without, and whether one does.",
    asks=Ask,
    answer=answer,
    formula="the least V with p >= low at every show's end; dm/dt = rho_inlet FAD - leaks - shows",
    source=SOURCE,
    cautions=CAUTIONS,
    example=(
        "shows=20 high=8bar low=3bar per-show=4l every=104s cut-in=6bar delivers=20l/min duty=60%"
    ),
)
