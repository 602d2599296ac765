"""One stroke of an air cylinder: every number of it in, when and how it lands out.

The model is that of the chambers' mass and energy with ISO 6358 flows and stick-slip friction
(Richer & Hurmuzlu, ASME J. Dyn. Syst. Meas. Control 122, 2000); extend and retract are the same
with the areas swapped. Not modelled: waves, rebound, moisture, valve voltage, ageing of seals.
This knows no defaults that a builder could measure.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from math import cos, isfinite, pi, sqrt
from typing import Literal

from thundersheet.physics.gas import (
    P_ATM,
    T0,
    R,
    Restriction,
    Tube,
    sound_speed,
    standard_litres,
)

Acting = Literal["double", "air", "spring"]
"""``double``: air on both sides. ``air``: air against the atmosphere (single-acting, the stroke
that air makes). ``spring``: the way back of a single-acting cylinder, drive side open."""
TubeModel = Literal["lumped", "node"]
Combination = Literal["series", "chain"]

ACTINGS: dict[Acting, float] = {"double": 0.0, "air": 1.0, "spring": 2.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Lid:
    """A lid hinged in a triangle: base pivot and rod pin seen from the hinge.

    l^2 = a^2 + c^2 - 2 a c cos(phi); the rod length grows when extending, shrinks when retracting.
    """

    hinge_to_base_m: float
    """c."""
    hinge_to_pin_m: float
    """a."""
    angle_rad: float
    """phi at y = 0 of this stroke, between 0 and pi."""
    offset_rad: float
    """phi + offset is the angle of the line to the centre of gravity above the horizontal."""
    inertia_kg_m2: float
    """J about the hinge."""
    mass_kg: float
    reach_m: float
    """From the hinge to the centre of gravity."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Linkage:
    """How the load hangs on the rod: straight (the default), by a constant ratio, or a lid."""

    ratio: float = 1.0
    """dx_load/dy."""
    lid: Lid | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Pressures (absolute) and temperatures of both sides, their tubes included, at one instant.

    The tubes count only in the node model; lumped tubes share their chamber's state.
    """

    drive_pa: float
    exhaust_pa: float
    drive_k: float
    exhaust_k: float
    drive_tube_pa: float
    exhaust_tube_pa: float
    drive_tube_k: float
    exhaust_tube_k: float

    @classmethod
    def at(cls, drive_pa: float, exhaust_pa: float, ambient_k: float = T0) -> Air:
        """Both sides at rest at ambient temperature, each tube as its chamber."""
        return cls(
            drive_pa=drive_pa,
            exhaust_pa=exhaust_pa,
            drive_k=ambient_k,
            exhaust_k=ambient_k,
            drive_tube_pa=drive_pa,
            exhaust_tube_pa=exhaust_pa,
            drive_tube_k=ambient_k,
            exhaust_tube_k=ambient_k,
        )

    def swapped(self) -> Air:
        """The same air seen by the stroke the other way."""
        return Air(
            drive_pa=self.exhaust_pa,
            exhaust_pa=self.drive_pa,
            drive_k=self.exhaust_k,
            exhaust_k=self.drive_k,
            drive_tube_pa=self.exhaust_tube_pa,
            exhaust_tube_pa=self.drive_tube_pa,
            drive_tube_k=self.exhaust_tube_k,
            exhaust_tube_k=self.drive_tube_k,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """Every number of one stroke, in the direction of the commanded motion."""

    bore_m: float
    rod_m: float
    stroke_m: float
    extend: bool = True
    acting: Acting = "double"
    dead_drive_m3: float
    """Volume behind the piston at y = 0, ports included, tubes not."""
    dead_exhaust_m3: float
    """The same before the piston at y = S."""
    supply_pa: float
    """Absolute."""
    atmosphere_pa: float = P_ATM
    ambient_k: float = T0
    heat_w_m2_k: float = 60.0
    """0 is adiabatic."""
    isothermal: bool = False

    valve_delay_s: float
    valve_ramp_s: float
    drive_valve: tuple[Restriction, ...]
    """Valve-side parts from the supply to the tube: regulator, valve."""
    drive_tube: Tube | None = None
    drive_end: tuple[Restriction, ...] = ()
    """Cylinder-side parts, a meter-in flow control among them."""
    exhaust_valve: tuple[Restriction, ...] = ()
    """Valve-side parts from the tube to the atmosphere: valve, muffler."""
    exhaust_tube: Tube | None = None
    exhaust_end: tuple[Restriction, ...] = ()
    """Cylinder-side parts, a meter-out flow control among them."""
    quick_exhaust: Restriction | None = None
    """Alone forms the exhaust path: no tube, no valve."""
    cushion_m: float = 0.0
    """Length of the cushion at y = S; 0 for none."""
    cushion: Restriction | None = None
    tube_model: TubeModel = "lumped"
    combination: Combination = "series"
    """``series``: the quick rule; ``chain``: intermediate pressures solved."""

    rod_mass_kg: float
    """Piston, rod and what moves with them one to one."""
    load_kg: float = 0.0
    linkage: Linkage = Linkage()
    incline_rad: float = 0.0
    """Of the commanded motion above the horizontal."""
    external_n: float = 0.0
    """Against the motion, at the load."""
    spring_n: float = 0.0
    """Against the motion at y = 0, at the rod."""
    spring_n_m: float = 0.0
    """Its growth with y."""
    breakaway_n: float
    """Fs."""
    coulomb_n: float
    """Fc."""
    stribeck_m_s: float = 0.05
    viscous_n_s_m: float = 0.0

    vented: bool = False
    """First stroke after a dump: no back pressure on the exhaust side. ``air`` overrides."""
    air: Air | None = None
    """At the valve's switching; None: drive side at atmosphere, exhaust side at supply."""
    y0_m: float = 0.0
    """Position at the valve's switching, for a stroke that begins part-way."""
    v0_m_s: float = 0.0

    def __post_init__(self) -> None:
        complaint = complaint_of(self)
        if complaint:
            raise ValueError(complaint)

    @property
    def drive_area_m2(self) -> float:
        """Piston area on the side that fills."""
        return pi / 4.0 * (self.bore_m**2 - (0.0 if self.extend else self.rod_m**2))

    @property
    def exhaust_area_m2(self) -> float:
        """Piston area on the side that empties."""
        return pi / 4.0 * (self.bore_m**2 - (self.rod_m**2 if self.extend else 0.0))

    @property
    def switch_s(self) -> float:
        """t_sw: when both paths switch, valve delay and sound's way down the tube."""
        length = self.drive_tube.length_m if self.drive_tube else 0.0
        return self.valve_delay_s + length / sound_speed(self.ambient_k)

    @property
    def first_air(self) -> Air:
        """The air at the valve's switching."""
        if self.air is not None:
            return self.air
        full = self.acting == "double" and not self.vented
        if self.acting == "spring":
            full = True
        exhaust = self.supply_pa if full else self.atmosphere_pa
        return Air.at(self.atmosphere_pa, exhaust, self.ambient_k)

    @property
    def air_fill_l(self) -> float:
        """Standard litres (ANR) once the filled side has settled; what a show is charged.

        1000/rho0 [(V0 + Vtube + A S) p_s - (V0 + Vtube) p_atm]/(R T_amb).
        """
        if self.acting == "spring":
            return 0.0
        still = self.dead_drive_m3 + (self.drive_tube.volume_m3 if self.drive_tube else 0.0)
        swept = self.drive_area_m2 * self.stroke_m
        filled = (still + swept) * self.supply_pa - still * self.atmosphere_pa
        return standard_litres(filled / (R * self.ambient_k))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """The motion at one instant."""

    t_s: float
    y_m: float
    v_m_s: float
    drive_pa: float
    exhaust_pa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Landed:
    """How a stroke went. Times are after the command; None where it never came to that."""

    t_start_s: float | None
    """First motion in the commanded direction."""
    t_mid_s: float | None
    t_full_s: float | None
    stalled: str = ""
    """Why it never gets there, in words; empty when it does or when it was cut short."""
    v_impact_m_s: float | None
    e_impact_j: float | None
    peak_push_n: float
    """Greatest force of both pressures on rod and piston, friction not taken off."""
    peak_drive_pa: float
    peak_exhaust_pa: float
    air_to_full_stroke_l: float
    """Standard litres (ANR) from the supply until ``t_end_s``, the tube's node included."""
    air_fill_l: float
    t_end_s: float
    y_m: float
    v_m_s: float
    air: Air
    """At ``t_end_s``."""
    turns: int = 0
    """How often it came to rest under way (stick-slip, or driven back)."""
    jerks: bool = False
    """Whether it stuck, turned or crept under way, so that only care holds it to the last digit."""
    samples: tuple[Sample, ...] = field(default=(), repr=False)


