"""What lies between the air that is stored and each valve: who shares what, and what is left of it.

In comes a plant, out come its stores (bodies big enough to have a pressure of their own during a
stroke), the feed of every device, and what stands before a valve when so much flows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, sqrt

from thundersheet.physics.gas import (
    LAMINAR,
    RHO0,
    T0,
    R,
    Restriction,
    Sums,
    flow_function,
    in_series,
)
from thundersheet.physics.plant.legs import Three
from thundersheet.physics.plant.records import Body, Path, Plant

STORES_S = 0.1
"""A body that its own feed fills faster than this passes its air on; a slower one stores."""
SHARE_STEPS = 8192.0
"""Shares are told apart by so many steps: a feed that is 1/8192 wider moves no hit by 0.01 ms."""


@dataclass(frozen=True, slots=True)
class Segment:
    """One stretch of a feed: a regulator, if any, then parts in series, if any."""

    name: str
    """Of the body that it feeds, where others may share it; empty: the device's own."""
    set_pa: float
    drop_pa: float
    part: Restriction | None


@dataclass(frozen=True, slots=True)
class Feed:
    """What feeds a device: which store, and the stretches from there to its valve."""

    store: int
    segments: tuple[Segment, ...]
    shared: tuple[str, ...]
    """The stretches that others may share."""


@dataclass(frozen=True, slots=True)
class Store:
    """A body with a pressure of its own."""

    name: str
    fed_by: int
    """The store above; -1 for the root."""
    most_pa: float
    """Where its regulators hold it at most; inf: there are none."""
    drop_pa: float
    """Of all of them."""
    open_part: Restriction | None
    """All that lies between, in a row; None for the root."""
    held_part: Restriction | None
    """The same, what lies above a regulator that holds left out."""
    kg_pa: float
    kelvin: float
    leaks: tuple[tuple[float, tuple[Segment, ...]], ...]
    """kg/(s Pa) of choked leaks, its own and those of the bodies that only pass its air on, each
    with the stretches from here to it."""


def segment_of(name: str, path: Path) -> Segment:
    """A path as one stretch; its tubes are parts like the others."""
    parts = (*path.parts, *(tube.flow for tube in path.tubes if tube.length_m > 0.0))
    return Segment(name, path.set_pa, path.drop_pa, in_series(parts) if parts else None)


def stores_of(plant: Plant) -> tuple[tuple[Store, ...], dict[str, tuple[int, tuple[Segment, ...]]]]:
    """The stores, root first, and for each body its store and the stretches from there to it."""
    stores: list[Store] = []
    leaks: list[list[tuple[float, tuple[Segment, ...]]]] = []
    found: dict[str, tuple[int, tuple[Segment, ...]]] = {}
    for body in plant.bodies:
        kelvin = plant.ambient_k if body.ambient_k is None else body.ambient_k
        above, way = found[body.fed_by] if body.path else (-1, ())
        if body.path:
            way = (*way, segment_of(body.name, body.path))
        if body.path is None or (_keeps(body, way, kelvin) and not plant.endless):
            stores.append(_store(body, above, way, kelvin))
            leaks.append([])
            above, way = len(stores) - 1, ()
        elif not any(each.part or each.set_pa < inf or each.drop_pa for each in way):
            # Nothing lies between: the two are one body.
            more = body.volume_m3 / (R * kelvin)
            stores[above] = replace(stores[above], kg_pa=stores[above].kg_pa + more)
        found[body.name] = (above, way)
        if body.leak_m3_s_pa:
            leaks[above].append((body.leak_m3_s_pa * RHO0 * sqrt(T0 / kelvin), way))
    whole = (replace(s, leaks=tuple(own)) for s, own in zip(stores, leaks, strict=True))
    return tuple(whole), found


def _store(body: Body, above: int, way: tuple[Segment, ...], kelvin: float) -> Store:
    """A store without its leaks; it is held by the last regulator on the way to it."""
    most, drop = inf, 0.0
    for each in way:
        most, drop = min(each.set_pa, most - each.drop_pa), drop + each.drop_pa
    last = max((i for i, each in enumerate(way) if each.set_pa < inf), default=0)
    below = [each.part for each in way[last:] if each.part]
    all_parts = [each.part for each in way if each.part]
    return Store(
        body.name,
        above,
        most,
        drop,
        in_series(all_parts) if all_parts else None,
        in_series(below or all_parts) if all_parts else None,
        body.volume_m3 / (R * kelvin),
        kelvin,
        (),
    )


def _keeps(body: Body, way: tuple[Segment, ...], kelvin: float) -> bool:
    """Whether its own feed takes longer than `STORES_S` to fill it: V/(R T rho0 C)."""
    parts = [each.part for each in way if each.part]
    if not parts:
        return False
    flow = R * kelvin * RHO0 * in_series(parts).c_m3_s_pa * sqrt(T0 / kelvin)
    return body.volume_m3 / flow > STORES_S


