"""The Jacobian of a whole plant and the solution of its linear equations, device by device.

Devices touch each other only through their body of air. So each has a block of its own (by
differences of `flows.device_rates`), bordered by two columns: how it answers to its body. What
is left over, two equations a body, is small. `split` makes and factors all this, `resolve` solves.
Plain floats, interpreted or compiled.
"""

from __future__ import annotations

from thundersheet.physics.kernel import opening
from thundersheet.physics.plant.coupled.columns import (
    AS,
    B_FIXED,
    B_ISO,
    B_RT_A,
    C_HEAT_IN,
    C_HEAT_OUT,
    C_OUT,
    COUNTERS,
    D_BODY,
    D_COUNT,
    D_INDEX,
    FLOWS,
    MOVING,
    O_GONE,
    O_HEAT,
    O_TOOK,
    O_TOOK_H,
    O_WENT,
    S_P,
    S_RT,
    W_1,
    W_TRY,
    W_X,
    X_TOOK,
    X_V,
    X_Y,
    Blocks,
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
    stand,
    take,
    try_device,
)

NUDGED = 1e-7
"""Differences of a state: a share of it. Smaller ones lose digits, larger ones meet bends."""


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
    bodies, devices, pars = net[0], net[1], net[2]
    work, states, stands = room[0], room[1], room[2]
    block, reach, tell, direct = room[3][i], room[4][i], room[5][i], room[6][i]
    dev, x, base, tried = devices[i], work[W_X], work[W_1], work[W_TRY]
    b, at, count = int(dev[D_BODY]), device_at(net, i), int(dev[D_COUNT])
    up, rt_up, s = stands[S_P][b], stands[S_RT][b], opening(pars[i], t)
    o, o_base = states[AS][0], states[AS][1]
    try_device(net, i, s, up, rt_up, x, states, base, o_base)
    for j in range(count):
        c = int(dev[D_INDEX + j])
        held = x[at + c]
        x[at + c] = held + nudge(x, at, c)
        per = 1.0 / (x[at + c] - held)
        try_device(net, i, s, up, rt_up, x, states, tried, o)
        x[at + c] = held
        for r in range(count):
            q = int(dev[D_INDEX + r])
            block[r][j] = (base[q] - tried[q]) * per
        block[j][j] += 1.0 / own
        for q in range(FLOWS):
            tell[q][j] = (o[q] - o_base[q]) * per
    factor(block, count)
    body = bodies[b]
    for j in range(2):
        for q in range(FLOWS):
            direct[q][j] = 0.0
        for r in range(count):
            reach[j][r] = 0.0
        if body[B_FIXED] != 0.0 or (j == 1 and body[B_ISO] != 0.0):
            continue
        step = NUDGED * x[2 * b + j]
        up, rt_up = stand(body, x[2 * b] + step * (1 - j), x[2 * b + 1] + step * j)
        try_device(net, i, s, up, rt_up, x, states, tried, o)
        for r in range(count):
            q = int(dev[D_INDEX + r])
            reach[j][r] = (tried[q] - base[q]) / step
        unwind(block, count, reach[j])
        for q in range(FLOWS):
            direct[q][j] = (o[q] - o_base[q]) / step
            for r in range(count):
                direct[q][j] += tell[q][r] * reach[j][r]


def split(net: Net, room: Room, t: float, own: float) -> None:
    """Make and factor 1/own - J at the state ``room[0][W_X]``."""
    bodies, devices = net[0], net[1]
    work, stands, middle, counters = room[0], room[2], room[7], room[8]
    x, base, tried = work[W_X], work[W_1], work[W_TRY]
    n, first, tail = 2 * len(bodies), jets_at(net), counters_at(net)
    rest = tail + COUNTERS - first
    body_rates(net, x, base, stands)
    for c in range(n):
        held = x[c]
        x[c] = held * (1.0 + NUDGED)
        body_rates(net, x, tried, stands)
        per = 1.0 / (x[c] - held)
        x[c] = held
        for r in range(n):
            middle[r][c] = (base[r] - tried[r]) * per
        for r in range(rest):
            counters[r][c] = (tried[first + r] - base[first + r]) * per
        middle[c][c] += 1.0 / own
    body_rates(net, x, base, stands)
    for i in range(len(devices)):
        split_device(net, room, i, t, own)
        b, direct = int(devices[i][D_BODY]), room[6][i]
        body = bodies[b]
        if body[B_FIXED] != 0.0:
            continue
        for j in range(2):
            middle[2 * b][2 * b + j] += direct[O_TOOK][j]
            if body[B_ISO] != 0.0:
                middle[2 * b + 1][2 * b + j] += body[B_RT_A] / LESS_1 * direct[O_TOOK][j]
            else:
                middle[2 * b + 1][2 * b + j] += direct[O_TOOK_H][j]
    factor(middle, n)


