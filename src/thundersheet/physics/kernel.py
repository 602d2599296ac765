"""The equations of a stroke in plain floats: the only source of them.

In comes a row of what is asked (`ASKED`) and a state, out go its rates. The same text runs
interpreted on lists for the few strokes of a plan and compiled on arrays for many (`bulk`), so it
uses nothing but arithmetic, indices and `math`. It checks nothing (`stroke` does) and steps
nothing (`step` does).
"""

from __future__ import annotations

from collections.abc import MutableSequence, Sequence
from math import cos, exp, pi, sin, sqrt

Row = Sequence[float]
Fill = MutableSequence[float]
Rows = Sequence[Sequence[float]]
Work = Sequence[MutableSequence[float]]

R = 288.0
GAMMA = 1.4
CP = 1008.0
ROOT_T0_RHO0 = 1.185 * sqrt(293.15)
GRAVITY = 9.80665
LAMINAR = 0.995
POINTS = 256

# What is asked: the columns of a row. Lengths m, pressures absolute Pa, SI throughout.
NAMES_ASKED = (
    "bore rod stroke extend dead_drive dead_exhaust supply atmosphere ambient heat isothermal "
    "acting node quick delay ramp "
    "drive_valve_cubes drive_valve_squares drive_valve_indices drive_bore drive_length "
    "drive_end_cubes drive_end_squares drive_end_indices "
    "exhaust_valve_cubes exhaust_valve_squares exhaust_valve_indices exhaust_bore exhaust_length "
    "exhaust_end_cubes exhaust_end_squares exhaust_end_indices "
    "quick_c quick_b quick_m cushion_length cushion_c cushion_b cushion_m "
    "rod_mass load ratio incline external spring rate "
    "breakaway coulomb stribeck viscous "
    "lid lid_hinge lid_arm lid_angle lid_offset lid_inertia lid_mass lid_reach "
    "y v drive_pa drive_k exhaust_pa exhaust_k drive_tube_pa drive_tube_k exhaust_tube_pa "
    "exhaust_tube_k drive_table drive_end_table exhaust_table exhaust_end_table "
    "until held tolerance longest from_"
)
ASKED = tuple(NAMES_ASKED.split())
(
    BORE, ROD, STROKE, EXTEND, DEAD_D, DEAD_E, SUPPLY, ATM, AMBIENT, HEAT, ISOTHERMAL, ACTING,
    NODE, QUICK, DELAY, RAMP,
    DV_CUBES, DV_SQUARES, DV_INDICES, D_BORE, D_LENGTH,
    DE_CUBES, DE_SQUARES, DE_INDICES,
    EV_CUBES, EV_SQUARES, EV_INDICES, E_BORE, E_LENGTH,
    EE_CUBES, EE_SQUARES, EE_INDICES,
    QUICK_C, QUICK_B, QUICK_M, CUSHION, CUSHION_C, CUSHION_B, CUSHION_M,
    ROD_MASS, LOAD, RATIO, INCLINE, EXTERNAL, SPRING, RATE,
    BREAKAWAY, COULOMB, STRIBECK, VISCOUS,
    LID, LID_HINGE, LID_ARM, LID_ANGLE, LID_OFFSET, LID_INERTIA, LID_MASS, LID_REACH,
    Y_0, V_0, PD_0, TD_0, PE_0, TE_0, PDN_0, TDN_0, PEN_0, TEN_0,
    D_TABLE, DE_TABLE, E_TABLE, EE_TABLE,
    UNTIL, HELD, TOLERANCE, LONGEST, T_FROM,
) = range(77)  # fmt: skip

# What the rates need, made once a stroke by `prepare`. A way (of air) is six columns:
# conductance, b, 1/(1-b), m, slope of the line above 0.995, row of its table or -1.
(
    S_END, AREA_D, AREA_E, BACK, VOLUME_D, VOLUME_E, P_S, P_A, T_A, H, ISO, HELD_AT,
    HAS_D, HAS_E, HAS_DN, HAS_EN, VOLUME_DN, VOLUME_EN, WALL_DN, WALL_EN, WALL_0, WALL_1,
    MASS, RESIST, SPRING_RATE, F_S, F_C, V_S, F_V,
    LID_WAY, LID_L0, LID_2AC, LID_SUM, LID_COS, LID_SIN, LID_J, LID_WEIGHT,
    SWITCH, OPEN_AT, RAMP_S,
) = range(40)  # fmt: skip
WAY_D, WAY_DE, WAY_E, WAY_EE, WAY_C = 40, 46, 52, 58, 64
DEAD_EXHAUST, CUSHION_AT, SIZE, LONGEST_STEP = 70, 71, 72, 73
MADE = 74

