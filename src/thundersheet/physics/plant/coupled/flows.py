"""The rates of a whole plant: every stroke by `kernel`, and what flows between the bodies of air.

In come a state and what stands in the rows of `columns`, out go its rates. Here stands only what a
stroke does not know: that its supply is a body of air with a pressure and a temperature of its
own, and that what it takes is missing there. Plain floats, interpreted or compiled.
"""

from __future__ import annotations

from thundersheet.physics.kernel import (
    AREA_D,
    GAMMA,
    HAS_D,
    HAS_DN,
    HEAT_0,
    HEAT_1,
    HEAT_DN,
    ISO,
    P_A,
    P_S,
    PD,
    PDN,
    RHO_A,
    RHO_S,
    RT_A,
    S_END,
    VOLUME_D,
    VOLUME_DN,
    R,
    V,
    Y,
    flow,
    opening,
    rates,
)
from thundersheet.physics.plant.coupled.columns import (
    A_ON,
    A_P,
    A_Q0,
    A_Q1,
    A_RHO,
    A_RT,
    A_RT_IN,
    AS_TRY,
    AS_TRY_K,
    B_FIXED,
    B_HEAT,
    B_ISO,
    B_LEAK,
    B_P,
    B_RT,
    B_RT_A,
    B_VOLUME,
    C_HEAT_IN,
    C_HEAT_OUT,
    C_IN,
    C_OUT,
    COUNTERS,
    D_BODY,
    D_DROP,
    D_FED,
    D_GOING,
    D_SET,
    F_BY,
    F_DROP,
    F_SET,
    FLOWS,
    J_OPEN,
    O_GONE,
    O_HEAT,
    O_TOOK,
    O_TOOK_H,
    O_WENT,
    WAY,
    X_D,
    X_DN,
    X_TOOK,
    X_V,
    X_Y,
    Blocks,
    Fill,
    Net,
    Row,
    Rows,
    Tables,
    counters_at,
    device_at,
    jets_at,
)

LESS_1 = GAMMA - 1.0
CARRIES = GAMMA / LESS_1
"""cp T of a stream is this times its R T."""


def stand(body: Row, mass: float, energy: float) -> tuple[float, float]:
    """Pressure and R T of a body of air: p V = m R T = (gamma - 1) U."""
    if body[B_ISO] != 0.0:
        return mass * body[B_RT_A] / body[B_VOLUME], body[B_RT_A]
    return LESS_1 * energy / body[B_VOLUME], LESS_1 * energy / mass


def fed_with(most: float, drop: float, up: float) -> float:
    """What a path is fed with: min(set, upstream - what a regulator needs)."""
    return max(min(most, up - drop), 1.0)


def path_flow(row: Row, tables: Tables, up: float, rt_up: float, down: float,
              rt_down: float) -> float:  # fmt: skip
    """kg/s through what feeds a row.

    Through a regulator flows back only what stands above its upstream: what it relieves is little.
    """
    fed = fed_with(row[F_SET], row[F_DROP], up)
    if down > fed:
        fed = min(down, up)
    return flow(row, WAY, tables, 0, fed, fed / rt_up, down, down / rt_down)


def take(body: Row, b: int, mass: float, heat: float, f: Fill, tail: int) -> None:
    """Book ``mass`` and its enthalpy as leaving a body, per second; below zero as coming.

    An endless body is filled from outside with what it gives; the wall of one that keeps its
    temperature gives the heat that this needs.
    """
    if body[B_FIXED] != 0.0:
        f[tail + C_IN] += mass
        f[tail + C_HEAT_IN] += heat
        return
    f[2 * b] -= mass
    if body[B_ISO] == 0.0:
        f[2 * b + 1] -= heat
        return
    kept = body[B_RT_A] / LESS_1 * mass
    f[2 * b + 1] -= kept
    f[tail + C_HEAT_IN] += heat - kept


def body_rates(net: Net, x: Row, f: Fill) -> None:
    """Rates of all bodies, jets and counters, devices left out; where each body stands."""
    bodies, jets = net[0], net[2]
    tail = counters_at(net)
    for i in range(jets_at(net), tail + COUNTERS):
        f[i] = 0.0
    for b in range(len(bodies)):
        f[2 * b] = f[2 * b + 1] = 0.0
        bodies[b][B_P], bodies[b][B_RT] = stand(bodies[b], x[2 * b], x[2 * b + 1])
    for b in range(len(bodies)):
        if bodies[b][F_BY] >= 0.0:
            feed_body(net, b, f, tail)
        else:
            compress(net, b, f, tail)
        wear(net, b, f, tail)
    for j in range(len(jets)):
        if jets[j][J_OPEN] != 0.0:
            blow(net, j, f, tail)


