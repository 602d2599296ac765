"""Quick sums of compressed air: force, energy, air per stroke, tanks, orifices.

SI in and out, pressures absolute unless named gauge. Good for the bench and for a first look;
`solve` tells what really happens during a stroke.
"""

from __future__ import annotations

from math import log, pi, sqrt

from thundersheet.physics.gas import GAMMA, P_ATM, RHO0, T0, R

CHOKED_RATIO = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))
"""p2/p1 below which an ideal nozzle is choked: 0.528282 for gamma 1.4."""


def piston_area(bore_m: float, rod_m: float = 0.0) -> float:
    """Area on the side without rod, or with ``rod_m`` the ring on the rod side."""
    return pi / 4.0 * (bore_m**2 - rod_m**2)


def static_force(
    bore_m: float, rod_m: float, gauge_pa: float, *, extend: bool, back_gauge_pa: float = 0.0
) -> float:
    """N at standstill: p A of the driven side less that of the other; friction not taken off."""
    full, ring = piston_area(bore_m), piston_area(bore_m, rod_m)
    drive, back = (full, ring) if extend else (ring, full)
    return gauge_pa * drive - back_gauge_pa * back


def kinetic_energy(mass_kg: float, speed_m_s: float) -> float:
    """J, m v^2 / 2."""
    return 0.5 * mass_kg * speed_m_s**2


def compression_ratio(gauge_pa: float, atmosphere_pa: float = P_ATM) -> float:
    """Absolute over atmospheric pressure."""
    return (gauge_pa + atmosphere_pa) / atmosphere_pa


def free_air(swept_m3: float, gauge_pa: float, atmosphere_pa: float = P_ATM) -> float:
    """m3 of free air for a swept volume, by the compression-ratio method.

    Leaves out dead volume and tubes: `Stroke.air_fill_l` has them.
    """
    return swept_m3 * compression_ratio(gauge_pa, atmosphere_pa)


def free_air_flow(
    bore_m: float,
    rod_m: float,
    stroke_m: float,
    gauge_pa: float,
    cycles_per_s: float,
    *,
    double: bool,
    atmosphere_pa: float = P_ATM,
) -> float:
    """m3/s of free air for a cylinder that keeps on cycling, by the compression-ratio method."""
    area = piston_area(bore_m) + (piston_area(bore_m, rod_m) if double else 0.0)
    return free_air(area * stroke_m * cycles_per_s, gauge_pa, atmosphere_pa)


def usable_air(
    tank_m3: float, high_gauge_pa: float, low_gauge_pa: float, atmosphere_pa: float = P_ATM
) -> float:
    """m3 of free air that a tank gives between two pressures: V (p1 - p2)/p_atm, isothermal."""
    return tank_m3 * (high_gauge_pa - low_gauge_pa) / atmosphere_pa


def receiver_for_air(air_m3: float, drop_pa: float, atmosphere_pa: float = P_ATM) -> float:
    """m3 of tank that gives so much free air for a pressure drop."""
    return air_m3 * atmosphere_pa / drop_pa


def receiver_for_peak(
    seconds: float,
    demand_m3_s: float,
    supply_m3_s: float,
    high_gauge_pa: float,
    low_gauge_pa: float,
    atmosphere_pa: float = P_ATM,
) -> float:
    """m3 of tank that carries a demand above the supply for a time: t dQ p_atm/(p1 - p2)."""
    short = seconds * max(0.0, demand_m3_s - supply_m3_s)
    return receiver_for_air(short, high_gauge_pa - low_gauge_pa, atmosphere_pa)


def choked_constant(gamma: float = GAMMA, gas_r: float = 287.0) -> float:
    """Kg K^0.5/(s N) of mass flow = constant A p/sqrt(T) through an ideal choked nozzle."""
    power = (gamma + 1.0) / (gamma - 1.0)
    return sqrt(gamma / gas_r * (2.0 / (gamma + 1.0)) ** power)


def orifice_flow(
    diameter_m: float, up_pa: float, kelvin: float = T0, discharge: float = 1.0
) -> float:
    """The kg/s through an ideal choked orifice (back pressure below 0.528 of ``up_pa``).

    W = constant A p/sqrt(T), Moss 1906 in other units: 0.5303 A C p/sqrt(T) lb/s.
    """
    area = pi / 4.0 * diameter_m**2
    return discharge * choked_constant() * area * up_pa / sqrt(kelvin)


def blow_down_time(
    tank_m3: float, c_m3_s_pa: float, from_pa: float, to_pa: float, kelvin: float = T0
) -> float:
    """Seconds for a tank to fall through a choked way out, isothermal: V/(R T rho0 C) ln(p1/p2)."""
    return tank_m3 / (R * kelvin * RHO0 * c_m3_s_pa) * log(from_pa / to_pa)
