"""One step of a whole plant, linearly implicit: ROS34PW2 with the blocks of `linear`.

The same method as for a stiff stroke (`physics.implicit`); here all steps are of this kind, since
somewhere in a plant some air has always evened out. Sums that flows keep (mass, energy with what
came and went) are kept to rounding. Plain floats, interpreted or compiled.
"""

from __future__ import annotations

from thundersheet.physics.implicit import (
    A21,
    A31,
    A32,
    A41,
    A42,
    A43,
    AT2,
    AT3,
    C21,
    C31,
    C32,
    C41,
    C42,
    C43,
    E1,
    E2,
    E3,
    E4,
    OWN,
)
from thundersheet.physics.kernel import AREA_D, HAS_D, HAS_DN, ISO, S_END
from thundersheet.physics.plant.coupled.columns import (
    AS,
    AS_END,
    AS_K,
    AS_NEW,
    AS_Z,
    B_ISO,
    D_AT_END,
    D_GOING,
    W_1,
    W_2,
    W_3,
    W_4,
    W_END,
    W_F,
    W_NEW,
    W_TRY,
    W_X,
    X_D,
    X_DN,
    X_V,
    X_Y,
    Fill,
    Net,
    Room,
    Row,
    Rows,
    device_at,
)
from thundersheet.physics.plant.coupled.flows import all_rates, room_of
from thundersheet.physics.plant.coupled.linear import resolve, split
from thundersheet.physics.step import SLOWEST

IMPOSSIBLE = 1e9
TOO_FAST = 1e4
"""m/s; no piston is so fast, and what is no number is not below it."""
AT_REST, LANDED = 0.3, 0.03
"""What rests forgets its errors, as air evens out, but for the instant at which it sets off; what
has landed has none to come before its valve switches. A piston in motion keeps them."""


def rates_at(net: Net, room: Room, t: float, x: Row, f: Fill, end: bool) -> None:
    """The rates of ``x`` at ``t`` into ``f``; with the devices' kernel states at this end."""
    states = room[1]
    zs, ks = (states[AS_NEW], states[AS_END]) if end else (states[AS_Z], states[AS_K])
    all_rates(net, t, x, f, zs, ks, states[AS][0])


def attempt_stride(net: Net, room: Room, t: float, h: float) -> float:
    """One step from `W_X` to `W_NEW`; the error as a share of the state.

    One place calls the rates and one the solution, whatever the stage: the compiler writes them
    out wherever they are called, and would take twice as long.
    """
    work = room[0]
    x, new, f = work[W_X], work[W_NEW], work[W_F]
    size, own, error = len(x), OWN * h, 0.0
    split(net, room, t, own)
    for stage in range(5):
        u = work[W_1 + stage] if stage < 4 else work[W_END]
        if stage == 0:
            for i in range(size):
                u[i] = f[i]
        else:
            rates_at(net, room, t + stage_time(stage) * h, new, u, stage > 0)
        if stage == 4:
            break
        add_earlier(work, stage, h)
        resolve(net, room, own, u)
        add_stages(work, stage)
        if stage == 3:
            error = worst(net, new, work[W_TRY])
            if error >= IMPOSSIBLE:
                break
    return error


def stage_time(stage: int) -> float:
    """Where in the step a stage's rates are taken; 4 is the step's end."""
    if stage == 1:
        return AT2
    return AT3 if stage == 2 else 1.0


def add_earlier(work: Rows, stage: int, h: float) -> None:
    """Add what earlier stages contribute to a stage's right-hand side."""
    u1, u2, u3 = work[W_1], work[W_2], work[W_3]
    if stage == 1:
        for i in range(len(u1)):
            u2[i] += C21 / h * u1[i]
    elif stage == 2:
        for i in range(len(u1)):
            u3[i] += (C31 * u1[i] + C32 * u2[i]) / h
    elif stage == 3:
        u4 = work[W_4]
        for i in range(len(u1)):
            u4[i] += (C41 * u1[i] + C42 * u2[i] + C43 * u3[i]) / h


def add_stages(work: Rows, stage: int) -> None:
    """Make the state at which the next stage's rates are taken; in the end the new one."""
    x, new = work[W_X], work[W_NEW]
    u1, u2, u3, u4 = work[W_1], work[W_2], work[W_3], work[W_4]
    if stage == 0:
        for i in range(len(x)):
            new[i] = x[i] + A21 * u1[i]
    elif stage == 1:
        for i in range(len(x)):
            new[i] = x[i] + A31 * u1[i] + A32 * u2[i]
    elif stage == 2:
        for i in range(len(x)):
            new[i] = x[i] + A41 * u1[i] + A42 * u2[i] + A43 * u3[i]
    else:
        off = work[W_TRY]
        for i in range(len(x)):
            new[i] += u4[i]
            off[i] = E1 * u1[i] + E2 * u2[i] + E3 * u3[i] + E4 * u4[i]


def worst(net: Net, new: Row, off: Row) -> float:
    """The worst of the errors ``off`` as a share of pressures, densities, travel and speed."""
    bodies, devices = net[0], net[1]
    most, moving = 0.0, False
    for i in range(len(devices)):
        going = devices[i][D_GOING] != 0.0
        share = worst_of_device(devices[i], going, new, off, device_at(net, i))
        moving = moving or going
        if not going:
            share *= LANDED if devices[i][D_AT_END] != 0.0 else AT_REST
        most = max(most, share)
    for b in range(len(bodies)):
        if new[2 * b] <= 0.0 or new[2 * b + 1] <= 0.0:
            return IMPOSSIBLE
        share = abs(off[2 * b] / new[2 * b])
        if bodies[b][B_ISO] == 0.0:
            share = max(share, abs(off[2 * b + 1] / new[2 * b + 1]))
        most = max(most, share if moving else AT_REST * share)
    # A state that is no number compares with nothing.
    return most if most < IMPOSSIBLE else IMPOSSIBLE


def worst_of_device(par: Row, going: bool, new: Row, off: Row, at: int) -> float:
    """The worst share of one device: pressures follow from energy and position together."""
    most, y, dy = 0.0, new[at + X_Y], 0.0
    if going:
        dy = off[at + X_Y]
        if not abs(new[at + X_V]) < TOO_FAST:
            return 2.0 * IMPOSSIBLE
        most = max(abs(dy) / par[S_END], abs(off[at + X_V]) / (abs(new[at + X_V]) + SLOWEST))
    for e in range(2):
        if par[HAS_D + e] == 0.0:
            continue
        grown = par[AREA_D + e] * (dy if e == 0 else -dy) / room_of(par, e, y)
        columns = 1 if par[ISO] != 0.0 else 2
        for j in range(columns):
            value = new[at + X_D + 4 * e + j]
            if not value > 0.0:
                return 2.0 * IMPOSSIBLE
            most = max(most, abs(off[at + X_D + 4 * e + j] / value - grown))
            if par[HAS_DN + e] != 0.0:
                value = new[at + X_DN + 4 * e + j]
                if not value > 0.0:
                    return 2.0 * IMPOSSIBLE
                most = max(most, abs(off[at + X_DN + 4 * e + j] / value))
    return most
