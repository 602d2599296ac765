"""What a hose does to the air that goes through it: flow, volume, and the delay of sound."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, quantity
from thundersheet.calc._sum import AIR_CAUTION, Result, Sum
from thundersheet.physics.gas import (
    P_ATM,
    R,
    Restriction,
    Tube,
    in_series,
    mass_flow,
    nominal_of_c,
    sound_speed,
    standard_litres,
)


@dataclass(frozen=True, kw_only=True)
class Ask(Record):
    """A hose, and what hangs before it."""

    bore_m: float = quantity("length", "Inside diameter.", low=1e-4, example="4mm")
    length_m: float = quantity("length", "Length.", low=0.0, example="3m")
    pressure_pa: float = quantity(
        "pressure", "Gauge pressure before it, blowing into the open.", default=4e5, low=0.0
    )
    valve_m3_s_pa: float | None = quantity(
        "conductance", "A valve before it; left out: none.", default=None, low=1e-12
    )
    ambient_k: float = quantity("temperature", "Of the air.", default=293.15, low=200.0)


def answer(ask: Ask) -> tuple[Result, ...]:
    """The hose as one part, alone and behind its valve."""
    tube = Tube(ask.bore_m, ask.length_m)
    parts = [tube.flow]
    if ask.valve_m3_s_pa is not None:
        parts.append(Restriction(ask.valve_m3_s_pa))
    both = in_series(parts)
    flow = mass_flow(both, ask.pressure_pa + P_ATM, P_ATM, ask.ambient_k)
    return (
        Result("C", tube.flow.c_m3_s_pa * 1e8, "dm3/(s bar)"),
        Result("b", tube.flow.b),
        Result("C_with_valve", both.c_m3_s_pa * 1e8, "dm3/(s bar)"),
        Result("nominal_flow", nominal_of_c(both.c_m3_s_pa, both.b), "L/min ANR"),
        Result("flow_into_the_open", standard_litres(flow) * 60, "L/min ANR"),
        Result("volume", tube.volume_m3 * 1000, "L"),
        Result(
            "air_to_fill",
            standard_litres(tube.volume_m3 * ask.pressure_pa / (R * ask.ambient_k)),
            "L ANR",
        ),
        Result("sound_delay", ask.length_m / sound_speed(ask.ambient_k), "s"),
    )


SUM = Sum(
    about="What a hose lets through, what it holds, and how long the pressure wave takes.",
    asks=Ask,
    answer=answer,
    formula=(
        "C = 0.029 d^2 / sqrt(L/d^1.25 + 510), b = 474 C/d^2 (SI); in a row 1/C^3 = sum 1/Ci^3; "
        "mdot = C rho0 p1 sqrt(T0/T1) psi(p2/p1)"
    ),
    source=(
        "Beater, Pneumatic Drives (Springer 2007), from memory, within -3..-7 % of an adiabatic "
        "Fanno calculation; ISO 6358-1; ISO 8778 (ANR)"
    ),
    cautions=(AIR_CAUTION,),
    example="bore=4mm length=3m valve=0.4Cv pressure=60psi",
)
