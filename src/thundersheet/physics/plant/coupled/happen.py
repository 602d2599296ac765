"""What happens within a step of a whole plant, and what it does: the first of all its events.

A piston sets off, turns, arrives, meets its cushion (`physics.events` finds these); a regulator
comes to hold its pressure or no longer can; the compressor cuts in or out. Plain floats.
"""

from __future__ import annotations

from thundersheet.physics.events import (
    ARRIVES,
    MEETS_CUSHION,
    NOT_IN_STEP,
    NOTHING,
    TURNS,
    crossing,
    ending,
    leaving,
    reaching,
    standing,
)
from thundersheet.physics.kernel import (
    AREA_D,
    CUSHION_AT,
    DEAD_EXHAUST,
    F_S,
    HAS_D,
    HAS_DN,
    HELD_AT,
    LID_J,
    LID_WAY,
    MASS,
    PD,
    PE,
    S_END,
    VOLUME_E,
    WAY_C,
    WAY_E,
    V,
    Y,
    lid_lever,
    net_force,
)
from thundersheet.physics.plant.coupled.columns import (
    AS_END,
    AS_K,
    AS_NEW,
    AS_Z,
    B_ISO,
    B_RT_A,
    B_VOLUME,
    C_HEAT_OUT,
    C_OUT,
    D_AT_END,
    D_BODY,
    D_CHANGED,
    D_COUNT,
    D_CUSHIONED,
    D_DROP,
    D_ENERGY,
    D_FULL,
    D_GOING,
    D_INDEX,
    D_MID,
    D_SET,
    D_SPEED,
    F_BY,
    F_DROP,
    F_SET,
    T_CUT_IN,
    T_CUT_OUT,
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
    counters_at,
    device_at,
)
from thundersheet.physics.plant.coupled.flows import LESS_1

CORNER, CUTS = 11, 12
NO_LIMIT = 1e30
NEAR_MARK = 1e-9


def first_event(net: Net, room: Room, h: float) -> tuple[float, int, int]:
    """Where in the step the first event lies (2: there is none), which, and whose."""
    at, event, whose = NOT_IN_STEP, NOTHING, 0
    devices, states = net[1], room[1]
    for i in range(len(devices)):
        par = devices[i]
        z, new, k, end = (
            states[AS_Z][i],
            states[AS_NEW][i],
            states[AS_K][i],
            states[AS_END][i],
        )
        going = int(par[D_GOING])
        if going != 0:
            this, kind = ending(par, going, h, int(par[D_CUSHIONED]), z, new, k, end)
        elif par[D_AT_END] != 0.0:
            this, kind = backing(par, h, z, new, k, end), TURNS
        else:
            this, kind = leaving(par, h, z, new, k, end)
        if this < at:
            at, event, whose = this, kind, i
    this = corner(net, room, h)
    if this < at:
        at, event, whose = this, CORNER, 0
    this = cut(net, room, h)
    if this < at:
        at, event, whose = this, CUTS, 0
    return at, event, whose


def backing(par: Row, h: float, z: Row, new: Row, k: Row, end: Row) -> float:
    """Where in the step a piston at its far end is driven back."""
    net = net_force(par, z[Y], z[PD], z[PE])
    later = net_force(par, z[Y], new[PD], new[PE])
    slope = h * (k[PD] * par[AREA_D] - k[PE] * par[AREA_D + 1])
    slope_later = h * (end[PD] * par[AREA_D] - end[PE] * par[AREA_D + 1])
    hold = par[F_S] * (1.0 + 1e-9) + 1e-9
    return crossing(max(hold + net, 0.0), hold + later, slope, slope_later)


def pressure_of(net: Net, room: Room, b: int, h: float) -> tuple[float, float, float, float]:
    """A body's pressure at both ends of the step, and by how much it would change in each."""
    body, work = net[0][b], room[0]
    at = 2 * b + 1
    per = LESS_1 / body[B_VOLUME]
    if body[B_ISO] != 0.0:
        at, per = 2 * b, body[B_RT_A] / body[B_VOLUME]
    return (
        per * work[W_X][at],
        per * work[W_NEW][at],
        per * h * work[W_F][at],
        per * h * work[W_END][at],
    )


def passing(net: Net, room: Room, b: int, h: float, mark: float) -> float:
    """Where in the step a body's pressure passes ``mark``, either way.

    One that stands at the mark is passing it already.
    """
    p, later, rise, rise_later = pressure_of(net, room, b, h)
    if abs(p - mark) < NEAR_MARK * mark:
        return NOT_IN_STEP
    way = 1.0 if p >= mark else -1.0
    return crossing(way * (p - mark), way * (later - mark), way * rise, way * rise_later)