# The state: position, speed, then pressure and mass of the four bodies of air.
Y, V, PD, MD, PE, ME, PDN, MDN, PEN, MEN = range(10)


def flow(par: Row, way: int, tables: Rows, low_row: int, up: float, up_k: float,
         down: float, down_k: float) -> float:  # fmt: skip
    """kg/s through a way from ``up`` to ``down`` (ISO 6358-1), negative when it runs back."""
    if up >= down:
        ratio, conductance = down / up, par[way] * up / sqrt(up_k)
    else:
        ratio, conductance = up / down, -par[way] * down / sqrt(down_k)
    row = int(par[way + 5])
    if row >= 0:
        # A chain run backwards has its parts in the other order: the next row of the tables.
        table = tables[row + low_row] if up >= down else tables[row + 1 - low_row]
        at = sqrt(1.0 - ratio) * POINTS
        i = min(int(at), POINTS - 1)
        return conductance * (table[i] + (table[i + 1] - table[i]) * (at - i))
    b = par[way + 1]
    if ratio <= b:
        return conductance
    if ratio > LAMINAR:
        return conductance * par[way + 4] * (1.0 - ratio)
    x = (ratio - b) * par[way + 2]
    if par[way + 3] == 0.5:
        return conductance * sqrt(1.0 - x * x)
    return float(conductance * (1.0 - x * x) ** par[way + 3])


def opening(par: Row, t: float) -> float:
    """The valve's share of its full conductance at ``t``."""
    if t >= par[OPEN_AT]:
        return 1.0
    return (t - par[SWITCH]) / par[RAMP_S]


def lid_lever(par: Row, y: float) -> tuple[float, float, float]:
    """Lever f = dphi/dy, df/dy and the lid's weight felt at the rod, from the triangle."""
    length = par[LID_L0] + par[LID_WAY] * y
    ac = 0.5 * par[LID_2AC]
    cosine = (par[LID_SUM] - length * length) / par[LID_2AC]
    sine = sqrt(max(1.0 - cosine * cosine, 1e-12))
    lever = par[LID_WAY] * length / (ac * sine)
    bend = (1.0 - ac * cosine * lever * lever) / (ac * sine)
    weight = par[LID_WEIGHT] * (cosine * par[LID_COS] - sine * par[LID_SIN]) * lever
    return lever, bend, weight


def net_force(par: Row, y: float, drive: float, exhaust: float) -> float:
    """N along the commanded motion, friction and inertia left out."""
    net = drive * par[AREA_D] - exhaust * par[AREA_E] - par[BACK] - par[RESIST]
    net -= par[SPRING_RATE] * y
    if par[LID_WAY] != 0.0:
        net -= lid_lever(par, y)[2]
    return net


def acceleration(par: Row, going: int, y: float, v: float, net: float) -> float:
    """m/s2 of the rod when moving in the direction ``going``: Stribeck and viscous friction."""
    slip = v / par[V_S]
    friction = going * par[F_C] + par[F_V] * v
    # Beyond six times the Stribeck speed the exponential is below the last digit of a float.
    if slip < 6.1 and slip > -6.1:
        friction += going * (par[F_S] - par[F_C]) * exp(-slip * slip)
    if par[LID_WAY] == 0.0:
        return (net - friction) / par[MASS]
    lever, bend, _ = lid_lever(par, y)
    mass = par[MASS] + par[LID_J] * lever * lever
    return (net - friction - par[LID_J] * lever * bend * v * v) / mass