def told(tell: Rows, q: int, count: int, u: Row) -> float:
    """How a device's flow ``q`` answers to the change ``u`` of its states."""
    sum_ = 0.0
    for j in range(count):
        sum_ += tell[q][j] * u[j]
    return sum_


def resolve(net: Net, room: Room, own: float, u: Fill) -> None:
    """Replace the right-hand side ``u`` over the whole state by the solution, after `split`."""
    bodies, devices = net[0], net[1]
    n, first, tail = 2 * len(bodies), jets_at(net), counters_at(net)
    packed = room[1][AS]
    for i in range(len(devices)):
        dev, mine = devices[i], packed[i + 2]
        b, at, count, tell = int(dev[D_BODY]), device_at(net, i), int(dev[D_COUNT]), room[5][i]
        for j in range(count):
            mine[j] = u[at + int(dev[D_INDEX + j])]
        unwind(room[3][i], count, mine)
        took = told(tell, O_TOOK, count, mine)
        take(bodies[b], b, took, told(tell, O_TOOK_H, count, mine), u, tail)
        u[at + X_TOOK] += took
        u[tail + C_OUT] += told(tell, O_GONE, count, mine)
        u[tail + C_HEAT_IN] += told(tell, O_HEAT, count, mine)
        u[tail + C_HEAT_OUT] += told(tell, O_WENT, count, mine)
    unwind(room[7], n, u)
    for i in range(len(devices)):
        finish_device(net, room[4][i], room[6][i], i, packed[i + 2], own, u)
    for r in range(tail + COUNTERS - first):
        for c in range(n):
            u[first + r] += room[8][r][c] * u[c]
        u[first + r] *= own


def finish_device(net: Net, reach: Rows, direct: Rows, i: int, mine: Row, own: float,
                  u: Fill) -> None:  # fmt: skip
    """Add to a device's solution what its body's does to it, and book it."""
    dev, tail = net[1][i], counters_at(net)
    b, at, count = int(dev[D_BODY]), device_at(net, i), int(dev[D_COUNT])
    body, mass, energy = net[0][b], u[2 * b], u[2 * b + 1]
    for j in range(MOVING):
        u[at + j] = 0.0
    for j in range(count):
        u[at + int(dev[D_INDEX + j])] = mine[j] + reach[0][j] * mass + reach[1][j] * energy
    took = direct[O_TOOK][0] * mass + direct[O_TOOK][1] * energy
    heat = direct[O_TOOK_H][0] * mass + direct[O_TOOK_H][1] * energy
    u[at + X_TOOK] = own * (u[at + X_TOOK] + took)
    if body[B_ISO] != 0.0:
        u[tail + C_HEAT_IN] += heat - body[B_RT_A] / LESS_1 * took
    u[tail + C_OUT] += direct[O_GONE][0] * mass + direct[O_GONE][1] * energy
    u[tail + C_HEAT_IN] += direct[O_HEAT][0] * mass + direct[O_HEAT][1] * energy
    u[tail + C_HEAT_OUT] += direct[O_WENT][0] * mass + direct[O_WENT][1] * energy


def blocks_of(devices: int) -> tuple[Blocks, Blocks, Blocks, Blocks]:
    """Empty blocks of the Jacobian of so many devices, as lists: own, reach, tell, direct."""
    return (
        [[[0.0] * MOVING for _ in range(MOVING)] for _ in range(devices)],
        [[[0.0] * MOVING for _ in range(2)] for _ in range(devices)],
        [[[0.0] * MOVING for _ in range(FLOWS)] for _ in range(devices)],
        [[[0.0] * 2 for _ in range(FLOWS)] for _ in range(devices)],
    )
