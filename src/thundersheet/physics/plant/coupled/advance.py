"""A whole plant from now until the clock's next stop: steps strung together, events acted on.

In come the rows of `columns`, out goes why it stopped: the time is come, the pressure that the
compressor waits for, a full sheet of samples, or enough steps for the caller to have a look.
Plain floats, interpreted or compiled.
"""

from __future__ import annotations

from thundersheet.physics.events import hermite
from thundersheet.physics.kernel import (
    AREA_D,
    OPEN_AT,
    PD,
    PE,
    S_END,
    VOLUME_D,
    VOLUME_E,
)
from thundersheet.physics.plant.coupled.columns import (
    A_ON,
    AS_END,
    AS_K,
    AS_NEW,
    AS_Z,
    B_P,
    D_BODY,
    D_FULL,
    D_GOING,
    D_LOW,
    D_MID,
    D_OUT,
    D_START,
    F_BY,
    J_LOW,
    J_OPEN,
    T_EVERY,
    T_FILLED,
    T_GRID,
    T_LONGEST,
    T_MOST,
    T_NOW,
    T_REFUSED,
    T_STEP,
    T_STEPS,
    T_TOLERANCE,
    T_UNTIL,
    W_END,
    W_F,
    W_NEW,
    W_X,
    X_TOOK,
    X_V,
    X_Y,
    Fill,
    Net,
    Room,
    Row,
    Rows,
    device_at,
)
from thundersheet.physics.plant.coupled.flows import spread, stand
from thundersheet.physics.plant.coupled.happen import (
    CORNER,
    CUTS,
    act_on,
    first_event,
    middle_of,
)
from thundersheet.physics.plant.coupled.stride import IMPOSSIBLE, attempt_stride, rates_at

TIME_IS_COME, CUT_POINT, SHEET_IS_FULL, ENOUGH_STEPS, TOO_SMALL = range(5)
SHORT = 1e-3
"""Events are looked up in steps no longer than this: in longer ones air has evened out, and no
polynomial through both ends says when."""
SMALLEST = 1e-8
AFTER_EVENT = 5e-4
MOVING_LONGEST = 0.02
PER_DEVICE = 5


def shortest(net: Net, room: Room, h: float) -> float:
    """The step ``h`` cut to end at break points and not to run far past a stop."""
    devices, clock, x, t = net[1], net[3], room[0][W_X], net[3][T_NOW]
    until = clock[T_UNTIL]
    h = min(h, clock[T_LONGEST])
    for i in range(len(devices)):
        par, at = devices[i], device_at(net, i)
        if t < par[OPEN_AT] and par[OPEN_AT] < until:
            until = par[OPEN_AT]
        if devices[i][D_GOING] != 0.0:
            h = min(h, MOVING_LONGEST)
            v, room_left = x[at + X_V], 0.0
            if v > 0.0:
                room_left = par[S_END] - x[at + X_Y] + 0.25 * par[VOLUME_E] / par[AREA_D + 1]
                h = min(h, room_left / v)
            elif v < 0.0:
                room_left = x[at + X_Y] + 0.25 * par[VOLUME_D] / par[AREA_D]
                h = min(h, -room_left / v)
    if t + h * 1.001 >= until:
        h = until - t
    return h


def growth_of(clock: Fill, error: float) -> float:
    """By how much the next step may be longer; behind a refused one it does not grow."""
    grown = 5.0 if error < 1e-3 else max(0.1, 0.9 * error ** (-0.25))
    if error <= 1.0 and clock[T_REFUSED] != 0.0:
        grown = min(grown, 1.0)
    clock[T_REFUSED] = 1.0 if error > 1.0 else 0.0
    return grown


def follow(net: Net, t: float) -> None:
    """Note first motions and lowest pressures."""
    devices, jets = net[1], net[2]
    for i in range(len(devices)):
        dev = devices[i]
        if dev[D_GOING] > 0.0 and dev[D_START] < 0.0:
            dev[D_START] = t
        if dev[D_FULL] < 0.0:
            dev[D_LOW] = min(dev[D_LOW], net[0][int(dev[D_BODY])][B_P])
    for j in range(len(jets)):
        if jets[j][J_OPEN] != 0.0:
            jets[j][J_LOW] = min(jets[j][J_LOW], net[0][int(jets[j][F_BY])][B_P])


def note_middles(net: Net, room: Room, t: float, h: float, at: float) -> None:
    """Note the pistons that pass their middle before ``at`` in the step."""
    for i in range(len(net[1])):
        middle = middle_of(net, room, i, h)
        if middle <= min(at, 1.0):
            net[1][i][D_MID] = t + middle * h


def straight(room: Room, i: int, part: float) -> float:
    """One column of the state within the step, straight: air may even out faster than that."""
    a, b = room[0][W_X][i], room[0][W_NEW][i]
    return a + part * (b - a)


def bent(room: Room, i: int, h: float, part: float) -> float:
    """One column of the state within the step, as the motion of a piston."""
    work = room[0]
    return hermite(work[W_X][i], work[W_NEW][i], h * work[W_F][i], h * work[W_END][i], part)


