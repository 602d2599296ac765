"""The air that a cylinder takes when it works over and over, in every way of counting it."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, choice, quantity
from thundersheet.calc._sum import AIR_CAUTION, Result, Sum
from thundersheet.physics.forces import compression_ratio, free_air_flow, piston_area
from thundersheet.physics.gas import (
    CUBIC_FOOT,
    P_ATM,
    flow_of_fad,
    scfm_of_flow,
    standard_litres,
)


@dataclass(frozen=True, kw_only=True)
class Ask(Record):
    """A cylinder that works over and over."""

    bore_m: float = quantity("length", "Inside diameter.", low=1e-3, example="2in")
    stroke_m: float = quantity("length", "How far the rod goes.", low=1e-4, example="4in")
    pressure_pa: float = quantity("pressure", "Gauge pressure.", low=0.0, example="80psi")
    cycles_hz: float = quantity(
        "frequency", "Out and back counts as one.", low=0.0, example="30/min"
    )
    rod_m: float = quantity("length", "Diameter of the rod.", default=0.0, low=0.0)
    acting: str = choice("Air on both sides or on one.", ("double", "single"), default="double")
    atmosphere_pa: float = quantity(
        "pressure", "Pressure of the open air, absolute.", default=P_ATM, low=3e4
    )


def answer(ask: Ask) -> tuple[Result, ...]:
    """Flow of free air by the compression ratio, and by mass in ANR and scfm."""
    flow = free_air_flow(
        ask.bore_m,
        ask.rod_m,
        ask.stroke_m,
        ask.pressure_pa,
        ask.cycles_hz,
        double=ask.acting == "double",
        atmosphere_pa=ask.atmosphere_pa,
    )
    mass = flow_of_fad(flow, ask.atmosphere_pa)
    back = piston_area(ask.bore_m, ask.rod_m) if ask.acting == "double" else 0.0
    swept = (piston_area(ask.bore_m) + back) * ask.stroke_m
    return (
        Result("compression_ratio", compression_ratio(ask.pressure_pa, ask.atmosphere_pa)),
        Result("swept_per_cycle", swept * 1000, "L"),
        Result("swept_flow", swept * ask.cycles_hz * 60 / CUBIC_FOOT, "cfm"),
        Result("free_air", flow * 60_000, "L/min free air"),
        Result("free_air_us", flow * 60 / CUBIC_FOOT, "cfm free air"),
        Result("standard_air", standard_litres(mass) * 60, "L/min ANR"),
        Result("standard_air_us", scfm_of_flow(mass), "scfm"),
    )


SUM = Sum(
    about="The air that a cylinder takes when it works over and over.",
    asks=Ask,
    answer=answer,
    formula=(
        "Q = (A_out + A_back) S n (p + p_atm)/p_atm; by mass: free air at 20 C, then ANR "
        "(ISO 8778, 1.185 kg/m3) and scfm (14.696 psia, 68 F)"
    ),
    source=(
        "compression-ratio method, as in the Oak Ridge National Laboratory's open compressed-air "
        "library; ISO 8778"
    ),
    cautions=(
        AIR_CAUTION,
        "Dead volume and hoses are left out: `calc stroke` has them (air_fill).",
    ),
    example="bore=2in stroke=4in pressure=80psi cycles=30/min",
)
