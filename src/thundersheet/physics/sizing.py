"""Choose a cylinder, linkage, valve and restriction from a wanted motion.

In comes what must move, how far and how fast; out come candidates from the standard bores, each
verified with the stroke model, the best first. Friction is a share of thrust that the caller
gives; catalogue limits (stop energy, side force) are the caller's too, when known.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import cos, inf, pi, sin
from typing import Literal

from thundersheet.physics.forces import static_force
from thundersheet.physics.gas import GRAVITY, P_ATM, Restriction, Tube
from thundersheet.physics.solve import solve
from thundersheet.physics.stroke import Landed, Linkage, Stroke, TubeModel

INCH = 0.0254
METRIC: tuple[tuple[float, float], ...] = (
    *((0.008, 0.004), (0.010, 0.004), (0.012, 0.006), (0.016, 0.006), (0.020, 0.008)),
    *((0.025, 0.010), (0.032, 0.012), (0.040, 0.016), (0.050, 0.020), (0.063, 0.020)),
    *((0.080, 0.025), (0.100, 0.025)),
)
"""Bore and rod: ISO 6432 up to 25 mm, ISO 15552 from 32 mm."""
INCHES: tuple[tuple[float, float], ...] = tuple(
    (bore * INCH, rod * INCH)
    for bore, rod in (
        *((7 / 16, 3 / 16), (9 / 16, 3 / 16), (3 / 4, 1 / 4), (7 / 8, 1 / 4), (17 / 16, 5 / 16)),
        *((1.25, 7 / 16), (1.5, 7 / 16), (1.75, 1 / 2), (2.0, 5 / 8), (2.5, 5 / 8), (3.0, 3 / 4)),
    )
)
"""Bore and rod of the common small inch cylinders (trade practice; no standard fixes the rods)."""

Mounting = Literal["fixed, free load", "pivots", "fixed, guided pivot", "fixed, guided"]
END_FACTORS: dict[Mounting, float] = {
    "fixed, free load": 2.0,
    "pivots": 1.0,
    "fixed, guided pivot": 0.7,
    "fixed, guided": 0.5,
}
"""Effective over true length of a rod under thrust (Euler's four cases)."""
STEEL_PA = 2.1e11
BUCKLING_SAFETY = 5.0
"""Critical load over thrust that is asked for; common practice for rods, no standard."""
MOST_LOADED = 0.7
"""Share of thrust for load and friction beyond which speed hangs on every small change
(common practice: 50-70 %)."""
STROKES_OF_BODY = 1.0
"""Body length of a pivoted cylinder in strokes, for the buckling length pin to pin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A motion as a builder asks for it, at the load."""

    load_kg: float
    travel_m: float
    time_s: float
    """From first motion to arrival."""
    supply_pa: float
    """Absolute, at the valve."""
    atmosphere_pa: float = P_ATM
    incline_rad: float = 0.0
    external_n: float = 0.0
    extend: bool = True
    bores: tuple[tuple[float, float], ...] = METRIC
    ratios: tuple[float, ...] = (1.0,)
    """Linkage ratios that can be built, dx_load/dy."""
    valves_c: tuple[float, ...]
    """Conductances of the valves to choose from, m3/(s Pa)."""
    tube: Tube | None
    friction_share: float
    """Breakaway friction as a share of thrust; Coulomb friction is taken as 60 % of it."""
    valve_delay_s: float
    valve_ramp_s: float = 0.0
    mounting: Mounting = "pivots"
    guided: bool = True
    """The load runs in its own guides; if not, its weight hangs on the rod."""
    stop_limit_j: float = inf
    """What the cylinder's own end stops or bumpers take."""
    side_limit_n: float = inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A cylinder that makes the motion, with what it costs and how sure it is."""

    stroke: Stroke
    landed: Landed
    time_s: float
    """From first motion to arrival, as the stroke model has it."""
    valve_c: float
    restriction_c: float | None
    """Meter-out flow control; None where the bare valve is just right or too slow."""
    load_share: float
    """Load, slope and friction over thrust."""
    force_margin: float
    """Thrust over what load, slope and friction take."""
    side_n: float
    stop_j: float
    buckling_safety: float
    """Euler's critical load over the full thrust."""
    faults: tuple[str, ...]
    """What speaks against it, in words; empty for a good one."""


def choose(wanted: Wanted, most: int = 5) -> tuple[Candidate, ...]:
    """Up to ``most`` candidates: without faults first, then the least air; () when none moves."""
    found = [candidate for candidate in _candidates(wanted) if candidate is not None]
    found.sort(key=lambda one: (len(one.faults), one.landed.air_fill_l, one.stroke.bore_m))
    return tuple(found[:most])


def _candidates(wanted: Wanted) -> Iterator[Candidate | None]:
    for ratio in wanted.ratios:
        good = 0
        for bore, rod in wanted.bores:
            candidate = _try(wanted, bore, rod, ratio)
            yield candidate
            # Ever larger bores only use more air: two good ones are enough to choose from.
            good += candidate is not None and not candidate.faults
            if good == 2:
                break


def _try(wanted: Wanted, bore: float, rod: float, ratio: float) -> Candidate | None:
    """The best use of one bore and ratio, or None when it can't move the load."""
    gauge = wanted.supply_pa - wanted.atmosphere_pa
    thrust = static_force(bore, rod, gauge, extend=wanted.extend)
    if _taken(wanted, thrust, ratio) >= thrust:
        return None
    for c in sorted(wanted.valves_c):
        stroke = _stroke(wanted, bore, rod, ratio, c, thrust)
        landed = solve(stroke)
        if moving_s(landed) <= wanted.time_s:
            return _judged(wanted, *_metered(stroke, wanted.time_s), c, thrust)
    return _judged(wanted, stroke, landed, None, c, thrust) if landed.t_full_s else None


def _taken(wanted: Wanted, thrust: float, ratio: float) -> float:
    slope = wanted.load_kg * GRAVITY * sin(wanted.incline_rad)
    return ratio * (slope + wanted.external_n) + wanted.friction_share * thrust


def _stroke(
    wanted: Wanted, bore: float, rod: float, ratio: float, c: float, thrust: float
) -> Stroke:
    travel = wanted.travel_m / ratio
    dead = 0.1 * bore * pi / 4.0 * bore**2 + 1e-6
    model: TubeModel = "node" if wanted.tube and wanted.tube.length_m > 1.5 else "lumped"
    return Stroke(
        bore_m=bore,
        rod_m=rod,
        stroke_m=travel,
        extend=wanted.extend,
        dead_drive_m3=dead,
        dead_exhaust_m3=dead,
        supply_pa=wanted.supply_pa,
        atmosphere_pa=wanted.atmosphere_pa,
        valve_delay_s=wanted.valve_delay_s,
        valve_ramp_s=wanted.valve_ramp_s,
        drive_valve=(Restriction(c),),
        exhaust_valve=(Restriction(c),),
        drive_tube=wanted.tube,
        exhaust_tube=wanted.tube,
        tube_model=model,
        rod_mass_kg=rod_mass(bore, rod, travel),
        load_kg=wanted.load_kg,
        linkage=Linkage(ratio=ratio),
        incline_rad=wanted.incline_rad,
        external_n=wanted.external_n,
        breakaway_n=wanted.friction_share * thrust,
        coulomb_n=0.6 * wanted.friction_share * thrust,
    )


def rod_mass(bore_m: float, rod_m: float, stroke_m: float) -> float:
    """Kg of a steel rod with piston, estimated: rod of stroke + 2 bores, piston 0.4 bore of alloy.

    Steel 7850, alloy 2700 kg/m3.
    """
    rod = 7850.0 * pi / 4.0 * rod_m**2 * (stroke_m + 2.0 * bore_m)
    return rod + 2700.0 * pi / 4.0 * bore_m**2 * 0.4 * bore_m


def moving_s(landed: Landed) -> float:
    """Seconds from first motion to arrival; infinite when it does not arrive."""
    if landed.t_full_s is None or landed.t_start_s is None:
        return inf
    return landed.t_full_s - landed.t_start_s


def _metered(stroke: Stroke, time_s: float) -> tuple[Stroke, Landed, float | None]:
    """The stroke with the meter-out flow control that gives the wanted time, to 1 %.

    The time falls steadily with the conductance, so its logarithm is halved.
    """
    open_c = stroke.exhaust_valve[0].c_m3_s_pa
    low, high = open_c * 1e-3, open_c * 3.0
    landed = solve(stroke)
    if moving_s(landed) >= 0.99 * time_s:
        return stroke, landed, None
    for _ in range(24):
        c = (low * high) ** 0.5
        tried = replace(stroke, exhaust_end=(Restriction(c),))
        landed = solve(tried)
        if abs(moving_s(landed) - time_s) < 0.01 * time_s:
            break
        low, high = (c, high) if moving_s(landed) > time_s else (low, c)
    return tried, landed, c


def critical_load(rod_m: float, length_m: float, mounting: Mounting) -> float:
    """N at which a steel rod buckles: pi^2 E I/(K L)^2 (Euler), I = pi d^4/64."""
    effective = END_FACTORS[mounting] * length_m
    return pi**2 * STEEL_PA * pi * rod_m**4 / 64.0 / effective**2


def buckling_length(stroke_m: float, bore_m: float, mounting: Mounting) -> float:
    """Length that can buckle, fully extended: pin to pin for pivots, else the bare rod."""
    if mounting == "pivots":
        return (1.0 + STROKES_OF_BODY) * stroke_m + 4.0 * bore_m
    return stroke_m + bore_m


def _judged(
    wanted: Wanted,
    stroke: Stroke,
    landed: Landed,
    restriction_c: float | None,
    valve_c: float,
    thrust: float,
) -> Candidate:
    taken = _taken(wanted, thrust, stroke.linkage.ratio)
    side = 0.0 if wanted.guided else wanted.load_kg * GRAVITY * abs(cos(wanted.incline_rad))
    length = buckling_length(stroke.stroke_m, stroke.bore_m, wanted.mounting)
    push = static_force(stroke.bore_m, 0.0, wanted.supply_pa - wanted.atmosphere_pa, extend=True)
    found = Candidate(
        stroke=stroke,
        landed=landed,
        time_s=moving_s(landed),
        valve_c=valve_c,
        restriction_c=restriction_c,
        load_share=taken / thrust,
        force_margin=thrust / taken if taken > 0.0 else inf,
        side_n=side,
        stop_j=landed.e_impact_j or 0.0,
        buckling_safety=critical_load(stroke.rod_m, length, wanted.mounting) / push,
        faults=(),
    )
    return replace(found, faults=tuple(_faults(wanted, found)))


def _faults(wanted: Wanted, found: Candidate) -> Iterator[str]:
    if found.time_s > 1.03 * wanted.time_s:
        yield f"takes {found.time_s:.3g} s with the largest valve, {wanted.time_s:.3g} s is wanted"
    if found.load_share > MOST_LOADED:
        yield (
            f"load and friction take {100 * found.load_share:.0f} % of the thrust; above"
            f" {100 * MOST_LOADED:.0f} % every small change shows in the time"
        )
    if found.stop_j > wanted.stop_limit_j:
        yield f"arrives with {found.stop_j:.3g} J, the stop takes {wanted.stop_limit_j:.3g} J"
    if found.side_n > wanted.side_limit_n:
        yield (
            f"{found.side_n:.0f} N sideways on the rod, {wanted.side_limit_n:.0f} N is allowed:"
            " guide the load"
        )
    if found.buckling_safety < BUCKLING_SAFETY:
        yield (
            f"the rod is only {found.buckling_safety:.1f} times as strong against buckling as the"
            f" thrust, {BUCKLING_SAFETY:.0f} is wanted"
        )


def least_bore(
    force_n: float, gauge_pa: float, bores: Sequence[tuple[float, float]], *, extend: bool = True
) -> tuple[float, float] | None:
    """The smallest standard bore (and its rod) with so much static force; None above them all."""
    fits = (one for one in sorted(bores) if static_force(*one, gauge_pa, extend=extend) >= force_n)
    return next(fits, None)
