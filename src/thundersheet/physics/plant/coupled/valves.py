"""When each valve switches, and what that makes of a cylinder's rows.

A command takes effect after the valve's own delay and the way of sound down the hose; one that has
not taken effect when a later one overtakes it never does.
"""

from __future__ import annotations

from collections.abc import MutableSequence, Sequence
from dataclasses import dataclass

from thundersheet.physics import kernel
from thundersheet.physics.plant.coupled import columns as at
from thundersheet.physics.plant.coupled.columns import Net, counters_at, device_at
from thundersheet.physics.plant.coupled.flows import LESS_1, room_of, spread
from thundersheet.physics.plant.coupled.happen import choose, cushion_due, meet_cushion, setting_off
from thundersheet.physics.plant.records import Cylinder, Jet, Plant, Switch, Way

Fill = MutableSequence[float]

CYLINDER_WAYS: tuple[Way, ...] = ("out", "back", "middle")
JET_WAYS: tuple[Way, ...] = ("on", "off")


@dataclass(frozen=True, slots=True, order=True)
class Turn:
    """One valve's switching: when, and for which of the commands."""

    at_s: float
    switch: int
    device: int
    jet: bool
    way: Way


def turns_of(
    plant: Plant,
    ways: Sequence[dict[str, list[float]]],
    switches: Sequence[Switch],
    begin_s: float,
) -> list[Turn]:
    """The valves' switchings in the order of time; commands that are overtaken left out.

    A command may come from before the run when its valve switches within it.
    """
    cylinders = {each.name: i for i, each in enumerate(plant.cylinders)}
    jets = {each.name: i for i, each in enumerate(plant.jets)}
    lines: dict[str, list[Turn]] = {}
    for number in sorted(range(len(switches)), key=lambda i: switches[i].at_s):
        switch = switches[number]
        if switch.device in cylinders:
            i = cylinders[switch.device]
            turn = cylinder_turn(plant.cylinders[i], ways[i], switch, number, i)
        elif switch.device in jets:
            i = jets[switch.device]
            turn = jet_turn(plant.jets[i], switch, number, i)
        else:
            raise ValueError(f"{switch.device} is switched, but the plant has no such device")
        if turn.at_s < begin_s:
            raise ValueError(f"{switch.device} has switched at {turn.at_s:g} s, before the run")
        line = lines.setdefault(switch.device, [])
        while line and line[-1].at_s >= turn.at_s:
            line.pop()
        line.append(turn)
    return sorted(turn for line in lines.values() for turn in line)


def cylinder_turn(
    cylinder: Cylinder, ways: dict[str, list[float]], switch: Switch, number: int, i: int
) -> Turn:
    """A cylinder's valve: its delay and the way of sound are those of the stroke to come."""
    if switch.way not in CYLINDER_WAYS or (switch.way == "middle" and not cylinder.middle):
        raise ValueError(f"{cylinder.name} is a cylinder and can't be switched {switch.way}")
    delay = cylinder.out.valve_delay_s
    if switch.way != "middle":
        delay = ways[switch.way][kernel.SWITCH]
    return Turn(switch.at_s + delay, number, i, False, switch.way)


def jet_turn(jet: Jet, switch: Switch, number: int, i: int) -> Turn:
    """A jet's valve."""
    if switch.way not in JET_WAYS:
        raise ValueError(f"{jet.name} is a jet and can't be switched {switch.way}")
    return Turn(switch.at_s + jet.delay_s, number, i, True, switch.way)


