"""From what is asked of a stroke to the numbers that its rates need, once before it runs.

In comes a row as `kernel.ASKED` names it, out go the row of parameters and the first state. Plain
floats, interpreted or compiled as the kernel.
"""

from __future__ import annotations

from math import cos, pi, sin, sqrt

from thundersheet.physics.kernel import (
    ACTING,
    AMBIENT,
    AREA_D,
    AREA_E,
    ATM,
    BACK,
    BORE,
    BREAKAWAY,
    COULOMB,
    CUSHION,
    CUSHION_AT,
    CUSHION_B,
    CUSHION_C,
    CUSHION_M,
    D_BORE,
    D_LENGTH,
    D_TABLE,
    DE_CUBES,
    DE_TABLE,
    DEAD_D,
    DEAD_E,
    DEAD_EXHAUST,
    DELAY,
    DV_CUBES,
    EXTEND,
    EXTERNAL,
    F_C,
    F_S,
    F_V,
    GAMMA,
    HAS_D,
    HAS_DN,
    HAS_EN,
    HEAT,
    HEAT_0,
    HEAT_1,
    HEAT_DN,
    HELD,
    HELD_AT,
    INCLINE,
    ISO,
    ISOTHERMAL,
    LAMINAR,
    LID,
    LID_2AC,
    LID_ANGLE,
    LID_ARM,
    LID_COS,
    LID_HINGE,
    LID_INERTIA,
    LID_J,
    LID_L0,
    LID_MASS,
    LID_OFFSET,
    LID_REACH,
    LID_SIN,
    LID_SUM,
    LID_WAY,
    LID_WEIGHT,
    LOAD,
    LONGEST,
    LONGEST_STEP,
    MASS,
    NODE,
    OPEN_AT,
    P_A,
    P_S,
    PD,
    PD_0,
    PER_ROOM_D,
    QUICK,
    QUICK_B,
    QUICK_C,
    QUICK_M,
    RAMP,
    RAMP_S,
    RATE,
    RATIO,
    RD,
    RESIST,
    RHO_A,
    RHO_S,
    ROD,
    ROD_MASS,
    RT_A,
    S_END,
    SIZE,
    SPRING,
    SPRING_RATE,
    STRIBECK,
    STROKE,
    SUPPLY,
    SWITCH,
    TD_0,
    V_0,
    V_S,
    VISCOUS,
    VOLUME_D,
    VOLUME_DN,
    WAY_C,
    WAY_D,
    WAY_DE,
    WAY_E,
    Y_0,
    Fill,
    R,
    Row,
    V,
    Y,
)

SCALE = 1.185 * sqrt(R * 293.15)
"""rho0 sqrt(R T0): kg/s of choked flow per C sqrt(p rho)."""
GRAVITY = 9.80665


def set_way(par: Fill, way: int, cubes: float, squares: float, indices: float, row: float) -> None:
    """Write a way from the sums of the series rule, or for the table of an exact chain."""
    if row >= 0.0:
        par[way], par[way + 5] = SCALE, row
        return
    c = cubes ** (-1.0 / 3.0)
    b = min(max(0.0, 1.0 - c * c * squares), LAMINAR - 1e-6)
    m = indices / cubes
    if abs(m - 0.5) < 1e-9:
        m = 0.5
    x = (LAMINAR - b) / (1.0 - b)
    par[way] = c * SCALE
    par[way + 1] = b
    par[way + 2] = 1.0 / (1.0 - b)
    par[way + 3] = m
    par[way + 4] = (1.0 - x * x) ** m / (1.0 - LAMINAR)
    par[way + 5] = -1.0


def set_part(par: Fill, way: int, c: float, b: float, m: float) -> None:
    """Write a way of one part."""
    set_way(par, way, c**-3.0, (1.0 - b) / (c * c), m * c**-3.0, -1.0)


def add_tube(
    cubes: float, squares: float, indices: float, bore: float, length: float
) -> tuple[float, float, float]:
    """The sums with a tube's own C and b added (Beater); unchanged without a tube."""
    if length <= 0.0:
        return cubes, squares, indices
    c = 0.029 * bore * bore / sqrt(length / bore**1.25 + 510.0)
    cube = 1.0 / (c * c * c)
    b = 474.0 * c / (bore * bore)
    return cubes + cube, squares + (1.0 - b) / (c * c), indices + 0.5 * cube