def feed_of(bodies: dict[str, tuple[int, tuple[Segment, ...]]], body: str, path: Path) -> Feed:
    """The feed of a device at the end of ``path``."""
    store, way = bodies[body]
    own = segment_of("", path)
    bare = own.part is None and own.set_pa == inf and own.drop_pa == 0.0
    segments = way if bare else (*way, own)
    return Feed(store, segments, tuple(x.name for x in segments if x.name and x.part))


def stands(segments: Sequence[Segment], store_pa: float, atmosphere_pa: float) -> float:
    """What stands at the end when nothing flows: each regulator gives min(set, upstream - drop)."""
    pa = store_pa
    for each in segments:
        pa = min(each.set_pa, pa - each.drop_pa)
    return max(pa, atmosphere_pa)


def before_valve(
    segments: Sequence[Segment],
    store_pa: float,
    atmosphere_pa: float,
    shares: Sequence[float],
    flow_kg_s: float,
) -> tuple[float, Three]:
    """The supply of a stroke and the sums of what lies between it and the valve.

    ``shares`` say for each stretch how much of its conductance is this stroke's. What lies above a
    regulator that holds its set pressure at ``flow_kg_s`` does not count.
    """
    pa, sums = store_pa, Sums()
    for each, share in zip(segments, shares, strict=True):
        if each.drop_pa or each.set_pa < inf:
            if pa - each.drop_pa > each.set_pa:
                behind = behind_pa(sums, pa, flow_kg_s)
                if behind - each.drop_pa >= each.set_pa:
                    sums = Sums()
            pa = min(each.set_pa, pa - each.drop_pa)
        if each.part is not None:
            sums += scaled(each.part, share)
    return max(pa, atmosphere_pa), (sums.cubes, sums.squares, sums.indices)


def scaled(part: Restriction, share: float) -> Sums:
    """The sums of so much of a part, the share rounded."""
    whole = max(round(share * SHARE_STEPS), 1) / SHARE_STEPS
    c = part.c_m3_s_pa * whole
    return Sums(c**-3, (1.0 - part.b) / (c * c), part.m * c**-3)


def behind_three(three: Three, up_pa: float, flow_kg_s: float) -> float:
    """`behind_pa` of sums as `before_valve` gives them."""
    return behind_pa(Sums(*three), up_pa, flow_kg_s)


def behind_pa(sums: Sums, up_pa: float, flow_kg_s: float) -> float:
    """The pressure behind parts in series when so much flows (air at T0)."""
    if sums.cubes == 0.0 or flow_kg_s <= 0.0:
        return up_pa
    c, b, m = _one((sums.cubes, sums.squares, sums.indices))
    psi = flow_kg_s / (c * RHO0 * up_pa)
    if psi >= 1.0:
        return b * up_pa
    knee = flow_function(0.995, b, m)
    if psi < knee:
        return up_pa * (1.0 - 0.005 * psi / knee)
    share: float = b + (1.0 - b) * sqrt(1.0 - psi ** (1.0 / m))
    return up_pa * share


def leaked_kg_s(store: Store, store_pa: float, atmosphere_pa: float) -> float:
    """What it loses by its leaks, and by those of what it feeds directly."""
    return sum(c * stands(way, store_pa, atmosphere_pa) for c, way in store.leaks)


def fed_pa(store: Store, above_pa: float, atmosphere_pa: float) -> float:
    """What a store is fed with: min(set, upstream - drop)."""
    return max(min(store.most_pa, above_pa - store.drop_pa), atmosphere_pa)


def refill(
    store: Store, store_pa: float, above_pa: float, atmosphere_pa: float
) -> tuple[float, float]:
    """The kg/s that come into a store from the one above, and how they grow with its pressure.

    It runs back only where no regulator that holds its set pressure stands between: such a one
    relieves or shuts, and what it would relieve is left where it is.
    """
    holds = store.most_pa <= above_pa - store.drop_pa
    part = store.held_part if holds else store.open_part
    fed = fed_pa(store, above_pa, atmosphere_pa)
    if part is None or (holds and store_pa > fed):
        return 0.0, 0.0
    choked = part.c_m3_s_pa * RHO0 * sqrt(T0 / store.kelvin)
    if store_pa <= fed:
        psi, bend = _psi(part, store_pa / fed)
        return choked * fed * psi, choked * bend
    psi, bend = _psi(part, fed / store_pa)
    return -choked * store_pa * psi, -choked * (psi - fed / store_pa * bend)


def _psi(part: Restriction, ratio: float) -> tuple[float, float]:
    """`gas.flow_function` and its slope."""
    b, m = part.b, part.m
    if ratio <= b:
        return 1.0, 0.0
    x = (min(ratio, LAMINAR) - b) / (1.0 - b)
    left = 1.0 - x * x
    law: float = sqrt(left) if m == 0.5 else left**m
    if ratio > LAMINAR:
        return law * (1.0 - ratio) / (1.0 - LAMINAR), -law / (1.0 - LAMINAR)
    return law, -2.0 * m * x * law / (left * (1.0 - b))


def _one(sums: Three) -> tuple[float, float, float]:
    c = sums[0] ** (-1.0 / 3.0)
    return c, min(max(0.0, 1.0 - c * c * sums[1]), 0.99), min(1.0, sums[2] / sums[0])
