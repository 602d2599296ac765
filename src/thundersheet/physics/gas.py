"""Compressed air: constants, flow through parts (ISO 6358), their combination, ways to say a flow.

In come flow ratings and sizes of parts, out go mass flows and equivalent parts. Pressures are
absolute pascals. Nothing here knows about time; `kernel` integrates what this describes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import inf, pi, sqrt

R = 288.0
"""J/(kg K), moist reference air (ISO 8778: 20 C, 100 kPa, 65 % humidity)."""
GAMMA = 1.4
CV = R / (GAMMA - 1.0)
CP = GAMMA * CV
T0 = 293.15
P0 = 100_000.0
RHO0 = 1.185
"""kg/m3 at the reference state (ISO 8778); standard litres (ANR) are 1000 * mass / RHO0."""
P_ATM = 101_325.0
GRAVITY = 9.80665
PSI = 6894.757293
GALLON = 3.785411784e-3
CUBIC_FOOT = 28.316847e-3
RHO_SCFM = 1.2041
"""kg/m3 of dry air at 14.696 psia and 68 F, the usual meaning of a US standard cubic foot."""
LAMINAR = 0.995
"""Pressure ratio above which the flow law is replaced by a line: its slope is infinite at 1."""
NOZZLE = 0.199e-2
"""m3/(s Pa) per m2: C of an ideal nozzle is 0.199 dm3/(s bar) per mm2 (ISO 6358 conversions)."""


@dataclass(frozen=True, slots=True)
class Restriction:
    """A part that air flows through, rated as ISO 6358-1 has it."""

    c_m3_s_pa: float
    """Sonic conductance; 1 dm3/(s bar) is 1e-8."""
    b: float = 0.3
    """Critical pressure ratio."""
    m: float = 0.5
    """Subsonic index."""

    def __post_init__(self) -> None:
        if not 0.0 < self.c_m3_s_pa < inf:
            raise ValueError(f"a conductance must be above zero, not {self.c_m3_s_pa:g}")
        if not 0.0 <= self.b < LAMINAR:
            raise ValueError(f"a critical ratio lies between 0 and {LAMINAR}, not {self.b:g}")
        if not 0.0 < self.m <= 1.0:
            raise ValueError(f"a subsonic index lies between 0 and 1, not {self.m:g}")


@dataclass(frozen=True, slots=True)
class Tube:
    """A hose by its inside diameter and length."""

    bore_m: float
    length_m: float

    def __post_init__(self) -> None:
        if not 0.0 < self.bore_m < inf or not 0.0 <= self.length_m < inf:
            raise ValueError(f"no such tube: bore {self.bore_m:g} m, length {self.length_m:g} m")

    @property
    def volume_m3(self) -> float:
        """The air it holds."""
        return pi / 4.0 * self.bore_m**2 * self.length_m

    @property
    def flow(self) -> Restriction:
        """C = 0.029 d^2 / sqrt(L/d^1.25 + 510), b = 474 C/d^2 (SI; Beater, Pneumatic Drives).

        Within -3..-7 % of an adiabatic Fanno calculation for 2.5-8 mm bore and 0.5-10 m.
        """
        c = 0.029 * self.bore_m**2 / sqrt(self.length_m / self.bore_m**1.25 + 510.0)
        return Restriction(c, 474.0 * c / self.bore_m**2)


def flow_function(ratio: float, b: float, m: float = 0.5) -> float:
    """The share of the choked flow at ``ratio`` = p2/p1: ISO 6358-1, made linear above 0.995."""
    if ratio <= b:
        return 1.0
    at = min(ratio, LAMINAR)
    law = (1.0 - ((at - b) / (1.0 - b)) ** 2) ** m
    return float(law if ratio <= LAMINAR else law * (1.0 - ratio) / (1.0 - LAMINAR))


def mass_flow(part: Restriction, up_pa: float, down_pa: float, up_k: float = T0) -> float:
    """kg/s from ``up_pa`` to ``down_pa``; negative when the pressures stand the other way.

    C rho0 p1 sqrt(T0/T1) psi(p2/p1), ISO 6358-1. ``up_k`` is the temperature of the higher side.
    """
    if down_pa > up_pa:
        return -mass_flow(part, down_pa, up_pa, up_k)
    psi = flow_function(down_pa / up_pa, part.b, part.m)
    return part.c_m3_s_pa * RHO0 * up_pa * sqrt(T0 / up_k) * psi


@dataclass(frozen=True, slots=True)
class Sums:
    """Sums over parts in a row, from which the series rule makes one part, in any grouping."""

    cubes: float = 0.0
    """Sum of 1/C^3."""
    squares: float = 0.0
    """Sum of (1-b)/C^2."""
    indices: float = 0.0
    """Sum of m/C^3."""

    def __add__(self, other: Sums) -> Sums:
        return Sums(
            self.cubes + other.cubes,
            self.squares + other.squares,
            self.indices + other.indices,
        )

    @classmethod
    def of(cls, parts: Iterable[Restriction]) -> Sums:
        """The sums over ``parts``; all zero for none."""
        total = cls()
        for part in parts:
            cube = part.c_m3_s_pa**-3
            total += cls(cube, (1.0 - part.b) / part.c_m3_s_pa**2, part.m * cube)
        return total


def in_series(parts: Sequence[Restriction]) -> Restriction:
    """One part for several in a row, whatever their order.

    1/C^3 = sum 1/Ci^3, b = max(0, 1 - C^2 sum (1-bi)/Ci^2) (Beater). Up to 7 % too much flow
    where equal parts are all near choking; `chain_flow` is exact. Unequal subsonic indices are
    averaged with the weights 1/Ci^3, by which the parts share the pressure drop.
    """
    sums = Sums.of(parts)
    if not sums.cubes:
        raise ValueError("there is no part to combine")
    c = sums.cubes ** (-1.0 / 3.0)
    b = max(0.0, 1.0 - c * c * sums.squares)
    return Restriction(c, b, min(1.0, sums.indices / sums.cubes))


def after(part: Restriction, up: float, flow: float) -> float:
    """The pressure behind ``part`` when ``flow`` = C p psi passes: the law solved for p2."""
    psi = flow / (part.c_m3_s_pa * up)
    if psi >= 1.0:
        return part.b * up
    knee = flow_function(LAMINAR, part.b, part.m)
    if psi < knee:
        return float(up * (1.0 - psi / knee * (1.0 - LAMINAR)))
    return float(up * (part.b + (1.0 - part.b) * sqrt(1.0 - psi ** (1.0 / part.m))))


def behind(parts: Sequence[Restriction], flow: float) -> float:
    """The pressure behind a chain fed with 1 Pa; below zero when so much can't pass."""
    pressure = 1.0
    for part in parts:
        if flow > part.c_m3_s_pa * pressure * (1.0 + 1e-14):
            return -1.0
        pressure = after(part, pressure, flow)
    return pressure


