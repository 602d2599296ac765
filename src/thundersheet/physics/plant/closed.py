"""Closed forms of a tank between events: dp/dt = rate + slope (p - p0), and what follows from it.

In come pascals, seconds and SI flows, out go the same. All isothermal, which is right for anything
slower than about a minute. Nothing here remembers; `reservoir` strings these together.
"""

from __future__ import annotations

from math import expm1, inf, log, log1p, sqrt

from thundersheet.physics.gas import P_ATM, RHO0, T0, R

SMALL = 1e-5
"""Below this the exponentials are replaced by their series, whose next term is 1e-17."""


def gain(rate: float, slope: float, t: float) -> float:
    """How far p has gone after ``t``: rate (e^(slope t) - 1)/slope; ``rate`` is dp/dt at first."""
    x = slope * t
    return rate * t * (1.0 + 0.5 * x) if abs(x) < 1e-9 else rate * expm1(x) / slope


def gain_held(rate: float, slope: float, t: float) -> float:
    """The integral of `gain` over ``t``: rate (e^x - 1 - x)/slope^2 with x = slope t."""
    x = slope * t
    if abs(x) < SMALL:
        return rate * t * t * (0.5 + x / 6.0 + x * x / 24.0)
    return rate * (expm1(x) - x) / (slope * slope)


def time_to(rise: float, rate: float, slope: float) -> float:
    """When p has gone by ``rise``: log(1 + slope rise/rate)/slope; inf when it never does."""
    if rise == 0.0:
        return 0.0
    if rate == 0.0 or (rise > 0.0) != (rate > 0.0):
        return inf
    x = slope * rise / rate
    if x <= -1.0:
        return inf
    return rise / rate if abs(x) < 1e-15 else log1p(x) / slope


def blow_down_s(
    volume_m3: float, c_m3_s_pa: float, high_pa: float, low_pa: float, kelvin: float = T0
) -> float:
    """Seconds from ``high_pa`` to ``low_pa`` (absolute) through a choked conductance, isothermal.

    V/(R T rho0 C sqrt(T0/T)) ln(p1/p2), from p V = m R T and ISO 6358-1; while p2/p1 of the hole
    stays below its critical ratio.
    """
    flow = R * kelvin * RHO0 * c_m3_s_pa * sqrt(T0 / kelvin)
    return volume_m3 / flow * log(high_pa / low_pa)


def leak_of_leak_down(
    volume_m3: float, high_pa: float, low_pa: float, took_s: float, kelvin: float = T0
) -> float:
    """Sonic conductance of a leak from a measured leak-down between absolute pressures."""
    if not high_pa > low_pa > 0.0 or took_s <= 0.0:
        raise ValueError("a leak-down falls from a higher to a lower pressure in some time")
    return blow_down_s(volume_m3, 1.0, high_pa, low_pa, kelvin) / took_s


def leak_of_free_air(free_m3_s: float, at_pa: float, atmosphere_pa: float = P_ATM) -> float:
    """Sonic conductance of a leak that loses so much free air at ``at_pa`` (absolute).

    Free air is volume at the atmosphere's pressure and at the air's own temperature, taken as T0.
    """
    return free_m3_s * atmosphere_pa / (R * T0 * RHO0 * at_pa)


def fill_s(volume_m3: float, rise_pa: float, free_m3_s: float, atmosphere_pa: float) -> float:
    """Seconds to fill by ``rise_pa`` with a constant flow of free air: V dP/(p_atm Q)."""
    return volume_m3 * rise_pa / (atmosphere_pa * free_m3_s)
