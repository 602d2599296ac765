"""The integrator of a stroke: one explicit step and what all steps share. Plain floats.

SSPRK(4,3) of Kraaijevanger with an embedded second order (Conde, Fekete & Shadid, 2018): for the
rough flow law, whose slope jumps, it beats pairs of higher order, and near equal pressures it
stays stable for half as long again as other third-order pairs of as many rates. `implicit` has
the step for air that evens out faster still; `march` chooses and strings the steps together. Runs
interpreted on lists and, the same text, compiled on arrays (`bulk`).
"""

from __future__ import annotations

from math import sqrt

from thundersheet.physics.events import hermite
from thundersheet.physics.kernel import (
    AREA_E,
    LONGEST_STEP,
    OPEN_AT,
    PD,
    PE,
    RD,
    RE,
    S_END,
    SIZE,
    VOLUME_E,
    Row,
    Rows,
    V,
    Work,
    Y,
    opening,
    rates,
)

SLOWEST = 0.05
"""m/s; below it an error of the speed counts as if it were so fast."""


def attempt(par: Row, tables: Rows, t: float, h: float, going: int, work: Work) -> float:
    """One explicit step; the error as a share of the state.

    ``work`` holds the state, room for the new one, the rates of the state, room for those of the
    new one, and scratch.
    """
    z, new, k1, end, k2, k3, k4 = work[0], work[1], work[2], work[3], work[4], work[5], work[6]
    size, half = int(par[SIZE]), 0.5 * h
    middle, last = opening(par, t + half), opening(par, t + h)
    for i in range(size):
        new[i] = z[i] + half * k1[i]
    rates(par, tables, middle, going, new, k2)
    for i in range(size):
        new[i] += half * k2[i]
    rates(par, tables, last, going, new, k3)
    for i in range(size):
        new[i] = z[i] + h / 6.0 * (k1[i] + k2[i] + k3[i])
    rates(par, tables, middle, going, new, k4)
    off = end
    for i in range(size):
        new[i] += half * k4[i]
        off[i] = h / 12.0 * (3.0 * k4[i] - k1[i] - k2[i] - k3[i])
    error = share(par, new, off)
    if error < 1e9:
        rates(par, tables, last, going, new, end)
    return error


def share(par: Row, new: Row, off: Row) -> float:
    """The worst of the errors ``off`` as a share of the state; 1e9 for a state that can't be."""
    if min(new[PD], new[PE], new[RD], new[RE]) <= 0.0:
        return 1e9
    worst = max(abs(off[Y]) / par[S_END], abs(off[V]) / (abs(new[V]) + SLOWEST))
    for i in range(PD, int(par[SIZE])):
        if abs(off[i]) > worst * abs(new[i]):
            worst = abs(off[i]) / abs(new[i])
    return worst


def haste(par: Row, h: float, work: Work) -> float:
    """How fast air evens out within the step just made, per second: its stiffness.

    From the last two stages at the step's end: how their rates differ, by how they differ.
    """
    z, new, k1, end, k2, k3 = work[0], work[1], work[2], work[3], work[4], work[5]
    apart, faster = 0.0, 0.0
    for i in range(PD, int(par[SIZE]), 2):
        apart += (new[i] - z[i] - 0.5 * h * (k1[i] + k2[i])) ** 2
        faster += (end[i] - k3[i]) ** 2
    return sqrt(faster / max(apart, 1e-12))


def shortened(par: Row, t: float, going: int, z: Row, until: float, h: float) -> float:
    """The step ``h`` cut to end at a break point and not to run far past the stop."""
    if t < par[OPEN_AT]:
        until = min(until, par[OPEN_AT])
    h = min(h, par[LONGEST_STEP])
    if t + h * 1.001 >= until:
        h = until - t
    if going > 0 and z[V] > 0.0:
        # Past the stop the exhaust chamber's volume soon reaches nought: keep to its dead volume.
        room = par[S_END] - z[Y] + 0.25 * par[VOLUME_E] / par[AREA_E]
        h = min(h, room / z[V])
    return h


def move_to(par: Row, at: float, h: float, work: Work) -> None:
    """Make the state at ``at`` within the step the present one (its rates are then stale)."""
    z, new, k1, end = work[0], work[1], work[2], work[3]
    for i in range(int(par[SIZE])):
        z[i] = hermite(z[i], new[i], h * k1[i], h * end[i], at)


def take(par: Row, work: Work) -> None:
    """Make the end of the step the present state."""
    z, new, k1, end = work[0], work[1], work[2], work[3]
    for i in range(int(par[SIZE])):
        z[i] = new[i]
        k1[i] = end[i]