def prepare_side(ask: Row, par: Fill, e: int) -> None:
    """The ways and the tube of one side (0 drive, 1 exhaust)."""
    bore, length, quick = ask[D_BORE + 8 * e], ask[D_LENGTH + 8 * e], e == 1 and ask[QUICK] != 0.0
    node = ask[NODE] != 0.0 and length > 0.0 and not quick
    volume = 0.0 if quick else pi / 4.0 * bore**2 * length
    par[HAS_D + e] = 0.0 if ask[ACTING] == 2.0 - e else 1.0
    par[HAS_DN + e], par[VOLUME_DN + e] = (1.0 if node else 0.0), volume
    par[PER_ROOM_D + e] = 1.0 / max(volume, 1e-15)
    par[HEAT_DN + e] = (GAMMA - 1.0) / R * ask[HEAT] * pi * bore * length
    par[VOLUME_D + e] = ask[DEAD_D + e] + (0.0 if node else volume)
    if par[HAS_D + e] == 0.0:
        return
    if quick:
        set_part(par, WAY_E, ask[QUICK_C], ask[QUICK_B], ask[QUICK_M])
        return
    end, valve = DE_CUBES + 8 * e, DV_CUBES + 8 * e
    c3, c2, cm = add_tube(ask[end], ask[end + 1], ask[end + 2], bore, length)
    if node:
        set_way(par, WAY_DE + 12 * e, c3, c2, cm, ask[DE_TABLE + 2 * e])
        c3 = c2 = cm = 0.0
    c3, c2, cm = c3 + ask[valve], c2 + ask[valve + 1], cm + ask[valve + 2]
    set_way(par, WAY_D + 12 * e, c3, c2, cm, ask[D_TABLE + 2 * e])


def prepare_motion(ask: Row, par: Fill) -> None:
    """Mass, resistance, friction and the lid's triangle."""
    par[MASS] = ask[ROD_MASS] + ask[LOAD] * ask[RATIO] ** 2
    weight = GRAVITY * sin(ask[INCLINE])
    par[RESIST] = (ask[ROD_MASS] + ask[RATIO] * ask[LOAD]) * weight
    par[RESIST] += ask[RATIO] * ask[EXTERNAL] + ask[SPRING]
    par[SPRING_RATE] = ask[RATE]
    par[F_S], par[F_C], par[V_S] = ask[BREAKAWAY], ask[COULOMB], ask[STRIBECK]
    par[F_V] = ask[VISCOUS]
    par[LID_WAY] = ask[LID]
    if ask[LID] != 0.0:
        hinge, arm = ask[LID_HINGE], ask[LID_ARM]
        par[LID_2AC] = 2.0 * hinge * arm
        par[LID_SUM] = hinge * hinge + arm * arm
        par[LID_L0] = sqrt(par[LID_SUM] - par[LID_2AC] * cos(ask[LID_ANGLE]))
        par[LID_COS], par[LID_SIN] = cos(ask[LID_OFFSET]), sin(ask[LID_OFFSET])
        par[LID_J] = ask[LID_INERTIA]
        par[LID_WEIGHT] = ask[LID_MASS] * GRAVITY * ask[LID_REACH]


def prepare(ask: Row, par: Fill) -> None:
    """Everything that stays the same during a stroke, from what was asked."""
    bore_area = pi / 4.0 * ask[BORE] ** 2
    rod_area = pi / 4.0 * ask[ROD] ** 2
    drive, exhaust = bore_area, bore_area - rod_area
    if ask[EXTEND] == 0.0:
        drive, exhaust = exhaust, drive
    par[S_END], par[AREA_D], par[AREA_E] = ask[STROKE], drive, exhaust
    par[P_S], par[P_A] = ask[SUPPLY], ask[ATM]
    par[RT_A] = R * ask[AMBIENT]
    par[RHO_S], par[RHO_A] = ask[SUPPLY] / par[RT_A], ask[ATM] / par[RT_A]
    par[BACK] = ask[ATM] * (drive - exhaust)
    par[ISO], par[HELD_AT] = ask[ISOTHERMAL], ask[HELD]
    heat = (GAMMA - 1.0) / R * ask[HEAT]
    par[HEAT_0], par[HEAT_1] = heat * 2.0 * bore_area, heat * pi * ask[BORE]
    for e in range(2):
        prepare_side(ask, par, e)
    par[SIZE] = 10.0 if par[HAS_DN] + par[HAS_EN] > 0.0 else 6.0
    prepare_motion(ask, par)
    par[DEAD_EXHAUST] = ask[DEAD_E]
    par[CUSHION_AT] = ask[STROKE] - ask[CUSHION] if ask[CUSHION] > 0.0 else 2.0 * ask[STROKE]
    if ask[CUSHION] > 0.0:
        set_part(par, WAY_C, ask[CUSHION_C], ask[CUSHION_B], ask[CUSHION_M])
    par[SWITCH] = ask[DELAY] + ask[D_LENGTH] / sqrt(GAMMA * R * ask[AMBIENT])
    par[RAMP_S] = ask[RAMP]
    par[LONGEST_STEP] = ask[LONGEST]
    par[OPEN_AT] = par[SWITCH] + ask[RAMP]


def begin(ask: Row, z: Fill) -> None:
    """The state at the instant at which the valve switches."""
    z[Y], z[V] = ask[Y_0], ask[V_0]
    for body in range(4):
        pressure, kelvin = ask[PD_0 + 2 * body], ask[TD_0 + 2 * body]
        if ask[ISOTHERMAL] != 0.0:
            kelvin = ask[AMBIENT]
        z[PD + 2 * body] = pressure
        z[RD + 2 * body] = pressure / (R * kelvin)
