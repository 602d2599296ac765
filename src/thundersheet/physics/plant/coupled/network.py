"""A plant's records made into the rows that the coupled solver works on, and back into a state.

In come a plant and its first state, out go lists of floats. Strokes get the plant's atmosphere and
ambient temperature, their paths from the body are put before their drive valves.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf, isinf

from thundersheet.physics import kernel
from thundersheet.physics.gas import CHAIN_POINTS, P_ATM, R, Restriction, in_series
from thundersheet.physics.plant.coupled import columns as at
from thundersheet.physics.plant.coupled.flows import LESS_1
from thundersheet.physics.plant.records import (
    Body,
    Compressor,
    Cylinder,
    Gas,
    Jet,
    Path,
    Piston,
    Plant,
    State,
)
from thundersheet.physics.prepare import prepare, set_part
from thundersheet.physics.solve import asked
from thundersheet.physics.stroke import Air, Stroke

WIDE = Restriction(1e-6)
"""A path of nothing: 100 dm3/(s bar), a bore of some 25 mm, so that both ends stand alike."""
NOZZLE_B = 0.528282
"""Critical ratio of an ideal nozzle (gas dynamics, gamma 1.4): leaks are choked above it, and cease
where a body stands at the open air's pressure."""
AHEAD = 1e31
"""Stands for no limit: infinity would make nothing times infinity of a flow."""


@dataclass(slots=True)
class Rows:
    """A plant as rows: all that changes as the run goes on, and each valve's ways."""

    bodies: list[list[float]]
    devices: list[list[float]]
    jets: list[list[float]]
    clock: list[float]
    tables: list[tuple[float, ...]]
    ways: list[dict[str, list[float]]]
    """Of each cylinder: parameters of the stroke out and back, and of the middle seen by each."""


def rows_of(plant: Plant) -> Rows:
    """The rows of a plant, its state not yet in them."""
    check_plant(plant)
    index = {body.name: i for i, body in enumerate(plant.bodies)}
    tables: list[tuple[float, ...]] = []
    ways = [ways_of(plant, cylinder, tables) for cylinder in plant.cylinders]
    return Rows(
        bodies=[body_row(plant, body, index) for body in plant.bodies],
        devices=[device_row(cylinder, index) for cylinder in plant.cylinders],
        jets=[jet_row(jet, index) for jet in plant.jets],
        clock=first_clock(plant),
        tables=tables or [(0.0,) * (CHAIN_POINTS + 1)],
        ways=ways,
    )


def check_plant(plant: Plant) -> None:
    """Refuse what is no tree of bodies with devices on them."""
    known: set[str] = set()
    for body in plant.bodies:
        if body.name in known:
            raise ValueError(f"two bodies of air are called {body.name}")
        if (body.fed_by == "") != (not known):
            raise ValueError(f"bodies stand root first, and only the root is unfed: {body.name}")
        if body.fed_by and body.fed_by not in known:
            raise ValueError(f"{body.name} is fed by {body.fed_by}, which does not come before it")
        if not 0.0 < body.volume_m3 < inf:
            raise ValueError(f"{body.name} has a volume of {body.volume_m3:g} m3: none at all")
        known.add(body.name)
    if not known:
        raise ValueError("a plant needs at least one body of air")
    devices: tuple[Cylinder | Jet, ...] = (*plant.cylinders, *plant.jets)
    names = [each.name for each in devices]
    for device in devices:
        if device.body not in known:
            raise ValueError(f"{device.name} is fed by {device.body}, which is no body of air")
        if names.count(device.name) > 1:
            raise ValueError(f"two devices are called {device.name}")


def body_row(plant: Plant, body: Body, index: dict[str, int]) -> list[float]:
    """A body's columns."""
    row = [0.0] * at.BODY
    kelvin = body.ambient_k or plant.ambient_k
    isothermal = isinf(body.heat_w_k)
    row[at.B_VOLUME] = body.volume_m3
    row[at.F_BY] = float(index[body.fed_by]) if body.fed_by else -1.0
    row[at.B_HEAT] = 0.0 if isothermal else body.heat_w_k
    row[at.B_RT_A] = R * kelvin
    row[at.B_ISO] = float(isothermal)
    row[at.B_FIXED] = float(plant.endless and not body.fed_by)
    path = body.path or Path()
    row[at.F_SET], row[at.F_DROP] = min(path.set_pa, AHEAD), path.drop_pa
    set_flow(row, at.WAY, path_part(path))
    if body.leak_m3_s_pa > 0.0:
        set_flow(row, at.B_LEAK, Restriction(body.leak_m3_s_pa, NOZZLE_B))
    return row


