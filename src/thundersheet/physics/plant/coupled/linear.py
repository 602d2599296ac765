"""The Jacobian of a whole plant and the solution of its linear equations, device by device.

Devices touch each other only through their body of air. So each has a block of its own (by
differences of `flows.device_rates`), bordered by two columns: how it answers to its body. What
is left over, two equations a body, is small. `split` makes and factors all this, `resolve` solves.
Plain floats, interpreted or compiled.
"""

from __future__ import annotations

from thundersheet.physics.kernel import OPEN_AT, RAMP_S, opening
from thundersheet.physics.plant.coupled.columns import (
    AS,
    B_FIXED,
    B_ISO,
    B_P,
    B_RT,
    B_RT_A,
    C_HEAT_IN,
    COUNTERS,
    D_BODY,
    D_CHANGED,
    D_COUNT,
    D_GOING,
    D_INDEX,
    FLOWS,
    G_DIRECT,
    G_RAW,
    G_RAW_DIRECT,
    G_RAW_REACH,
    G_REACH,
    G_SEEN,
    G_TELL,
    MOVING,
    O_TOOK,
    O_TOOK_H,
    W_1,
    W_DRIFT,
    W_TRY,
    W_X,
    X_TOOK,
    X_V,
    X_Y,
    Fill,
    Net,
    Room,
    Row,
    Rows,
    counters_at,
    device_at,
    jets_at,
)
from thundersheet.physics.plant.coupled.flows import (
    LESS_1,
    body_rates,
    book,
    stand,
    take,
    try_device,
)

NUDGED = 1e-7
"""Differences of a state: a share of it. Smaller ones lose digits, larger ones meet bends."""


SEEN_NEAR = 1e-3
"""Share of a state; the flow law's steep line is five times as wide."""


def nudge(x: Fill, at: int, c: int) -> float:
    """By how much to change a device's state for its differences."""
    if c == X_Y:
        return NUDGED * 0.1
    if c == X_V:
        return NUDGED * (abs(x[at + c]) + 0.1)
    return NUDGED * max(abs(x[at + c]), 1e-12)


def factor(a: Rows, n: int) -> None:
    """Make of the square ``a`` its triangles, the pivots' reciprocals on the diagonal.

    Without exchange of rows: with tube, chamber, piston in this order each pivot is a body's own
    leaving rate, or a mass, and never near nought while 1/h is among it.
    """
    for i in range(n):
        row = a[i]
        pivot = 1.0 / row[i]
        row[i] = pivot
        for r in range(i + 1, n):
            below = a[r]
            if below[i] != 0.0:
                share = below[i] * pivot
                below[i] = share
                for c in range(i + 1, n):
                    below[c] -= share * row[c]


def unwind(a: Rows, n: int, u: Fill) -> None:
    """Replace the first ``n`` of ``u`` by the solution, after `factor`."""
    for r in range(1, n):
        row, sum_ = a[r], u[r]
        for c in range(r):
            sum_ -= row[c] * u[c]
        u[r] = sum_
    for r in range(n - 1, -1, -1):
        row, sum_ = a[r], u[r]
        for c in range(r + 1, n):
            sum_ -= row[c] * u[c]
        u[r] = sum_ * row[r]


def split_device(net: Net, room: Room, i: int, t: float, own: float) -> None:
    """Make a device's block of 1/own - J and factor it; its answers to and from its body."""
    par, block = net[1][i], room[2][i]
    if t < par[OPEN_AT] or par[D_GOING] != 0.0 or changed(net, room, i):
        differences(net, room, i, t)
        par[D_CHANGED] = 0.0
    count = int(par[D_COUNT])
    for r in range(count):
        for c in range(count):
            block[r][c] = block[G_RAW + r][c]
        block[r][r] += 1.0 / own
    factor(block, count)
    for j in range(2):
        reach = block[G_REACH + j]
        for r in range(count):
            reach[r] = block[G_RAW_REACH + j][r]
        unwind(block, count, reach)
        for q in range(FLOWS):
            direct = block[G_RAW_DIRECT + q][j]
            for r in range(count):
                direct += block[G_TELL + q][r] * reach[r]
            block[G_DIRECT + q][j] = direct