def chain_flow(parts: Sequence[Restriction], ratio: float) -> float:
    """C psi of a chain of parts at ``ratio`` = p_last/p_first, intermediate pressures solved.

    A throttled ideal gas keeps its temperature, so one flow fits every part (ISO 6358-3).
    """
    low, high = 0.0, min(part.c_m3_s_pa for part in parts)
    for _ in range(60):
        flow = 0.5 * (low + high)
        if behind(parts, flow) >= ratio:
            low = flow
        else:
            high = flow
        if high - low < 1e-9 * high:
            break
    return 0.5 * (low + high)


CHAIN_POINTS = 256


@lru_cache(maxsize=256)
def chain_table(parts: tuple[Restriction, ...]) -> tuple[float, ...]:
    """`chain_flow` at 257 values of sqrt(1 - ratio), evenly spaced, for `kernel.flow`.

    Over the root the law is nearly straight, so that straight lines between the points are
    within 1e-5 of C, and within 1e-3 of it at the law's corners; `chain.fine_table` has these too.
    """
    steps = range(CHAIN_POINTS + 1)
    return tuple(chain_flow(parts, 1.0 - (i / CHAIN_POINTS) ** 2) if i else 0.0 for i in steps)


def c_of_cv(cv: float) -> float:
    """C of a US valve coefficient: 4.0 dm3/(s bar) per Cv.

    From IEC 60534-2-1 for gas, 3.6-4.2 with xT 0.6-0.8; different test methods, so +-10 %.
    """
    return 4.0e-8 * cv


def c_of_kv(kv: float) -> float:
    """C of a metric valve coefficient: Kv = 0.865 Cv."""
    return c_of_cv(kv / 0.865)


def c_of_nominal(litres_min: float, b: float = 0.3) -> float:
    """C of a nominal flow Qn, L/min ANR from 6 to 5 bar gauge (7 to 6 bar absolute)."""
    return litres_min / (60.0 * 7.0 * flow_function(6.0 / 7.0, b)) * 1e-8


def nominal_of_c(c_m3_s_pa: float, b: float = 0.3) -> float:
    """Qn in L/min ANR of a conductance, the inverse of `c_of_nominal`."""
    return c_m3_s_pa * 1e8 * 60.0 * 7.0 * flow_function(6.0 / 7.0, b)


def c_of_area(area_m2: float, discharge: float = 1.0) -> float:
    """C of an ideal nozzle of this area, times its discharge coefficient."""
    return NOZZLE * area_m2 * discharge


def standard_litres(mass_kg: float) -> float:
    """Litres at the reference state (ANR, ISO 8778)."""
    return 1000.0 * mass_kg / RHO0


def flow_of_scfm(scfm: float) -> float:
    """kg/s of US standard cubic feet per minute (14.696 psia, 68 F, dry)."""
    return scfm * CUBIC_FOOT * RHO_SCFM / 60.0


def scfm_of_flow(flow_kg_s: float) -> float:
    """US standard cubic feet per minute (14.696 psia, 68 F, dry) of a mass flow."""
    return flow_kg_s * 60.0 / (CUBIC_FOOT * RHO_SCFM)


def flow_of_fad(fad_m3_s: float, inlet_pa: float = P_ATM, inlet_k: float = T0) -> float:
    """kg/s of a free air delivery, which is a volume at the conditions of the inlet."""
    return fad_m3_s * inlet_pa / (R * inlet_k)


def sound_speed(kelvin: float) -> float:
    """m/s, sqrt(gamma R T)."""
    return sqrt(GAMMA * R * kelvin)