ABOVE_ZERO = (
    *("bore_m", "stroke_m", "supply_pa", "atmosphere_pa", "ambient_k"),
    *("dead_drive_m3", "dead_exhaust_m3", "stribeck_m_s"),
)
NOT_BELOW_ZERO = (
    *("heat_w_m2_k", "valve_delay_s", "valve_ramp_s", "rod_mass_kg", "load_kg"),
    *("breakaway_n", "coulomb_n", "viscous_n_s_m"),
)


def complaint_of(stroke: Stroke) -> str:
    """What makes the numbers of a stroke impossible, or nothing."""
    checks = (
        _impossible_size(stroke),
        _impossible_paths(stroke),
        _impossible_motion(stroke),
        _impossible_lid(stroke),
    )
    return next((words for words in checks if words), "")


def _impossible_size(stroke: Stroke) -> str:
    for entry in fields(stroke):
        value = getattr(stroke, entry.name)
        if isinstance(value, float) and not isfinite(value):
            return f"{entry.name} is {value}: it must be a finite number"
    for name in ABOVE_ZERO:
        if getattr(stroke, name) <= 0.0:
            return f"{name} is {getattr(stroke, name):g}: it must be above zero"
    if not 0.0 <= stroke.rod_m < stroke.bore_m:
        return f"rod_m is {stroke.rod_m:g}: it must be smaller than the bore ({stroke.bore_m:g})"
    if stroke.supply_pa < stroke.atmosphere_pa:
        return f"supply_pa is {stroke.supply_pa:g}: absolute, it can't be below the atmosphere's"
    return ""