def path_part(path: Path) -> Restriction:
    """A path as one part, after the series rule."""
    return in_series(path_parts(path) or (WIDE,))


def path_parts(path: Path) -> tuple[Restriction, ...]:
    """All that resists along a path."""
    return path.parts + tuple(tube.flow for tube in path.tubes if tube.length_m > 0.0)


def set_flow(row: list[float], way: int, part: Restriction) -> None:
    """Write a way of air (`kernel.flow`)."""
    set_part(row, way, part.c_m3_s_pa, part.b, part.m)


def device_row(cylinder: Cylinder, index: dict[str, int]) -> list[float]:
    """A cylinder's columns."""
    row = [0.0] * at.DEVICE
    row[at.D_BODY] = float(index[cylinder.body])
    row[at.D_SET], row[at.D_DROP] = min(cylinder.path.set_pa, AHEAD), cylinder.path.drop_pa
    row[at.D_FED] = 1.0
    forget(row)
    return row


def forget(row: at.Fill) -> None:
    """Forget what a device came to: a new command begins."""
    for column in (at.D_START, at.D_MID, at.D_FULL):
        row[column] = -1.0
    row[at.D_SPEED] = row[at.D_ENERGY] = 0.0
    row[at.D_LOW] = AHEAD


def jet_row(jet: Jet, index: dict[str, int]) -> list[float]:
    """A jet's columns."""
    row = [0.0] * at.JET
    row[at.F_BY] = float(index[jet.body])
    row[at.F_SET], row[at.F_DROP] = min(jet.path.set_pa, AHEAD), jet.path.drop_pa
    row[at.J_LOW] = AHEAD
    set_flow(row, at.WAY, in_series((*path_parts(jet.path), jet.flow)))
    return row


def first_clock(plant: Plant) -> list[float]:
    """The clock, with the open air and the compressor."""
    row = [0.0] * at.CLOCK
    row[at.A_P], row[at.A_RT] = plant.atmosphere_pa, R * plant.ambient_k
    row[at.A_RHO] = row[at.A_P] / row[at.A_RT]
    if plant.compressor:
        row[at.A_RT_IN] = R * plant.compressor.inlet_k
        row[at.A_Q0], row[at.A_Q1] = delivery(plant.compressor, plant.atmosphere_pa)
    return row


def delivery(compressor: Compressor, atmosphere_pa: float) -> tuple[float, float]:
    """Mass flow Q0 + Q1 p: free air at the inlet's pressure and temperature (FAD)."""
    density = atmosphere_pa / (R * compressor.inlet_k)
    (p, q), *more = compressor.delivers
    if not more or more[0][0] == p:
        return q * density, 0.0
    slope = (more[0][1] - q) / (more[0][0] - p)
    return (q - slope * p) * density, slope * density


def ways_of(
    plant: Plant, cylinder: Cylinder, tables: list[tuple[float, ...]]
) -> dict[str, list[float]]:
    """Parameters of a cylinder's strokes, and of its valve's middle as each stroke sees it."""
    if cylinder.out.stroke_m != cylinder.back.stroke_m:
        raise ValueError(f"{cylinder.name} is longer on its way out than on its way back")
    ways = {}
    for name, stroke in (("out", cylinder.out), ("back", cylinder.back)):
        row, more = asked(in_plant(plant, cylinder, stroke), first_table=len(tables))
        tables += more
        par = [0.0] * kernel.MADE
        prepare(row, par)
        ways[name] = par
    for name, other in (("out", "back"), ("back", "out")):
        if cylinder.middle == "closed":
            ways[f"middle {name}"] = closed(ways[name])
        elif cylinder.middle == "exhausted":
            ways[f"middle {name}"] = exhausted(ways[name], ways[other], tables)
    return ways


