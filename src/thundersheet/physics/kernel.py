"""The equations of a stroke in plain floats: the only source of them.

In comes a row of what is asked (`ASKED`) and a state, out go its rates. The same text runs
interpreted on lists for the few strokes of a plan and compiled on arrays for many (`bulk`), so it
uses nothing but arithmetic, indices and `math`. It checks nothing (`stroke` does) and steps
nothing (`step` does).
"""

from __future__ import annotations

from collections.abc import MutableSequence, Sequence
from math import exp, sqrt

Row = Sequence[float]
Fill = MutableSequence[float]
Rows = Sequence[Sequence[float]]
Work = Sequence[MutableSequence[float]]

R = 288.0
GAMMA = 1.4
LAMINAR = 0.995
POINTS = 256
NUDGE = 1e-6
PIECES, PIECE_PARTS = 8, 256
"""Of a fine table (`chain`): at most so many pieces, each of so many parts."""

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
    S_END, AREA_D, AREA_E, BACK, VOLUME_D, VOLUME_E, P_S, P_A, RHO_S, RHO_A, RT_A, ISO, HELD_AT,
    HAS_D, HAS_E, HAS_DN, HAS_EN, VOLUME_DN, VOLUME_EN, PER_ROOM_D, PER_ROOM_E,
    HEAT_DN, HEAT_EN, HEAT_0, HEAT_1,
    MASS, RESIST, SPRING_RATE, F_S, F_C, V_S, F_V,
    LID_WAY, LID_L0, LID_2AC, LID_SUM, LID_COS, LID_SIN, LID_J, LID_WEIGHT,
    SWITCH, OPEN_AT, RAMP_S,
) = range(43)  # fmt: skip
WAY_D, WAY_DE, WAY_E, WAY_EE, WAY_C = range(43, 73, 6)
DEAD_EXHAUST, CUSHION_AT, SIZE, LONGEST_STEP = range(73, 77)
MADE = 77

# The state: position, speed, then pressure and density of the four bodies of air. (Mass would lose
# its last digits where a chamber shrinks to next to nothing.)
Y, V, PD, RD, PE, RE, PDN, RDN, PEN, REN = range(10)


def psi(par: Row, way: int, tables: Rows, row: int, ratio: float) -> float:
    """Share of the choked flow at the pressure ratio (ISO 6358-1, or the table of a chain)."""
    if row >= 0:
        if len(tables[row]) > POINTS + 1:
            return piecewise(tables[row], sqrt(1.0 - ratio))
        at = (1.0 - ratio) * POINTS * POINTS
        i = min(int(sqrt(at)), POINTS - 1)
        low = tables[row][i]
        return low + (tables[row][i + 1] - low) * (at - i * i) / (2 * i + 1)
    b = par[way + 1]
    if ratio <= b:
        return 1.0
    if ratio > LAMINAR:
        return par[way + 4] * (1.0 - ratio)
    x = (ratio - b) * par[way + 2]
    if par[way + 3] == 0.5:
        return sqrt(1.0 - x * x)
    return float((1.0 - x * x) ** par[way + 3])


def piecewise(line: Row, x: float) -> float:
    """The value of a fine table (`chain`) at ``x``: cubics through values and slopes."""
    last = int(line[0])
    if x >= line[1 + last]:
        return line[PIECES + 2 * (PIECE_PARTS + 1) * last]
    i = 0
    while x >= line[2 + i]:
        i += 1
    at = (x - line[1 + i]) / (line[2 + i] - line[1 + i]) * PIECE_PARTS
    k = min(int(at), PIECE_PARTS - 1)
    u, from_ = at - k, PIECES + 2 + 2 * ((PIECE_PARTS + 1) * i + k)
    a, da, b, db = line[from_], line[from_ + 1], line[from_ + 2], line[from_ + 3]
    rise = b - a
    return a + u * (da + u * (3.0 * rise - 2.0 * da - db + u * (da + db - 2.0 * rise)))