def corner(net: Net, room: Room, h: float) -> float:
    """Where in the step a regulator begins or ceases to hold its pressure."""
    at = NOT_IN_STEP
    for b in range(len(net[0])):
        body = net[0][b]
        if body[F_BY] >= 0.0 and body[F_SET] < NO_LIMIT:
            mark = body[F_SET] + body[F_DROP]
            at = min(at, passing(net, room, int(body[F_BY]), h, mark))
    for i in range(len(net[1])):
        par = net[1][i]
        if par[D_SET] < NO_LIMIT:
            at = min(at, passing(net, room, int(par[D_BODY]), h, par[D_SET] + par[D_DROP]))
    return at


def cut(net: Net, room: Room, h: float) -> float:
    """Where in the step the root comes to the pressure that the compressor waits for."""
    clock = net[3]
    p, later, rise, rise_later = pressure_of(net, room, 0, h)
    at = NOT_IN_STEP
    if clock[T_CUT_OUT] < NO_LIMIT:
        mark = clock[T_CUT_OUT]
        at = crossing(max(mark - p, 0.0), mark - later, -rise, -rise_later)
    if clock[T_CUT_IN] > 0.0:
        mark = clock[T_CUT_IN]
        at = min(at, crossing(max(p - mark, 0.0), later - mark, rise, rise_later))
    return at


def middle_of(net: Net, room: Room, i: int, h: float) -> float:
    """Where in the step a piston passes the middle of its stroke for the first time."""
    par, states = net[1][i], room[1]
    half = 0.5 * par[S_END]
    if par[D_GOING] <= 0.0 or par[D_MID] >= 0.0 or states[AS_Z][i][Y] > half:
        return NOT_IN_STEP
    z, new = states[AS_Z][i], states[AS_NEW][i]
    return reaching(half, h, z, new, states[AS_K][i], states[AS_END][i])


def setting_off(par: Row, z: Row) -> int:
    """Which way a piston at rest sets off; at its far end only back."""
    if par[D_AT_END] == 0.0:
        return standing(par, z)
    if par[HELD_AT] == 0.0 and net_force(par, z[Y], z[PD], z[PE]) < -par[F_S]:
        return -1
    return 0


def act_on(net: Net, room: Room, t: float, event: int, i: int) -> None:
    """Do what an event brings to a device; its state is already that at the event."""
    par, z, x, at = net[1][i], room[1][AS_Z][i], room[0][W_X], device_at(net, i)
    if event == MEETS_CUSHION:
        meet_cushion(net, x, i)
        return
    if event == ARRIVES:
        arrive_at_end(par, t, x[at + X_V])
        x[at + X_Y], x[at + X_V] = par[S_END], 0.0
        par[D_AT_END] = 1.0
    elif event == TURNS:
        x[at + X_V] = 0.0
        if x[at + X_Y] < 1e-12:
            x[at + X_Y] = 0.0
    z[Y], z[V] = x[at + X_Y], 0.0
    par[D_GOING] = float(setting_off(par, z))
    if par[D_GOING] != 0.0:
        par[D_AT_END] = 0.0
    choose(par)


def arrive_at_end(par: Fill, t: float, v: float) -> None:
    """Write down the first hit."""
    if par[D_FULL] >= 0.0:
        return
    mass = par[MASS]
    if par[LID_WAY] != 0.0:
        mass += par[LID_J] * lid_lever(par, par[S_END])[0] ** 2
    par[D_FULL], par[D_SPEED], par[D_ENERGY] = t, v, 0.5 * mass * v * v


def meet_cushion(net: Net, x: Fill, i: int) -> None:
    """Change over to the cushion: the tube is cut off and its air booked as gone.

    Pressure and temperature go on.
    """
    par, at, tail = net[1][i], device_at(net, i), counters_at(net)
    depth = par[S_END] - x[at + X_Y]
    share = par[DEAD_EXHAUST] + par[AREA_D + 1] * depth
    share /= par[VOLUME_E] + par[AREA_D + 1] * depth
    x[tail + C_OUT] += (1.0 - share) * x[at + X_D + 4]
    x[tail + C_HEAT_OUT] += (1.0 - share) * x[at + X_D + 5]
    x[at + X_D + 4] *= share
    x[at + X_D + 5] *= share
    par[VOLUME_E] = par[DEAD_EXHAUST]
    if par[WAY_E] > 0.0:
        for c in range(6):
            par[WAY_E + c] = par[WAY_C + c]
    par[D_CUSHIONED] = 1.0


def cushion_due(par: Row, y: float) -> bool:
    """Whether a piston stands in its cushion without having met it."""
    return par[D_CUSHIONED] == 0.0 and y >= par[CUSHION_AT]


def choose(par: Fill) -> None:
    """Which of a device's states move: what `linear` solves for, in its order."""
    count = 0
    for e in range(2):
        if par[HAS_D + e] == 0.0:
            continue
        first = X_DN + 4 * e if par[HAS_DN + e] != 0.0 else X_D + 4 * e
        for c in range(first, X_D + 4 * e + 2):
            par[D_INDEX + count] = float(c)
            count += 1
    if par[D_GOING] != 0.0:
        par[D_INDEX + count], par[D_INDEX + count + 1] = float(X_Y), float(X_V)
        count += 2
    par[D_COUNT], par[D_CHANGED] = float(count), 1.0