def in_plant(plant: Plant, cylinder: Cylinder, stroke: Stroke) -> Stroke:
    """A stroke in the plant's air, fed through its path."""
    return replace(
        stroke,
        atmosphere_pa=plant.atmosphere_pa,
        ambient_k=plant.ambient_k,
        supply_pa=max(stroke.supply_pa, plant.atmosphere_pa),
        drive_valve=path_parts(cylinder.path) + stroke.drive_valve,
        air=None,
        y0_m=0.0,
        v0_m_s=0.0,
    )


def closed(par: list[float]) -> list[float]:
    """A stroke whose valve blocks all its ports."""
    shut = list(par)
    shut[kernel.WAY_D] = shut[kernel.WAY_E] = 0.0
    return shut


SIDE_COLUMNS = (
    (kernel.HAS_D, kernel.HAS_E),
    (kernel.HAS_DN, kernel.HAS_EN),
    (kernel.VOLUME_D, kernel.VOLUME_E),
    (kernel.VOLUME_DN, kernel.VOLUME_EN),
    (kernel.PER_ROOM_D, kernel.PER_ROOM_E),
    (kernel.HEAT_DN, kernel.HEAT_EN),
    *((kernel.WAY_D + c, kernel.WAY_E + c) for c in range(6)),
    *((kernel.WAY_DE + c, kernel.WAY_EE + c) for c in range(6)),
)


def exhausted(par: list[float], other: list[float], tables: list[tuple[float, ...]]) -> list[float]:
    """A stroke whose valve opens both sides: its drive side empties as the other stroke has it."""
    shared = list(par)
    for drive, exhaust in SIDE_COLUMNS:
        shared[drive] = other[exhaust]
    for has, way in ((kernel.HAS_D, kernel.WAY_D), (kernel.HAS_DN, kernel.WAY_DE)):
        row = int(shared[way + 5])
        if shared[has] != 0.0 and row >= 0:
            # A drive's chain is named from outside in, an exhaust's from inside out.
            shared[way + 5] = float(len(tables))
            tables += [tables[row + 1], tables[row]]
    return shared


def standing_at(plant: Plant, state: State | None) -> dict[str, Gas]:
    """Each body's air at first; bodies the state does not name stand as their path feeds them."""
    found: dict[str, Gas] = dict(state.bodies) if state else {}
    for body in plant.bodies:
        kelvin = body.ambient_k or plant.ambient_k
        if body.name in found:
            continue
        if not body.fed_by:
            if plant.compressor is None:
                raise ValueError("a plant without a compressor needs its first state")
            found[body.name] = Gas(pa=plant.compressor.cut_out_pa, kelvin=kelvin)
            continue
        pa = fed_pa(body.path or Path(), found[body.fed_by].pa, plant.atmosphere_pa)
        found[body.name] = Gas(pa=pa, kelvin=kelvin)
    return found


def fed_pa(path: Path, up_pa: float, atmosphere_pa: float = P_ATM) -> float:
    """Where what a path feeds comes to stand: min(set, upstream - drop), not below the open air."""
    return max(min(path.set_pa, up_pa - path.drop_pa), min(up_pa, atmosphere_pa))


def at_rest(plant: Plant, cylinder: Cylinder, gas: Gas) -> Piston:
    """A cylinder that has stood long: air on the side that holds it, none on the other."""
    supply = fed_pa(cylinder.path, gas.pa, plant.atmosphere_pa)
    stroke = cylinder.out if cylinder.starts_out else cylinder.back
    held = plant.atmosphere_pa if stroke.acting == "spring" else supply
    air = Air.at(held, plant.atmosphere_pa, plant.ambient_k)
    if cylinder.starts_out:
        return Piston(out_m=stroke.stroke_m, air=air, way="out")
    return Piston(out_m=0.0, air=air.swapped(), way="back")


def body_columns(row: list[float], gas: Gas) -> tuple[float, float]:
    """Mass and energy of a body's air."""
    kelvin = row[at.B_RT_A] / R if row[at.B_ISO] else gas.kelvin
    mass = gas.pa * row[at.B_VOLUME] / (R * kelvin)
    return mass, mass * R * kelvin / LESS_1


def gas_of(row: list[float], mass: float, energy: float) -> Gas:
    """A body's air from its mass and energy."""
    rt = row[at.B_RT_A] if row[at.B_ISO] else LESS_1 * energy / mass
    return Gas(pa=mass * rt / row[at.B_VOLUME], kelvin=rt / R)
