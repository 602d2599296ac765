"""Bore, linkage, valve and restriction for a wanted motion, each tried by the stroke model."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from thundersheet.base.shape import Record, choice, number, numbers, quantity, span
from thundersheet.base.time import Span
from thundersheet.calc._sum import AIR_CAUTION, STARTING_VALUES, Result, Sum
from thundersheet.physics.gas import P_ATM, Tube
from thundersheet.physics.sizing import END_FACTORS, INCHES, METRIC, Candidate, Wanted, choose

CV = 4e-8


@dataclass(frozen=True, kw_only=True)
class Ask(Record):
    """A motion, at the load."""

    moves_kg: float = quantity("mass", "What moves.", low=0.0, example="3.2kg")
    travel_m: float = quantity("length", "How far the load goes.", low=1e-4, example="320mm")
    takes: Span = span("From first motion to the end.", low=0.02, example="250ms")
    pressure_pa: float = quantity("pressure", "Gauge pressure.", low=1e4, example="60psi")
    incline_rad: float = quantity(
        "angle", "Of the motion above the horizontal; up is 90 deg.", default=0.0
    )
    external_n: float = quantity("force", "At the load, against the motion.", default=0.0)
    way: str = choice("By the rod going out or back.", ("out", "back"), default="out")
    bores: str = choice("Which standard bores.", ("metric", "inch"), default="metric")
    ratios: tuple[float, ...] = numbers(
        "Linkage ratios to try: travel of the load per travel of the rod.", default=(1.0, 1.5, 2.0)
    )
    valves: tuple[float, ...] = numbers(
        "Valves to try, by Cv.", default=(0.1, 0.2, 0.4, 0.75, 1.0, 1.5)
    )
    hose_bore_m: float = quantity("length", "Inside diameter of the hoses.", default=0.004)
    hose_length_m: float = quantity("length", "Length of each hose.", default=1.0, low=0.0)
    valve_delay: Span = span("Until the valve switches.", default=Span.ms(15), low=0.0)
    friction_share: float = quantity(
        "share", "Share of the thrust that friction takes.", default=0.05, low=0.0, high=0.9
    )
    mounting: str = choice("How the cylinder is held.", tuple(END_FACTORS), default="pivots")
    stop_limit_j: float | None = quantity(
        "energy", "What the end stop takes.", default=None, low=0.0
    )
    side_limit_n: float | None = quantity(
        "force", "What the rod's bearing takes sideways.", default=None, low=0.0
    )
    most: float = number("How many to list.", default=3.0, low=1.0, high=10.0)


def answer(ask: Ask) -> tuple[Result, ...]:
    """The best few, each on a line of its own."""
    found = choose(_wanted(ask), int(ask.most))
    if not found:
        raise ValueError("no standard bore can do it: more pressure, more time or less load")
    return tuple(result for rank, each in enumerate(found, 1) for result in _results(rank, each))


def _wanted(ask: Ask) -> Wanted:
    return Wanted(
        load_kg=ask.moves_kg,
        travel_m=ask.travel_m,
        time_s=ask.takes.s,
        supply_pa=ask.pressure_pa + P_ATM,
        incline_rad=ask.incline_rad,
        external_n=ask.external_n,
        extend=ask.way == "out",
        bores=METRIC if ask.bores == "metric" else INCHES,
        ratios=ask.ratios,
        valves_c=tuple(cv * CV for cv in ask.valves),
        tube=Tube(ask.hose_bore_m, ask.hose_length_m) if ask.hose_length_m else None,
        friction_share=ask.friction_share,
        valve_delay_s=ask.valve_delay.s,
        mounting=ask.mounting,  # type: ignore[arg-type]
        stop_limit_j=inf if ask.stop_limit_j is None else ask.stop_limit_j,
        side_limit_n=inf if ask.side_limit_n is None else ask.side_limit_n,
    )


def _results(rank: int, each: Candidate) -> tuple[Result, ...]:
    stroke = each.stroke
    restriction = None if each.restriction_c is None else each.restriction_c / CV
    return (
        Result(f"{rank}_bore", stroke.bore_m, "m", "length"),
        Result(f"{rank}_rod", stroke.rod_m, "m", "length"),
        Result(f"{rank}_stroke", stroke.stroke_m, "m", "length"),
        Result(f"{rank}_ratio", stroke.linkage.ratio),
        Result(f"{rank}_valve", each.valve_c / CV, "Cv"),
        Result(f"{rank}_meter_out", restriction, "Cv"),
        Result(f"{rank}_moves_in", each.time_s, "s"),
        Result(f"{rank}_lead", each.landed.t_full_s, "s"),
        Result(f"{rank}_load_share", each.load_share),
        Result(f"{rank}_stop_energy", each.stop_j, "J", "energy"),
        Result(f"{rank}_side_force", each.side_n, "N", "force"),
        Result(f"{rank}_buckling_safety", min(each.buckling_safety, 999.0)),
        Result(f"{rank}_faults", "; ".join(each.faults) or "none"),
    )


SUM = Sum(
    about="Bore, linkage, valve and restriction for a motion, each tried by the stroke model.",
    asks=Ask,
    answer=answer,
    formula="stroke model of `calc stroke`; buckling: Euler, F = pi^2 E I/(K L)^2, safety 5",
    source=(
        "ISO 6432 and ISO 15552 bores; Euler's four cases; safety and loading shares: common "
        "practice, no source"
    ),
    cautions=(AIR_CAUTION, STARTING_VALUES),
    example="moves=3.2kg travel=320mm takes=250ms pressure=60psi",
)