def compress(net: Net, b: int, f: Fill, tail: int) -> None:
    """What the compressor brings to the root, at the temperature of its inlet."""
    root, air = net[0][b], net[3]
    if air[A_ON] == 0.0 or root[B_FIXED] != 0.0:
        return
    mass = max(air[A_Q0] + air[A_Q1] * root[B_P], 0.0)
    heat = CARRIES * air[A_RT_IN] * mass
    f[tail + C_IN] += mass
    f[tail + C_HEAT_IN] += heat
    take(root, b, -mass, -heat, f, tail)


def feed_body(net: Net, b: int, f: Fill, tail: int) -> None:
    """What comes to a body from the one that feeds it."""
    body, p, rt = net[0][b], net[0][b][B_P], net[0][b][B_RT]
    a = int(body[F_BY])
    come = path_flow(body, net[4], net[0][a][B_P], net[0][a][B_RT], p, rt)
    heat = CARRIES * (net[0][a][B_RT] if come >= 0.0 else rt) * come
    take(net[0][a], a, come, heat, f, tail)
    take(body, b, -come, -heat, f, tail)


def wear(net: Net, b: int, f: Fill, tail: int) -> None:
    """A body's leaks, and the heat of its wall: dQ/dt = G (T_amb - T)."""
    body, air, p, rt = net[0][b], net[3], net[0][b][B_P], net[0][b][B_RT]
    if body[B_LEAK] > 0.0 and p > air[A_P]:
        leak = flow(body, B_LEAK, net[4], 0, p, p / rt, air[A_P], air[A_RHO])
        give(body, b, leak, rt, f, tail)
    if body[B_ISO] == 0.0 and body[B_FIXED] == 0.0:
        warm = body[B_HEAT] * (body[B_RT_A] - rt) / R
        f[2 * b + 1] += warm
        f[tail + C_HEAT_IN] += warm


def blow(net: Net, j: int, f: Fill, tail: int) -> None:
    """What an open jet blows away."""
    jet, air, b = net[2][j], net[3], int(net[2][j][F_BY])
    p, rt = net[0][b][B_P], net[0][b][B_RT]
    blown = max(path_flow(jet, net[4], p, rt, air[A_P], air[A_RT]), 0.0)
    give(net[0][b], b, blown, rt, f, tail)
    f[jets_at(net) + j] = blown


def give(body: Row, b: int, mass: float, rt: float, f: Fill, tail: int) -> None:
    """Book ``mass`` as going from a body into the open."""
    heat = CARRIES * rt * mass
    f[tail + C_OUT] += mass
    f[tail + C_HEAT_OUT] += heat
    take(body, b, mass, heat, f, tail)


def gas(par: Row, x: Row, at: int, volume: float, z: Fill, c: int) -> None:
    """Pressure and density of one of a device's bodies of air."""
    z[c + 1] = x[at] / volume
    if par[ISO] != 0.0:
        z[c] = par[RT_A] * z[c + 1]
    else:
        z[c] = LESS_1 * x[at + 1] / volume


def room_of(par: Row, e: int, y: float) -> float:
    """The volume of the chamber on side ``e`` (0 drive, 1 exhaust), as the kernel has it."""
    depth = y if e == 0 else par[S_END] - y
    return max(par[VOLUME_D + e] + par[AREA_D + e] * depth, 1e-12)


def spread(par: Row, going: int, x: Row, at: int, z: Fill) -> None:
    """A device's state as the kernel has it."""
    z[Y] = x[at + X_Y]
    z[V] = x[at + X_V] if going != 0 else 0.0
    for e in range(2):
        c, n = PD + 2 * e, PDN + 2 * e
        if par[HAS_D + e] == 0.0:
            z[c], z[c + 1] = par[P_A], par[RHO_A]
            continue
        gas(par, x, at + X_D + 4 * e, room_of(par, e, z[Y]), z, c)
        if par[HAS_DN + e] != 0.0:
            gas(par, x, at + X_DN + 4 * e, par[VOLUME_DN + e], z, n)


def feed(par: Fill, z: Row, up: float, rt_up: float) -> None:
    """Set what stands before a device's valve, as `path_flow` has it."""
    if par[D_FED] == 0.0:
        par[P_S], par[RHO_S] = par[P_A], par[RHO_A]
        return
    fed = fed_with(par[D_SET], par[D_DROP], up)
    inside = z[PDN] if par[HAS_DN] != 0.0 else z[PD]
    if inside > fed:
        fed = min(inside, up)
    par[P_S], par[RHO_S] = fed, fed / rt_up