def changed(net: Net, room: Room, i: int) -> bool:
    """Whether a device at rest has moved away from where its differences were made.

    The method keeps its order with any Jacobian; only how stiff a device is has to be about right.
    """
    par, seen, x, at = net[1][i], room[2][i][G_SEEN], room[0][W_X], device_at(net, i)
    b = int(par[D_BODY])
    far = par[D_CHANGED] != 0.0
    for j in range(X_Y):
        far = far or abs(x[at + j] - seen[j]) > SEEN_NEAR * abs(seen[j])
    for j in range(2):
        far = far or abs(x[2 * b + j] - seen[X_Y + j]) > SEEN_NEAR * abs(seen[X_Y + j])
    if far:
        for j in range(X_Y):
            seen[j] = x[at + j]
        seen[X_Y], seen[X_Y + 1] = x[2 * b], x[2 * b + 1]
    return far


def differences(net: Net, room: Room, i: int, t: float) -> None:
    """How a device's rates and flows change with each of its states and with its body's two.

    While its valve opens also how they change by themselves: they are linear in the opening.
    """
    par, work, states = net[1][i], room[0], room[1]
    x, base, tried = work[W_X], work[W_1], work[W_TRY]
    b, at, count = int(par[D_BODY]), device_at(net, i), int(par[D_COUNT])
    body, s = net[0][b], opening(par, t)
    o, o_base = states[AS][0], states[AS][1]
    # In the order: as it is, its own states, its body's mass, its body's energy, wide open.
    for j in range(-1, count + (3 if t < par[OPEN_AT] else 2)):
        own = 0 <= j < count
        a = at + int(par[D_INDEX + j]) if own else 2 * b + (1 if j == count + 1 else 0)
        up, rt_up, held, step = body[B_P], body[B_RT], x[a], 1.0
        if own:
            x[a] = held + nudge(x, at, a - at)
            step = x[a] - held
        elif j == count or j == count + 1:
            if body[B_FIXED] == 0.0 and (j == count or body[B_ISO] == 0.0):
                x[a] = held * (1.0 + NUDGED)
                step = x[a] - held
            up, rt_up = stand(body, x[2 * b], x[2 * b + 1])
        f, flows = (base, o_base) if j < 0 else (tried, o)
        opened = s + 1.0 if j == count + 2 else s
        try_device(net, i, opened, up, rt_up, x, states, f, flows)
        x[a] = held
        if j == count + 2:
            write_drift(net, room, i)
        elif j >= 0:
            write_column(room, par, i, at, j, step)


def write_drift(net: Net, room: Room, i: int) -> None:
    """Write how a device's rates and flows change by themselves, per second, as its valve opens."""
    par, at, drift = net[1][i], device_at(net, i), room[0][W_DRIFT]
    base, tried = room[0][W_1], room[0][W_TRY]
    o, o_base = room[1][AS][0], room[1][AS][1]
    b = int(par[D_BODY])
    for j in range(int(par[D_COUNT])):
        q = at + int(par[D_INDEX + j])
        drift[q] = (tried[q] - base[q]) / par[RAMP_S]
    for q in range(FLOWS):
        o[q] = (o[q] - o_base[q]) / par[RAMP_S]
    drift[at + X_TOOK] = o[O_TOOK]
    take(net[0][b], b, o[O_TOOK], o[O_TOOK_H], drift, counters_at(net))
    book(o, drift, counters_at(net))


def write_column(room: Room, par: Row, i: int, at: int, j: int, step: float) -> None:
    """Write one column of differences: of a device's own states, or behind these its body's.

    The block gets -J, its body's columns J itself.
    """
    count = int(par[D_COUNT])
    block, own = room[2][i], j < count
    base, tried = room[0][W_1], room[0][W_TRY]
    o, o_base = room[1][AS][0], room[1][AS][1]
    for r in range(count):
        q = at + int(par[D_INDEX + r])
        change = (tried[q] - base[q]) / step
        if own:
            block[G_RAW + r][j] = -change
        else:
            block[G_RAW_REACH + j - count][r] = change
    for q in range(FLOWS):
        change = (o[q] - o_base[q]) / step
        if own:
            block[G_TELL + q][j] = change
        else:
            block[G_RAW_DIRECT + q][j - count] = change