def rates(par: Row, tables: Rows, s: float, going: int, z: Row, k: Fill) -> None:
    """Fill ``k`` with the time derivative of the state ``z`` at the valve opening ``s``.

    Mass and energy of each body of air:
    dp/dt = (gamma-1)/V (sum cp T_up mdot + h A (T_amb - T)) - gamma p/V dV/dt.
    """
    y, v = z[Y], z[V]
    ambient, heat, atm = par[T_A], par[H], par[P_A]
    iso = par[ISO] != 0.0
    pd, pe = max(z[PD], 1.0), max(z[PE], 1.0)
    if going == 0:
        k[Y] = k[V] = 0.0
        v = 0.0
    else:
        k[Y] = v
        k[V] = acceleration(par, going, y, v, net_force(par, y, pd, pe))
    if par[HAS_D] != 0.0:
        volume = max(par[VOLUME_D] + par[AREA_D] * y, 1e-12)
        td = ambient if iso else pd * volume / (max(z[MD], 1e-15) * R)
        if par[HAS_DN] != 0.0:
            pn = max(z[PDN], 1.0)
            room = par[VOLUME_DN]
            tn = ambient if iso else pn * room / (max(z[MDN], 1e-15) * R)
            into = s * flow(par, WAY_D, tables, 0, par[P_S], ambient, pn, tn)
            come = flow(par, WAY_DE, tables, 0, pn, tn, pd, td)
            tu = ambient if into >= 0.0 else tn
            tc = tn if come >= 0.0 else td
            k[MDN] = into - come
            if iso:
                k[PDN] = R * ambient * (into - come) / room
            else:
                warm = heat * par[WALL_DN] * (ambient - tn)
                k[PDN] = (GAMMA - 1.0) / room * (CP * (tu * into - tc * come) + warm)
        else:
            come = s * flow(par, WAY_D, tables, 0, par[P_S], ambient, pd, td)
            tc = ambient if come >= 0.0 else td
        k[MD] = come
        if iso:
            k[PD] = (R * ambient * come - pd * par[AREA_D] * v) / volume
        else:
            warm = heat * (par[WALL_0] + par[WALL_1] * y) * (ambient - td)
            work = GAMMA * pd * par[AREA_D] * v
            k[PD] = ((GAMMA - 1.0) * (CP * tc * come + warm) - work) / volume
    if par[HAS_E] != 0.0:
        rest = par[S_END] - y
        volume = max(par[VOLUME_E] + par[AREA_E] * rest, 1e-12)
        te = ambient if iso else pe * volume / (max(z[ME], 1e-15) * R)
        if par[HAS_EN] != 0.0:
            pn = max(z[PEN], 1.0)
            room = par[VOLUME_EN]
            tn = ambient if iso else pn * room / (max(z[MEN], 1e-15) * R)
            gone = flow(par, WAY_EE, tables, 0, pe, te, pn, tn)
            out = s * flow(par, WAY_E, tables, 0, pn, tn, atm, ambient)
            tg = te if gone >= 0.0 else tn
            to = tn if out >= 0.0 else ambient
            k[MEN] = gone - out
            if iso:
                k[PEN] = R * ambient * (gone - out) / room
            else:
                warm = heat * par[WALL_EN] * (ambient - tn)
                k[PEN] = (GAMMA - 1.0) / room * (CP * (tg * gone - to * out) + warm)
        else:
            gone = s * flow(par, WAY_E, tables, 0, pe, te, atm, ambient)
            tg = te if gone >= 0.0 else ambient
        k[ME] = -gone
        if iso:
            k[PE] = (pe * par[AREA_E] * v - R * ambient * gone) / volume
        else:
            warm = heat * (par[WALL_0] + par[WALL_1] * rest) * (ambient - te)
            work = GAMMA * pe * par[AREA_E] * v
            k[PE] = ((GAMMA - 1.0) * (warm - CP * tg * gone) + work) / volume


def set_way(par: Fill, way: int, cubes: float, squares: float, indices: float, row: float) -> None:
    """Write a way from the sums of the series rule, or for the table of an exact chain."""
    if row >= 0.0:
        par[way], par[way + 5] = ROOT_T0_RHO0, row
        return
    c = cubes ** (-1.0 / 3.0)
    b = min(max(0.0, 1.0 - c * c * squares), LAMINAR - 1e-6)
    m = indices / cubes
    if abs(m - 0.5) < 1e-9:
        m = 0.5
    x = (LAMINAR - b) / (1.0 - b)
    par[way] = c * ROOT_T0_RHO0
    par[way + 1] = b
    par[way + 2] = 1.0 / (1.0 - b)
    par[way + 3] = m
    par[way + 4] = (1.0 - x * x) ** m / (1.0 - LAMINAR)
    par[way + 5] = -1.0


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