def side_flows(par: Row, e: int, z: Row, k: Fill, f: Fill, at: int, o: Fill) -> tuple[float, float]:
    """Mass and energy rates of one side from the kernel's; what came into it, kg/s and W.

    The kernel lets air in at ambient temperature; what a body's own differs by is added. ``o``
    gets heat and work.
    """
    c, n = PD + 2 * e, PDN + 2 * e
    swept = par[AREA_D + e] * (z[V] if e == 0 else -z[V])
    volume = room_of(par, e, z[Y])
    into = volume * k[c + 1] + z[c + 1] * swept
    f[at + X_D + 4 * e] = into
    energy = (volume * k[c] + z[c] * swept) / LESS_1
    f[at + X_D + 4 * e + 1] = energy
    depth = z[Y] if e == 0 else par[S_END] - z[Y]
    heat = (par[HEAT_0] + par[HEAT_1] * depth) * (par[RT_A] - z[c] / z[c + 1]) / LESS_1
    first, first_room, first_at = c, volume, at + X_D + 4 * e
    if par[HAS_DN + e] != 0.0:
        first, first_room, first_at = n, par[VOLUME_DN + e], at + X_DN + 4 * e
        f[first_at] = first_room * k[n + 1]
        f[first_at + 1] = first_room * k[n] / LESS_1
        into += f[first_at]
        energy += f[first_at + 1]
        heat += par[HEAT_DN + e] * (par[RT_A] - z[n] / z[n + 1]) / LESS_1
    rt = z[first] / z[first + 1]
    if into >= 0.0:
        rt = par[P_S + e] / par[RHO_S + e]
    carried = CARRIES * rt * into
    if par[ISO] != 0.0:
        heat = energy - carried + z[c] * swept
    elif into > 0.0:
        warmer = CARRIES * (rt - par[RT_A]) * into
        f[first_at + 1] += warmer
        k[first] += LESS_1 * warmer / first_room
    o[O_HEAT] += heat
    o[O_WENT] += z[c] * swept
    return into, carried


def device_rates(par: Fill, tables: Tables, s: float, up: float, rt_up: float, x: Row,
                 at: int, z: Fill, k: Fill, f: Fill, o: Fill) -> None:  # fmt: skip
    """Rates of one device at ``f[at]`` on, its flows in ``o``, its kernel state in ``z``, ``k``."""
    going = int(par[D_GOING])
    spread(par, going, x, at, z)
    feed(par, z, up, rt_up)
    rates(par, tables, s, going, z, k)
    f[at + X_Y], f[at + X_V] = k[Y], k[V]
    for i in range(FLOWS):
        o[i] = 0.0
    for e in range(2):
        if par[HAS_D + e] == 0.0:
            continue
        into, carried = side_flows(par, e, z, k, f, at, o)
        if e == 1 or par[D_FED] == 0.0:
            o[O_GONE] -= into
            o[O_WENT] -= carried
        else:
            o[O_TOOK], o[O_TOOK_H] = into, carried


def all_rates(net: Net, t: float, x: Row, f: Fill, zs: Rows, ks: Rows, o: Fill) -> None:
    """Fill ``f`` with the rates of the whole state at ``t``, and the devices' ``zs`` and ``ks``."""
    bodies, devices, tables = net[0], net[1], net[4]
    tail = counters_at(net)
    body_rates(net, x, f)
    for i in range(len(devices)):
        par, at = devices[i], device_at(net, i)
        b = int(par[D_BODY])
        device_rates(par, tables, opening(par, t), bodies[b][B_P], bodies[b][B_RT], x, at, zs[i],
                     ks[i], f, o)  # fmt: skip
        f[at + X_TOOK] = o[O_TOOK]
        take(bodies[b], b, o[O_TOOK], o[O_TOOK_H], f, tail)
        book(o, f, tail)


def book(o: Row, f: Fill, tail: int) -> None:
    """Add a device's flows from and to the open to the counters."""
    f[tail + C_OUT] += o[O_GONE]
    f[tail + C_HEAT_IN] += o[O_HEAT]
    f[tail + C_HEAT_OUT] += o[O_WENT]


def try_device(net: Net, i: int, s: float, up: float, rt_up: float, x: Row, states: Blocks,
               f: Fill, o: Fill) -> None:  # fmt: skip
    """`device_rates` into scratch, for the Jacobian."""
    device_rates(net[1][i], net[4], s, up, rt_up, x, device_at(net, i), states[AS_TRY][i],
                 states[AS_TRY_K][i], f, o)  # fmt: skip