def turn_valve(net: Net, x: Fill, i: int, ways: dict[str, list[float]], way: Way) -> None:
    """Let a cylinder's valve switch to ``way``.

    Its air keeps pressure and temperature and is seen by the new stroke; what the new stroke has
    more or less room for is booked. A tube that a quick exhaust or a cushion has cut off comes
    back with the air of its chamber.
    """
    par, start, tail = net[1][i], device_at(net, i), counters_at(net)
    z = [0.0] * 10
    spread(par, int(par[at.D_GOING]), x, start, z)
    had_mass, had_energy = held(par, x, start)
    with_node = [par[kernel.HAS_DN] != 0.0, par[kernel.HAS_EN] != 0.0]
    if way != "middle" and (way == "out") != (par[at.D_OUT] != 0.0):
        z = seen_back(par, z)
        with_node.reverse()
        par[at.D_OUT], par[at.D_GOING] = 1.0 - par[at.D_OUT], -par[at.D_GOING]
    stroke = "out" if par[at.D_OUT] != 0.0 else "back"
    for c, value in enumerate(ways[f"middle {stroke}" if way == "middle" else stroke]):
        par[c] = value
    put(par, z, with_node, x, start)
    mass, energy = held(par, x, start)
    book_change(x, tail, mass - had_mass, energy - had_energy)
    par[at.D_CUSHIONED] = 0.0
    if cushion_due(par, z[kernel.Y]):
        meet_cushion(net, x, i)
    begin_motion(par, z)


def begin_motion(par: Fill, z: list[float]) -> None:
    """Decide whether and which way a cylinder moves, and which of its states do."""
    par[at.D_AT_END] = 0.0
    if z[kernel.Y] >= par[kernel.S_END] and z[kernel.V] <= 0.0:
        par[at.D_AT_END] = 1.0
    if z[kernel.V] == 0.0:
        par[at.D_GOING] = float(setting_off(par, z))
    if par[at.D_GOING] != 0.0:
        par[at.D_AT_END] = 0.0
    choose(par)


def seen_back(par: Sequence[float], z: list[float]) -> list[float]:
    """A kernel state seen by the stroke the other way."""
    y = par[kernel.S_END] - z[kernel.Y]
    if abs(y) < 1e-12:
        y = 0.0
    return [y, -z[kernel.V], z[4], z[5], z[2], z[3], z[8], z[9], z[6], z[7]]


def put(par: Fill, z: list[float], with_node: Sequence[bool], x: Fill, start: int) -> None:
    """Write a kernel state into a cylinder's columns."""
    x[start + at.X_Y], x[start + at.X_V] = z[kernel.Y], z[kernel.V]
    for e in range(2):
        c, n = kernel.PD + 2 * e, kernel.PDN + 2 * e
        if par[kernel.HAS_D + e] == 0.0:
            continue
        volume = room_of(par, e, z[kernel.Y])
        x[start + at.X_D + 4 * e], x[start + at.X_D + 4 * e + 1] = columns_of(z, c, volume)
        if par[kernel.HAS_DN + e] != 0.0:
            from_ = n if with_node[e] else c
            volume = par[kernel.VOLUME_DN + e]
            x[start + at.X_DN + 4 * e], x[start + at.X_DN + 4 * e + 1] = columns_of(
                z, from_, volume
            )


def columns_of(z: Sequence[float], c: int, volume: float) -> tuple[float, float]:
    """Mass and energy of a body of air at a kernel state's pressure and density."""
    return z[c + 1] * volume, z[c] * volume / LESS_1


def held(par: Sequence[float], x: Sequence[float], start: int) -> tuple[float, float]:
    """Mass and energy of all air in a cylinder."""
    mass = energy = 0.0
    for e in range(2):
        if par[kernel.HAS_D + e] == 0.0:
            continue
        mass += x[start + at.X_D + 4 * e]
        energy += x[start + at.X_D + 4 * e + 1]
        if par[kernel.HAS_DN + e] != 0.0:
            mass += x[start + at.X_DN + 4 * e]
            energy += x[start + at.X_DN + 4 * e + 1]
    return mass, energy


def book_change(x: Fill, tail: int, mass: float, energy: float) -> None:
    """Book air that a switch of the model brings or takes away, as come or gone."""
    x[tail + (at.C_IN if mass > 0.0 else at.C_OUT)] += abs(mass)
    x[tail + (at.C_HEAT_IN if energy > 0.0 else at.C_HEAT_OUT)] += abs(energy)