def prepare_ways(ask: Row, par: Fill) -> None:
    """The four ways of air and the tubes' volumes."""
    node = ask[NODE] != 0.0
    par[HAS_DN] = 1.0 if node and ask[D_LENGTH] > 0.0 else 0.0
    par[HAS_EN] = 1.0 if node and ask[E_LENGTH] > 0.0 and ask[QUICK] == 0.0 else 0.0
    par[SIZE] = 10.0 if par[HAS_DN] + par[HAS_EN] > 0.0 else 6.0
    par[VOLUME_DN] = pi / 4.0 * ask[D_BORE] ** 2 * ask[D_LENGTH]
    par[VOLUME_EN] = pi / 4.0 * ask[E_BORE] ** 2 * ask[E_LENGTH]
    par[WALL_DN] = pi * ask[D_BORE] * ask[D_LENGTH]
    par[WALL_EN] = pi * ask[E_BORE] * ask[E_LENGTH]
    par[HAS_D] = 1.0 if ask[ACTING] != 2.0 else 0.0
    par[HAS_E] = 1.0 if ask[ACTING] != 1.0 else 0.0
    if par[HAS_D] != 0.0:
        c3, c2, cm = add_tube(
            ask[DE_CUBES], ask[DE_SQUARES], ask[DE_INDICES], ask[D_BORE], ask[D_LENGTH]
        )
        if par[HAS_DN] != 0.0:
            set_way(par, WAY_DE, c3, c2, cm, ask[DE_TABLE])
            c3 = c2 = cm = 0.0
        c3, c2, cm = c3 + ask[DV_CUBES], c2 + ask[DV_SQUARES], cm + ask[DV_INDICES]
        set_way(par, WAY_D, c3, c2, cm, ask[D_TABLE])
    if par[HAS_E] != 0.0:
        if ask[QUICK] != 0.0:
            cube = ask[QUICK_C] ** -3.0
            c2 = (1.0 - ask[QUICK_B]) / ask[QUICK_C] ** 2
            set_way(par, WAY_E, cube, c2, ask[QUICK_M] * cube, -1.0)
        else:
            c3, c2, cm = add_tube(
                ask[EE_CUBES], ask[EE_SQUARES], ask[EE_INDICES], ask[E_BORE], ask[E_LENGTH]
            )
            if par[HAS_EN] != 0.0:
                set_way(par, WAY_EE, c3, c2, cm, ask[EE_TABLE])
                c3 = c2 = cm = 0.0
            c3, c2, cm = c3 + ask[EV_CUBES], c2 + ask[EV_SQUARES], cm + ask[EV_INDICES]
            set_way(par, WAY_E, c3, c2, cm, ask[E_TABLE])


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
    par[P_S], par[P_A], par[T_A] = ask[SUPPLY], ask[ATM], ask[AMBIENT]
    par[BACK] = ask[ATM] * (drive - exhaust)
    par[H], par[ISO], par[HELD_AT] = ask[HEAT], ask[ISOTHERMAL], ask[HELD]
    par[WALL_0], par[WALL_1] = 2.0 * bore_area, pi * ask[BORE]
    prepare_ways(ask, par)
    prepare_motion(ask, par)
    par[DEAD_EXHAUST] = ask[DEAD_E]
    lumped_d = par[VOLUME_DN] if ask[NODE] == 0.0 else 0.0
    lumped_e = par[VOLUME_EN] if ask[NODE] == 0.0 and ask[QUICK] == 0.0 else 0.0
    par[VOLUME_D] = ask[DEAD_D] + lumped_d
    par[VOLUME_E] = ask[DEAD_E] + lumped_e
    par[CUSHION_AT] = ask[STROKE] - ask[CUSHION] if ask[CUSHION] > 0.0 else 2.0 * ask[STROKE]
    if ask[CUSHION] > 0.0:
        cube = ask[CUSHION_C] ** -3.0
        squares = (1.0 - ask[CUSHION_B]) / ask[CUSHION_C] ** 2
        set_way(par, WAY_C, cube, squares, ask[CUSHION_M] * cube, -1.0)
    par[SWITCH] = ask[DELAY] + ask[D_LENGTH] / sqrt(GAMMA * R * ask[AMBIENT])
    par[RAMP_S] = ask[RAMP]
    par[LONGEST_STEP] = ask[LONGEST]
    par[OPEN_AT] = par[SWITCH] + ask[RAMP]


def begin(ask: Row, par: Row, z: Fill) -> None:
    """The state at the instant at which the valve switches."""
    z[Y], z[V] = ask[Y_0], ask[V_0]
    volumes = (
        par[VOLUME_D] + par[AREA_D] * ask[Y_0],
        par[VOLUME_E] + par[AREA_E] * (par[S_END] - ask[Y_0]),
        par[VOLUME_DN],
        par[VOLUME_EN],
    )
    for body in range(4):
        pressure, kelvin = ask[PD_0 + 2 * body], ask[TD_0 + 2 * body]
        if par[ISO] != 0.0:
            kelvin = par[T_A]
        z[PD + 2 * body] = pressure
        z[MD + 2 * body] = pressure * volumes[body] / (R * kelvin)
