"""One step of a whole plant, linearly implicit: RODAS, of order 4(3), with the blocks of `linear`.

All steps are implicit, since somewhere in a plant some air has always evened out; L-stable, so that
quiet time is passed in seconds. Sums that flows keep (mass, and energy with what came and went) are
kept to rounding. Plain floats, interpreted or compiled.
"""

from __future__ import annotations

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
    W_DRIFT,
    W_END,
    W_F,
    W_NEW,
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

# RODAS of Hairer & Wanner (Solving ODE II, IV.10), from its authors' published coefficients: shares
# of earlier stages in each stage's state and right-hand side, and where in the step it lies.
OWN = 0.25
STATES = (
    (0.0, 0.0, 0.0, 0.0, 0.0),
    (1.544, 0.0, 0.0, 0.0, 0.0),
    (0.9466785280815826, 0.2557011698983284, 0.0, 0.0, 0.0),
    (3.314825187068521, 2.896124015972201, 0.9986419139977817, 0.0, 0.0),
    (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950, 0.0),
    (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950, 1.0),
)
EARLIER = (
    (0.0, 0.0, 0.0, 0.0, 0.0),
    (-5.6688, 0.0, 0.0, 0.0, 0.0),
    (-2.430093356833875, -0.2063599157091915, 0.0, 0.0, 0.0),
    (-0.1073529058151375, -9.594562251023355, -20.47028614809616, 0.0, 0.0),
    (7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160, 0.0),
    (8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136,
     -6.058818238834054),
)  # fmt: skip
TIMES = (0.0, 0.386, 0.21, 0.63, 1.0, 1.0, 1.0)
DRIFTS = (0.25, -0.1043, 0.1035, -0.0362, 0.0, 0.0)
STAGES = 6

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
    x, new, f, drift = work[W_X], work[W_NEW], work[W_F], work[W_DRIFT]
    size, own, error = len(x), OWN * h, 0.0
    split(net, room, t, own)
    for stage in range(STAGES + 1):
        last = stage == STAGES
        u = work[W_END] if last else work[W_1 + stage]
        if stage == 0:
            for i in range(size):
                u[i] = f[i]
        else:
            rates_at(net, room, t + TIMES[stage] * h, new, u, stage > 0)
        if last:
            break
        for i in range(size):
            u[i] += DRIFTS[stage] * h * drift[i]
        for j in range(stage):
            share, before = EARLIER[stage][j] / h, work[W_1 + j]
            for i in range(size):
                u[i] += share * before[i]
        resolve(net, room, own, u)
        if stage < STAGES - 1:
            make_state(work, stage + 1)
        else:
            # What the last stage adds is the error of the method within, of third order.
            for i in range(size):
                new[i] += u[i]
            error = worst(net, new, u)
            if error >= IMPOSSIBLE:
                break
    return error


def make_state(work: Rows, stage: int) -> None:
    """The state at which a stage's rates are taken, from the stages before it."""
    x, new = work[W_X], work[W_NEW]
    for i in range(len(x)):
        new[i] = x[i]
    for j in range(stage):
        share, before = STATES[stage][j], work[W_1 + j]
        for i in range(len(x)):
            new[i] += share * before[i]


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