def _impossible_paths(stroke: Stroke) -> str:
    if stroke.acting != "spring" and not stroke.drive_valve:
        return "the drive side has no valve"
    if stroke.acting != "air" and not (stroke.quick_exhaust or stroke.exhaust_valve):
        return "the exhaust side has no valve"
    if (stroke.cushion_m > 0.0) != (stroke.cushion is not None):
        return "a cushion needs both a length and a restriction"
    if stroke.cushion_m and stroke.tube_model == "node":
        return "a cushion is reckoned with lumped tubes only: set tube_model to lumped"
    if not 0.0 <= stroke.cushion_m < stroke.stroke_m:
        return f"cushion_m is {stroke.cushion_m:g}: it must be shorter than the stroke"
    return ""


def _impossible_motion(stroke: Stroke) -> str:
    for name in NOT_BELOW_ZERO:
        if getattr(stroke, name) < 0.0:
            return f"{name} is {getattr(stroke, name):g}: it can't be below zero"
    if stroke.rod_mass_kg + stroke.load_kg * stroke.linkage.ratio**2 <= 0.0:
        return "nothing moves: rod and load weigh nothing"
    if not 0.0 <= stroke.y0_m <= stroke.stroke_m:
        return f"y0_m is {stroke.y0_m:g}: it must lie within the stroke ({stroke.stroke_m:g})"
    return ""


def _impossible_lid(stroke: Stroke) -> str:
    lid = stroke.linkage.lid
    if lid is None:
        return ""
    a, c = lid.hinge_to_pin_m, lid.hinge_to_base_m
    if min(a, c) <= 0.0 or not 0.0 < lid.angle_rad < pi:
        return "the lid's arms must be above zero and its angle between 0 and 180 degrees"
    first, last = lid_lengths(stroke)
    low, high = min(first, last), max(first, last)
    if low <= abs(a - c) or high >= a + c:
        return (
            f"the lid's triangle breaks: pin to pin runs from {first:.4g} to {last:.4g} m, and with"
            f" these arms it must stay between {abs(a - c):.4g} and {a + c:.4g} m"
        )
    return ""


def lid_lengths(stroke: Stroke) -> tuple[float, float]:
    """Pin-to-pin length of the cylinder at both ends of this stroke of a lid."""
    lid = stroke.linkage.lid
    if lid is None:
        raise ValueError("this stroke moves no lid")
    a, c = lid.hinge_to_pin_m, lid.hinge_to_base_m
    first = sqrt(a * a + c * c - 2.0 * a * c * cos(lid.angle_rad))
    return first, first + (stroke.stroke_m if stroke.extend else -stroke.stroke_m)
