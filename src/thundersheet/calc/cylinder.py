"""What a cylinder pushes and pulls, and the air that its strokes take."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, choice, number, quantity
from thundersheet.calc._sum import AIR_CAUTION, BREAKAWAY_PA, Result, Sum
from thundersheet.physics.forces import compression_ratio, free_air, piston_area, static_force
from thundersheet.physics.gas import P_ATM


@dataclass(frozen=True, kw_only=True)
class Ask(Record):
    """A cylinder and its pressure."""

    bore_m: float = quantity("length", "Inside diameter.", low=1e-3, example="1.5in")
    pressure_pa: float = quantity("pressure", "Gauge pressure.", low=0.0, example="80psi")
    rod_m: float = quantity("length", "Diameter of the rod.", default=0.0, low=0.0)
    stroke_m: float | None = quantity(
        "length", "How far the rod goes; only for the air.", default=None, low=1e-4
    )
    ratio: float = number("Travel of the load per travel of the rod.", default=1.0, low=1e-3)
    friction_share: float = quantity(
        "share", "Share of the thrust that friction takes.", default=0.0, low=0.0, high=1.0
    )
    acting: str = choice("Air on both sides or on one.", ("double", "single"), default="double")
    atmosphere_pa: float = quantity(
        "pressure", "Pressure of the open air, absolute.", default=P_ATM, low=3e4
    )


def answer(ask: Ask) -> tuple[Result, ...]:
    """Forces at standstill, and the air of a stroke by the compression ratio."""
    if ask.rod_m >= ask.bore_m:
        raise ValueError("the rod is as thick as the bore")
    left = 1.0 - ask.friction_share
    out = static_force(ask.bore_m, ask.rod_m, ask.pressure_pa, extend=True)
    back = static_force(ask.bore_m, ask.rod_m, ask.pressure_pa, extend=False)
    return (
        Result("force_out", out * left, "N", "force"),
        Result("force_back", back * left if ask.acting == "double" else None, "N", "force"),
        Result("force_at_load", out * left / ask.ratio, "N", "force"),
        Result("area_out", piston_area(ask.bore_m), "m2", "area"),
        Result("area_back", piston_area(ask.bore_m, ask.rod_m), "m2", "area"),
        Result("breakaway_guess", BREAKAWAY_PA * piston_area(ask.bore_m), "N", "force"),
        Result("compression_ratio", compression_ratio(ask.pressure_pa, ask.atmosphere_pa)),
        *_air(ask),
    )


def _air(ask: Ask) -> tuple[Result, ...]:
    if ask.stroke_m is None:
        return ()
    out = free_air(piston_area(ask.bore_m) * ask.stroke_m, ask.pressure_pa, ask.atmosphere_pa)
    ring = piston_area(ask.bore_m, ask.rod_m) * ask.stroke_m
    back = free_air(ring, ask.pressure_pa, ask.atmosphere_pa) if ask.acting == "double" else 0.0
    return (
        Result("free_air_out", out * 1000, "L free air"),
        Result("free_air_back", back * 1000, "L free air"),
        Result("free_air_per_cycle", (out + back) * 1000, "L free air"),
    )


SUM = Sum(
    about="What a cylinder pushes and pulls at standstill, and the free air of a stroke.",
    asks=Ask,
    answer=answer,
    formula="F = p pi D^2/4 out, p pi (D^2 - d^2)/4 back; free air = swept (p + p_atm)/p_atm",
    source=(
        "statics; compression-ratio method as in the Oak Ridge National Laboratory's open "
        "compressed-air library; friction guess: breakaway as 20 kPa on the bore, common practice"
    ),
    cautions=(
        AIR_CAUTION,
        (
            "A force that a person can be caught by needs a guard: 75 N and 4 J are the yardstick "
            "for powered guards (EN 953, now ISO 14120; secondary source), guidance and no "
            "certificate."
        ),
    ),
    example="bore=1.5in pressure=80psi stroke=6in rod=0.5in",
    aliases={"D": "bore", "S": "stroke", "d_rod": "rod", "p": "pressure"},
)
