"""The bodies of a plant as the root's pressure says them, and the ranges in which all is linear.

In comes a plant, out come its vessels and, range by range of the root's pressure, how much air
they hold, leak and get, each as a + b p. Nothing here knows of time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

from thundersheet.physics.gas import RHO0, T0, R, flow_of_fad
from thundersheet.physics.plant.records import Body, Compressor, Plant


@dataclass(frozen=True, slots=True)
class Vessel:
    """A body that stands at min(most, root - drop), and never below the open air."""

    name: str
    most_pa: float
    drop_pa: float
    kg_pa: float
    """V/(R T)."""
    leak_kg_s_pa: float
    """C rho0 sqrt(T0/T); choked, ISO 6358-1."""
    kelvin: float

    def pressure(self, root_pa: float, atmosphere_pa: float) -> float:
        """Where it stands when the root stands at ``root_pa``."""
        return max(min(self.most_pa, root_pa - self.drop_pa), atmosphere_pa)


@dataclass(frozen=True, slots=True)
class Range:
    """Root pressures from ``low`` to ``high`` over which everything is linear in p."""

    low: float
    high: float
    mass_low: float
    """All the air inside when the root stands at ``low``."""
    kg_pa: float
    leak_0: float
    leak_1: float
    """The leaks are leak_0 + leak_1 p, kg/s."""
    come_0: float
    come_1: float
    """What a running compressor brings, the same way."""

    def mass(self, pa: float) -> float:
        """All the air inside."""
        return self.mass_low + self.kg_pa * (pa - self.low)

    def rate(self, pa: float, on: bool, demand: float) -> tuple[float, float]:
        """dp/dt at ``pa`` and how that grows with p."""
        a, b = -self.leak_0 - demand, -self.leak_1
        if on:
            a, b = a + self.come_0, b + self.come_1
        return (a + b * pa) / self.kg_pa, b / self.kg_pa


def vessels_of(plant: Plant) -> tuple[Vessel, ...]:
    """The plant's bodies, root first, each with the regulators above it taken together."""
    found: dict[str, Vessel] = {}
    for body in plant.bodies:
        most, drop = inf, 0.0
        if body.path is not None:
            above = found[body.fed_by]
            drop = above.drop_pa + body.path.drop_pa
            most = min(body.path.set_pa, above.most_pa - body.path.drop_pa)
        found[body.name] = _vessel(plant, body, most, drop)
    return tuple(found.values())


def _vessel(plant: Plant, body: Body, most: float, drop: float) -> Vessel:
    kelvin = plant.ambient_k if body.ambient_k is None else body.ambient_k
    return Vessel(
        name=body.name,
        most_pa=most,
        drop_pa=drop,
        kg_pa=body.volume_m3 / (R * kelvin),
        leak_kg_s_pa=body.leak_m3_s_pa * RHO0 * sqrt(T0 / kelvin),
        kelvin=kelvin,
    )


def ranges_of(vessels: Sequence[Vessel], plant: Plant) -> tuple[Range, ...]:
    """The ranges, lowest first, from the open air's pressure upwards."""
    at = plant.atmosphere_pa
    edges = {at, _idle_pa(plant.compressor)}
    for each in vessels:
        edges |= {each.most_pa + each.drop_pa, at + each.drop_pa}
    lows = sorted(edge for edge in edges if at <= edge < inf)
    mass = sum(each.kg_pa * at for each in vessels)
    found: list[Range] = []
    for low, high in zip(lows, [*lows[1:], inf], strict=True):
        found.append(_range(vessels, plant, low, high, mass))
        mass = found[-1].mass(high)
    return tuple(found)


def _range(vessels: Sequence[Vessel], plant: Plant, low: float, high: float, mass: float) -> Range:
    at, inside = plant.atmosphere_pa, low + 1.0 if high == inf else 0.5 * (low + high)
    kg_pa = leak_0 = leak_1 = 0.0
    for each in vessels:
        if each.most_pa <= inside - each.drop_pa:
            leak_0 += each.leak_kg_s_pa * each.most_pa
        elif inside - each.drop_pa <= at:
            # Not yet filled. It keeps the leak it has at its edge, so that rates have no jump.
            leak_0 += each.leak_kg_s_pa * at
        else:
            kg_pa += each.kg_pa
            leak_0 -= each.leak_kg_s_pa * each.drop_pa
            leak_1 += each.leak_kg_s_pa
    come_0, come_1 = _come(plant, inside)
    return Range(low, high, mass, kg_pa, leak_0, leak_1, come_0, come_1)


def _line(compressor: Compressor) -> tuple[float, float]:
    """Free air delivered as a + b p, through one rated point or two."""
    if len(compressor.delivers) == 1:
        return compressor.delivers[0][1], 0.0
    (p1, q1), (p2, q2) = compressor.delivers
    slope = (q2 - q1) / (p2 - p1)
    return q1 - slope * p1, slope


def _idle_pa(compressor: Compressor | None) -> float:
    """Where the line through the rated points reaches nothing; inf when it never does."""
    if compressor is None:
        return inf
    first, slope = _line(compressor)
    return -first / slope if slope else inf


def _come(plant: Plant, pa: float) -> tuple[float, float]:
    """kg/s of the running compressor as a + b p around ``pa``."""
    if plant.compressor is None:
        return 0.0, 0.0
    first, slope = _line(plant.compressor)
    if first + slope * pa <= 0.0:
        return 0.0, 0.0
    per_m3_s = flow_of_fad(1.0, plant.atmosphere_pa, plant.compressor.inlet_k)
    return first * per_m3_s, slope * per_m3_s