def flow(par: Row, way: int, tables: Rows, back: int, up: float, up_rho: float,
         down: float, down_rho: float) -> float:  # fmt: skip
    """kg/s through a way from ``up`` to ``down``, negative when it runs back.

    p/sqrt(T) of ISO 6358 is sqrt(R p rho). ``back`` is 1 where ``up`` is the far end of the way's
    table: a chain run backwards has its parts in the other order, which is the next row.
    """
    row = int(par[way + 5])
    if up >= down:
        row = row + back if row >= 0 else row
        return par[way] * sqrt(up * up_rho) * psi(par, way, tables, row, down / up)
    row = row + 1 - back if row >= 0 else row
    return -par[way] * sqrt(down * down_rho) * psi(par, way, tables, row, up / down)


def slopes(par: Row, way: int, tables: Rows, back: int, up: float, up_rho: float,
           down: float, down_rho: float) -> tuple[float, float]:  # fmt: skip
    """How `flow` grows with ``up`` and with ``down``, at constant temperatures."""
    row = int(par[way + 5])
    high, low, rho = up, down, up_rho
    if row >= 0:
        row += back if up >= down else 1 - back
    if up < down:
        high, low, rho = down, up, down_rho
    ratio = min(low / high, 1.0 - NUDGE)
    here = psi(par, way, tables, row, ratio)
    bend = (psi(par, way, tables, row, ratio + NUDGE) - here) / NUDGE
    scale = par[way] * sqrt(rho / high)
    with_high, with_low = scale * (here - ratio * bend), scale * bend
    if up >= down:
        return with_high, with_low
    return -with_low, -with_high


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
    """Fill ``k`` with the time derivative of the state ``z`` at the valve opening ``s``."""
    v = z[V]
    if going == 0:
        k[Y] = k[V] = v = 0.0
    else:
        k[Y] = v
        k[V] = acceleration(par, going, z[Y], v, net_force(par, z[Y], z[PD], z[PE]))
    if par[HAS_D] != 0.0:
        side_rates(par, tables, 0, s, z[Y], v, z, k)
    if par[HAS_E] != 0.0:
        side_rates(par, tables, 1, s, par[S_END] - z[Y], -v, z, k)


def side_rates(par: Row, tables: Rows, e: int, s: float, depth: float, growth: float,
               z: Row, k: Fill) -> None:  # fmt: skip
    """The rates of one side (0 drive, 1 exhaust): its chamber, and its tube where that is a node.

    Mass and energy of each body of air, every flow counted towards the cylinder:
    dp/dt = (gamma-1)/V (sum cp T_up mdot + h A (T_amb - T)) - gamma p/V dV/dt.
    R T = p/rho stands for T throughout, and (gamma-1) cp T = gamma R T.
    """
    c, n, outside, air = PD + 2 * e, PDN + 2 * e, par[P_S + e], par[RHO_S + e]
    iso, rt_a = par[ISO] != 0.0, par[RT_A]
    per_volume = 1.0 / max(par[VOLUME_D + e] + par[AREA_D + e] * depth, 1e-12)
    p = max(z[c], 1.0)
    rho = p / rt_a if iso else z[c + 1]
    rt = p / rho
    if par[HAS_DN + e] != 0.0:
        pn, per_room = max(z[n], 1.0), par[PER_ROOM_D + e]
        rho_n = pn / rt_a if iso else z[n + 1]
        rt_n = pn / rho_n
        into = s * flow(par, WAY_D + 12 * e, tables, e, outside, air, pn, rho_n)
        come = flow(par, WAY_DE + 12 * e, tables, e, pn, rho_n, p, rho)
        rt_come = rt_n if come >= 0.0 else rt
        k[n + 1] = (into - come) * per_room
        rt_into = rt_a if into >= 0.0 else rt_n
        warm = par[HEAT_DN + e] * (rt_a - rt_n)
        k[n] = (GAMMA * (rt_into * into - rt_come * come) + warm) * per_room
        if iso:
            k[n] = rt_a * k[n + 1]
    else:
        come = s * flow(par, WAY_D + 12 * e, tables, e, outside, air, p, rho)
        rt_come = rt_a if come >= 0.0 else rt
    swept = par[AREA_D + e] * growth
    k[c + 1] = (come - rho * swept) * per_volume
    warm = (par[HEAT_0] + par[HEAT_1] * depth) * (rt_a - rt)
    k[c] = (GAMMA * (rt_come * come - p * swept) + warm) * per_volume
    if iso:
        k[c] = rt_a * k[c + 1]
