"""One linearly implicit step of a stroke, for when air evens out faster than the step is long.

ROS34PW2, a Rosenbrock-W method of order 3(2) that forgives a rough Jacobian (Rang & Angermann,
BIT 45, 2005). The Jacobian holds what makes a stroke stiff and no more: flows against pressures,
and the piston between them. It is a chain, tube - chamber - piston - chamber - tube, so each of
the four solutions is a walk from both ends to the piston and back.
"""

from __future__ import annotations

from math import exp

from thundersheet.physics.kernel import (
    AREA_D,
    F_C,
    F_S,
    F_V,
    GAMMA,
    HAS_D,
    HAS_DN,
    HEAT_0,
    HEAT_1,
    ISO,
    LID_J,
    LID_WAY,
    MASS,
    P_S,
    PD,
    PDN,
    RD,
    RDN,
    RHO_S,
    RT_A,
    S_END,
    SIZE,
    V_S,
    VOLUME_D,
    VOLUME_DN,
    WAY_D,
    WAY_DE,
    Fill,
    Row,
    Rows,
    V,
    Work,
    Y,
    lid_lever,
    opening,
    rates,
    slopes,
)
from thundersheet.physics.step import share

# The method in the form that needs no product with the Jacobian (Hairer & Wanner, Solving ODE II,
# IV.7), from the published A and Gamma.
OWN = 0.43586652150845900
A21 = 2.0
A31, A32 = 1.4192173174557652, -0.25923221167296978
A41, A42, A43 = 4.1847604823191613, -0.28519201735549599, 2.2942803602790423
C21 = -4.5885607205580836
C31, C32 = -A41, -A42
C41, C42, C43 = -6.3681792001283597, -6.7956209444668367, 2.8700986043310550
E1, E2, E3, E4 = 0.2777499476479686, -1.4032398951759992, 1.772630127667551, 0.5
AT2, AT3 = 0.871733043016918, 0.7315799577888524

# What `link` writes of a side, `SIDE` columns each, and behind both the piston's pivot.
C_OWN, C_NODE, C_V, C_R, N_OWN, N_C, V_C, R_OWN, R_V, R_C, R_N, RN_N, RN_C = range(13)
SIDE = 13
PIVOT, LINKS = 26, 27


def link(par: Row, tables: Rows, s: float, going: int, z: Row, j: Fill) -> None:
    """Fill ``j`` with the Jacobian's entries for both sides at the state ``z``."""
    for i in range(LINKS):
        j[i] = 0.0
    for e in range(2):
        if par[HAS_D + e] != 0.0:
            depth = z[Y] if e == 0 else par[S_END] - z[Y]
            growth = z[V] if e == 0 else -z[V]
            link_side(par, tables, e, s, depth, growth, z, j)
    if going == 0:
        j[C_V] = j[SIDE + C_V] = j[R_V] = j[SIDE + R_V] = 0.0
        return
    mass = par[MASS]
    if par[LID_WAY] != 0.0:
        mass += par[LID_J] * lid_lever(par, z[Y])[0] ** 2
    j[V_C], j[SIDE + V_C] = par[AREA_D] / mass, -par[AREA_D + 1] / mass
    slip = z[V] / par[V_S]
    fading = 0.0
    if slip < 6.1 and slip > -6.1:
        fading = 2.0 * going * (par[F_S] - par[F_C]) * slip / par[V_S] * exp(-slip * slip)
    j[PIVOT] = (fading - par[F_V]) / mass


def link_side(par: Row, tables: Rows, e: int, s: float, depth: float, growth: float,
              z: Row, j: Fill) -> None:  # fmt: skip
    """The entries of one side: how its flows and its piston answer to its pressures."""
    at, outside, air = SIDE * e, par[P_S + e], par[RHO_S + e]
    iso = par[ISO] != 0.0
    volume = max(par[VOLUME_D + e] + par[AREA_D + e] * depth, 1e-12)
    p = max(z[PD + 2 * e], 1.0)
    rho = p / par[RT_A] if iso else z[RD + 2 * e]
    warmth = 1.0 if iso else GAMMA
    squeeze = warmth * par[AREA_D + e] / volume
    j[at + C_V] = -p * squeeze * (1.0 - 2.0 * e)
    if par[HAS_DN + e] != 0.0:
        pn, room = max(z[PDN + 2 * e], 1.0), par[VOLUME_DN + e]
        rn = pn / par[RT_A] if iso else z[RDN + 2 * e]
        _, out = slopes(par, WAY_D + 12 * e, tables, e, outside, air, pn, rn)
        first = warmth * (par[RT_A] if outside >= pn else pn / rn)
        with_n, with_c = slopes(par, WAY_DE + 12 * e, tables, e, pn, rn, p, rho)
        carried = warmth * (pn / rn if pn >= p else p / rho)
        j[at + N_OWN] = (first * s * out - carried * with_n) / room
        j[at + N_C] = -carried * with_c / room
        j[at + C_NODE] = carried * with_n / volume
        j[at + R_N] = with_n / volume
        j[at + RN_N], j[at + RN_C] = (s * out - with_n) / room, -with_c / room
    else:
        _, with_c = slopes(par, WAY_D + 12 * e, tables, e, outside, air, p, rho)
        with_c *= s
        carried = warmth * (par[RT_A] if outside >= p else p / rho)
    j[at + C_OWN] = carried * with_c / volume - squeeze * growth
    if not iso:
        # A piston at the end of its travel warms a film of air within a microsecond.
        warming = (par[HEAT_0] + par[HEAT_1] * depth) / (rho * volume)
        j[at + C_OWN] -= warming
        j[at + C_R] = warming * p / rho
    j[at + R_C], j[at + R_OWN] = with_c / volume, -par[AREA_D + e] * growth / volume
    j[at + R_V] = -rho * par[AREA_D + e] / volume * (1.0 - 2.0 * e)


