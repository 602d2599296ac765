"""How many shows a tank gives with the compressor off."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.calc._plant import CAUTIONS, SOURCE, AirAsk, asked
from thundersheet.calc._sum import Result, Sum
from thundersheet.physics.plant.lasting import shows_without_compressor
from thundersheet.physics.plant.reservoir import Reservoir

UNHURRIED_S = 60.0
"""Where nothing leaks, the time between shows changes nothing."""


@dataclass(frozen=True, kw_only=True)
class Ask(AirAsk):
    """A full tank and what a show takes."""


def answer(ask: Ask) -> tuple[Result, ...]:
    """The shows, the time they last, and where the tank then stands."""
    found = asked(ask)
    leaks = any(body.leak_m3_s_pa for body in found.plant.bodies)
    every = found.every_s if found.every_s or not leaks else found.pause_s()
    kg = found.show_kg()
    count = shows_without_compressor(
        found.plant, kg, found.least(), every_s=every or UNHURRIED_S, state=found.full
    )
    reservoir = Reservoir(found.plant, found.full).alone()
    for number in range(count):
        if number:
            reservoir.advance(reservoir.at_s + (every or UNHURRIED_S))
        reservoir.draw(kg)
    left = reservoir.pressure_pa - found.plant.atmosphere_pa
    return (
        Result("shows", count),
        Result("lasts", count * every / 60.0 if every else None, "min"),
        Result("left", left, "Pa", "pressure"),
        Result("per_show", 1000.0 * found.free_m3(kg), "L free air"),
    )


SUM = Sum(
    about="How many shows a tank gives with the compressor off, leaks counted.",
    asks=Ask,
    answer=answer,
    formula="m = p V/(R T), less each show's air and C_leak rho0 p sqrt(T0/T) in between",
    source=SOURCE,
    cautions=CAUTIONS,
    example="volume=24l high=8bar low=5bar per-show=2.2l",
)