def samples(net: Net, room: Room, sheet: Rows, h: float, at: float) -> None:
    """Write the samples that lie within the step up to ``at``; the sheet has room for them."""
    clock = net[3]
    if clock[T_EVERY] <= 0.0:
        return
    now = clock[T_NOW]
    while clock[T_GRID] <= now + at * h + 1e-12:
        part = min(max((clock[T_GRID] - now) / h, 0.0), 1.0)
        sample_at(net, room, sheet[int(clock[T_FILLED])], clock[T_GRID], h, part)
        clock[T_FILLED] += 1.0
        clock[T_GRID] += clock[T_EVERY]


def lines_left(clock: Row, sheet: Rows) -> float:
    """How many more samples the sheet takes, one kept for the rounding of a step's end."""
    return len(sheet) - clock[T_FILLED] - 2.0


def sample_at(net: Net, room: Room, line: Fill, t: float, h: float, part: float) -> None:
    """One sample: time, bodies' pressure and R T, devices' motion, chambers and flow, compressor.

    Motion is seen by the stroke out.
    """
    bodies, devices = net[0], net[1]
    line[0], c = t, 1
    for b in range(len(bodies)):
        mass, energy = straight(room, 2 * b, part), straight(room, 2 * b + 1, part)
        line[c], line[c + 1] = stand(bodies[b], mass, energy)
        c += 2
    z, new = room[1][AS_Z], room[1][AS_NEW]
    for i in range(len(devices)):
        at = device_at(net, i)
        y, v = straight(room, at + X_Y, part), straight(room, at + X_V, part)
        if devices[i][D_GOING] != 0.0:
            y, v = bent(room, at + X_Y, h, part), bent(room, at + X_V, h, part)
        drive = z[i][PD] + part * (new[i][PD] - z[i][PD])
        exhaust = z[i][PE] + part * (new[i][PE] - z[i][PE])
        if devices[i][D_OUT] == 0.0:
            y, v = devices[i][S_END] - y, -v
            drive, exhaust = exhaust, drive
        line[c], line[c + 1], line[c + 2], line[c + 3] = y, v, drive, exhaust
        flow_now, flow_then = room[0][W_F][at + X_TOOK], room[0][W_END][at + X_TOOK]
        line[c + 4] = flow_now + part * (flow_then - flow_now)
        c += PER_DEVICE
    line[c] = net[3][A_ON]


def go_to(net: Net, room: Room, h: float, at: float) -> None:
    """Make the state at ``at`` within the step the present one."""
    work, states = room[0], room[1]
    x, new, f, end = work[W_X], work[W_NEW], work[W_F], work[W_END]
    if at >= 1.0:
        for i in range(len(x)):
            x[i], f[i] = new[i], end[i]
        for d in range(len(net[1])):
            for c in range(10):
                states[AS_Z][d][c] = states[AS_NEW][d][c]
                states[AS_K][d][c] = states[AS_END][d][c]
        return
    for i in range(len(x)):
        x[i] = hermite(x[i], new[i], h * f[i], h * end[i], at)
    for d in range(len(net[1])):
        spread(net[1][d], int(net[1][d][D_GOING]), x, device_at(net, d), states[AS_Z][d])


def advance(net: Net, room: Room, sheet: Rows) -> int:
    """Go on until something that the caller has to know; why it stopped."""
    clock = net[3]
    begun, stale, why = clock[T_STEPS], True, -1
    while True:
        t = clock[T_NOW]
        if stale:
            rates_at(net, room, t, room[0][W_X], room[0][W_F], not stale)
            stale = False
        follow(net, t)
        if t >= clock[T_UNTIL]:
            why = TIME_IS_COME
        elif clock[T_STEPS] - begun >= clock[T_MOST]:
            why = ENOUGH_STEPS
        elif clock[T_EVERY] > 0.0:
            if lines_left(clock, sheet) < 1.0:
                why = SHEET_IS_FULL
            else:
                clock[T_STEP] = min(clock[T_STEP], lines_left(clock, sheet) * clock[T_EVERY])
        if why >= 0:
            return why
        h = shortest(net, room, clock[T_STEP])
        error = attempt_stride(net, room, t, h) / clock[T_TOLERANCE]
        clock[T_STEPS] += 1.0
        grown = growth_of(clock, error)
        if error > 1.0 and h > SMALLEST:
            clock[T_STEP] = h * grown
            continue
        if not error < IMPOSSIBLE:
            return TOO_SMALL
        at, event, whose = first_event(net, room, h)
        if at <= 1.0 and h > SHORT * 1.001:
            clock[T_STEP] = max(0.9 * at * h, SHORT)
            continue
        note_middles(net, room, t, h, at)
        samples(net, room, sheet, h, min(at, 1.0))
        go_to(net, room, h, at)
        if at > 1.0:
            clock[T_NOW] = clock[T_UNTIL] if clock[T_UNTIL] - (t + h) < 1e-12 else t + h
            clock[T_STEP] = h * grown
            continue
        stale = True
        clock[T_NOW] = t + at * h
        clock[T_STEP] = min(h, AFTER_EVENT)
        if event == CUTS:
            why = CUT_POINT
        elif event != CORNER:
            act_on(net, room, clock[T_NOW], event, whose)