def split_bodies(net: Net, room: Room, own: float) -> None:
    """The bodies' own block of 1/own - J, and how jets and counters answer to them."""
    work, middle = room[0], room[3]
    x, base, tried = work[W_X], work[W_1], work[W_TRY]
    n, first = 2 * len(net[0]), jets_at(net)
    for c in range(-1, n):
        held = x[max(c, 0)]
        if c >= 0:
            x[c] = held * (1.0 + NUDGED)
        body_rates(net, x, base if c < 0 else tried)
        if c < 0:
            continue
        step = x[c] - held
        x[c] = held
        for r in range(n):
            middle[r][c] = (base[r] - tried[r]) / step
        for r in range(counters_at(net) + COUNTERS - first):
            middle[n + r][c] = (tried[first + r] - base[first + r]) / step
        middle[c][c] += 1.0 / own
    for b in range(len(net[0])):
        net[0][b][B_P], net[0][b][B_RT] = stand(net[0][b], x[2 * b], x[2 * b + 1])


def split(net: Net, room: Room, t: float, own: float) -> None:
    """Make and factor 1/own - J at the state ``room[0][W_X]``."""
    bodies, devices, middle, drift = net[0], net[1], room[3], room[0][W_DRIFT]
    for i in range(len(drift)):
        drift[i] = 0.0
    split_bodies(net, room, own)
    for i in range(len(devices)):
        split_device(net, room, i, t, own)
        b, block = int(devices[i][D_BODY]), room[2][i]
        body = bodies[b]
        if body[B_FIXED] != 0.0:
            continue
        for j in range(2):
            took, heat = block[G_DIRECT + O_TOOK][j], block[G_DIRECT + O_TOOK_H][j]
            if body[B_ISO] != 0.0:
                heat = body[B_RT_A] / LESS_1 * took
            middle[2 * b][2 * b + j] += took
            middle[2 * b + 1][2 * b + j] += heat
    factor(middle, 2 * len(bodies))


def tell_flows(block: Rows, first: int, count: int, u: Row, o: Fill) -> None:
    """How a device's flows answer to the change ``u``, by the rows of its block from ``first``."""
    for q in range(FLOWS):
        sum_ = 0.0
        for j in range(count):
            sum_ += block[first + q][j] * u[j]
        o[q] = sum_


def resolve(net: Net, room: Room, own: float, u: Fill) -> None:
    """Replace the right-hand side ``u`` over the whole state by the solution, after `split`."""
    bodies, devices, middle, o = net[0], net[1], room[3], room[1][AS][0]
    n, first, tail = 2 * len(bodies), jets_at(net), counters_at(net)
    for i in range(len(devices)):
        par, mine, block = devices[i], room[1][AS][i + 2], room[2][i]
        b, at, count = int(par[D_BODY]), device_at(net, i), int(par[D_COUNT])
        for j in range(count):
            mine[j] = u[at + int(par[D_INDEX + j])]
        unwind(block, count, mine)
        tell_flows(block, G_TELL, count, mine, o)
        take(bodies[b], b, o[O_TOOK], o[O_TOOK_H], u, tail)
        u[at + X_TOOK] += o[O_TOOK]
        book(o, u, tail)
    unwind(middle, n, u)
    for i in range(len(devices)):
        finish_device(net, room, i, own, u)
    for r in range(tail + COUNTERS - first):
        for c in range(n):
            u[first + r] += middle[n + r][c] * u[c]
        u[first + r] *= own


def finish_device(net: Net, room: Room, i: int, own: float, u: Fill) -> None:
    """Add to a device's solution what its body's does to it, and book it."""
    par, tail, block = net[1][i], counters_at(net), room[2][i]
    o, pair, mine = room[1][AS][0], room[1][AS][1], room[1][AS][i + 2]
    b, at, count = int(par[D_BODY]), device_at(net, i), int(par[D_COUNT])
    pair[0], pair[1] = u[2 * b], u[2 * b + 1]
    for j in range(MOVING):
        u[at + j] = 0.0
    for j in range(count):
        with_body = block[G_REACH][j] * pair[0] + block[G_REACH + 1][j] * pair[1]
        u[at + int(par[D_INDEX + j])] = mine[j] + with_body
    tell_flows(block, G_DIRECT, 2, pair, o)
    u[at + X_TOOK] = own * (u[at + X_TOOK] + o[O_TOOK])
    if net[0][b][B_ISO] != 0.0:
        u[tail + C_HEAT_IN] += o[O_TOOK_H] - net[0][b][B_RT_A] / LESS_1 * o[O_TOOK]
    book(o, u, tail)