def factor(j: Fill, diagonal: float) -> None:
    """Make of the entries the reciprocal pivots of diagonal - J, from both ends to the piston."""
    pivot = diagonal - j[PIVOT]
    for at in (0, SIDE):
        j[at + R_OWN] = 1.0 / (diagonal - j[at + R_OWN])
        by_density = j[at + C_R] * j[at + R_OWN]
        j[at + C_R] = by_density
        j[at + C_OWN] += by_density * j[at + R_C]
        j[at + C_NODE] += by_density * j[at + R_N]
        j[at + C_V] += by_density * j[at + R_V]
        j[at + N_OWN] = 1.0 / (diagonal - j[at + N_OWN])
        inner = diagonal - j[at + C_OWN] - j[at + C_NODE] * j[at + N_OWN] * j[at + N_C]
        j[at + C_OWN] = 1.0 / inner
        pivot -= j[at + V_C] * j[at + C_OWN] * j[at + C_V]
    j[PIVOT] = 1.0 / pivot


def back_solve(j: Row, own: float, u: Fill) -> None:
    """Replace the right-hand side ``u`` by the solution of (1/own - J) u = rhs."""
    for e in (0, 1):
        at, c, n = SIDE * e, PD + 2 * e, PDN + 2 * e
        u[c] += j[at + C_R] * u[c + 1] + j[at + C_NODE] * j[at + N_OWN] * u[n]
        u[V] += j[at + V_C] * j[at + C_OWN] * u[c]
    u[V] *= j[PIVOT]
    u[Y] = own * (u[Y] + u[V])
    for e in (0, 1):
        at, c, n = SIDE * e, PD + 2 * e, PDN + 2 * e
        u[c] = j[at + C_OWN] * (u[c] + j[at + C_V] * u[V])
        u[n] = j[at + N_OWN] * (u[n] + j[at + N_C] * u[c])
        u[c + 1] += j[at + R_V] * u[V] + j[at + R_C] * u[c] + j[at + R_N] * u[n]
        u[c + 1] *= j[at + R_OWN]
        u[n + 1] = own * (u[n + 1] + j[at + RN_N] * u[n] + j[at + RN_C] * u[c])


def attempt_implicit(
    par: Row, tables: Rows, t: float, h: float, going: int, work: Work
) -> tuple[float, float]:
    """`step.attempt`, linearly implicit; with it how fast air evens out, per second."""
    z, new, k1, end = work[0], work[1], work[2], work[3]
    u1, u2, u3, u4, j = work[4], work[5], work[6], work[7], work[8]
    size, own = int(par[SIZE]), OWN * h
    link(par, tables, opening(par, t), going, z, j)
    fastest = -min(j[C_OWN], j[SIDE + C_OWN], j[N_OWN], j[SIDE + N_OWN])
    factor(j, 1.0 / own)
    for i in range(size):
        u1[i] = k1[i]
    back_solve(j, own, u1)
    for i in range(size):
        new[i] = z[i] + A21 * u1[i]
    rates(par, tables, opening(par, t + AT2 * h), going, new, u2)
    for i in range(size):
        u2[i] += C21 / h * u1[i]
    back_solve(j, own, u2)
    for i in range(size):
        new[i] = z[i] + A31 * u1[i] + A32 * u2[i]
    rates(par, tables, opening(par, t + AT3 * h), going, new, u3)
    for i in range(size):
        u3[i] += (C31 * u1[i] + C32 * u2[i]) / h
    back_solve(j, own, u3)
    for i in range(size):
        new[i] = z[i] + A41 * u1[i] + A42 * u2[i] + A43 * u3[i]
    rates(par, tables, opening(par, t + h), going, new, u4)
    for i in range(size):
        u4[i] += (C41 * u1[i] + C42 * u2[i] + C43 * u3[i]) / h
    back_solve(j, own, u4)
    off = end
    for i in range(size):
        new[i] += u4[i]
        off[i] = E1 * u1[i] + E2 * u2[i] + E3 * u3[i] + E4 * u4[i]
    error = share(par, new, off)
    if error < 1e9:
        rates(par, tables, opening(par, t + h), going, new, end)
    return error, fastest
