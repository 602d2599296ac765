"""What a device's valve is fed with: a pressure, and what stands between that and the valve.

In: a plant and the pressure at its root. Out: for each device its line of links from the root, and
from that a `Setting` for one stroke: the pressure behind the regulator that holds, and the parts
after it, those shared with others at that instant with this device's share. No stroke is run here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, sqrt

from thundersheet.model.device import Setting
from thundersheet.physics.gas import RHO0, T0, R, Restriction, after, in_series, mass_flow
from thundersheet.physics.plant.records import Cylinder, Jet, Path, Plant

PRESSURE_STEP_PA = 10.0
WHOLE = 0.995
"""Settings are rounded to such steps, and shares to three figures or to all, so that strokes in
like air are one; a landing feels neither."""
STORES = 5.0
"""A body that holds so many times what the largest move below it takes is a store: it feeds a
stroke itself, and what is before it only fills it up again. Smaller ones are taken to hold
nothing, which makes a stroke late rather than early."""
PUFF_S = 0.12
"""What a jet blows where the book does not say."""


@dataclass(frozen=True, slots=True)
class Link:
    """One path of a line: into a body, or into a device."""

    into: str
    parts: tuple[Restriction, ...]
    set_pa: float
    drop_pa: float

    @classmethod
    def of(cls, into: str, path: Path) -> Link:
        """A path's parts and hoses in a row."""
        parts = (*path.parts, *(tube.flow for tube in path.tubes if tube.length_m > 0.0))
        return cls(into, parts, path.set_pa, path.drop_pa)

    def fed_with(self, upstream_pa: float) -> float:
        """What stands at its beginning when nothing flows."""
        return min(self.set_pa, upstream_pa - self.drop_pa)


@dataclass(frozen=True, slots=True)
class Line:
    """All that lies between the root and a device, root first."""

    device: str
    root: str
    links: tuple[Link, ...]
    """The last one is the device's own."""

    @property
    def regulated(self) -> bool:
        """Whether a regulator stands on it."""
        return any(link.set_pa < inf for link in self.links)

    def standing(self, root_pa: float) -> float:
        """The pressure at the device's valve when nothing flows."""
        at = root_pa
        for link in self.links:
            at = link.fed_with(at)
        return at

    def has(self, body: str) -> bool:
        """Whether its air comes through a body."""
        return any(link.into == body for link in self.links[:-1])

    def standing_at(self, body: str, root_pa: float) -> float:
        """The pressure in a body on the way when nothing flows."""
        at = root_pa
        for link in self.links:
            at = link.fed_with(at)
            if link.into == body:
                break
        return at

    def after(self, stores: Mapping[str, float]) -> tuple[Link, ...]:
        """The links behind the last store: those whose flow a stroke feels at once."""
        for index in range(len(self.links) - 1, 0, -1):
            if self.links[index - 1].into in stores:
                return self.links[index:]
        return self.links


def lines_of(plant: Plant) -> dict[str, Line]:
    """The line of every device on the plant."""
    bodies = {body.name: body for body in plant.bodies}
    root = plant.bodies[0].name
    found: dict[str, Line] = {}
    on_it: tuple[Cylinder | Jet, ...] = (*plant.cylinders, *plant.jets)
    for device in on_it:
        links = [Link.of(device.name, device.path)]
        body = bodies[device.body or root]
        while body.path is not None:
            links.insert(0, Link.of(body.name, body.path))
            body = bodies[body.fed_by]
        found[device.name] = Line(device.name, root, tuple(links))
    return found


def stores_of(plant: Plant, lines: Mapping[str, Line], root_pa: float) -> tuple[str, ...]:
    """The bodies below the root that are stores; see `STORES`."""
    volumes = {body.name: body.volume_m3 for body in plant.bodies}
    takes: dict[str, float] = {}
    holds: dict[str, float] = {}
    on_it: tuple[Cylinder | Jet, ...] = (*plant.cylinders, *plant.jets)
    for device in on_it:
        line = lines[device.name]
        most = _takes_kg(device, line.standing(root_pa))
        for link in line.links[:-1]:
            takes[link.into] = max(takes.get(link.into, 0.0), most)
            stands = line.standing_at(link.into, root_pa)
            holds[link.into] = volumes[link.into] * stands / (R * plant.ambient_k)
    return tuple(name for name, kg in takes.items() if holds[name] >= STORES * kg)


def _takes_kg(device: Cylinder | Jet, supply_pa: float) -> float:
    """What one move of a device takes at most, nothing before its valve hindering it."""
    if isinstance(device, Jet):
        return device.flow.c_m3_s_pa * RHO0 * supply_pa * PUFF_S
    strokes = (device.out, device.back)
    return max(each.air_fill_l for each in strokes if each.acting != "spring") * RHO0 / 1000.0


def fed(
    setting: Setting,
    line: Line,
    root_pa: float,
    *,
    shares: Mapping[str, float] | None = None,
    stores: Mapping[str, float] | None = None,
) -> Setting:
    """The setting of one stroke.

    ``shares``: this device's share of a link, by what it leads into; 1 where it is not said.
    ``stores``: bodies that hold so much air that a stroke takes it from them, with the pressure
    that they have then.
    """
    shares, stores = shares or {}, stores or {}
    links = line.after(stores)
    upstream = root_pa
    for link in line.links[: len(line.links) - len(links)]:
        upstream = stores.get(link.into, link.fed_with(upstream))
    supply, parts = _least(links, upstream, setting, shares)
    floor = setting.atmosphere_pa
    return replace(
        setting,
        supply_pa=max(round(supply / PRESSURE_STEP_PA) * PRESSURE_STEP_PA, floor),
        feed=tuple((part.c_m3_s_pa, part.b) for part in parts),
    )


def _least(
    links: Sequence[Link], upstream_pa: float, setting: Setting, shares: Mapping[str, float]
) -> tuple[float, tuple[Restriction, ...]]:
    """Which regulator of the line decides, with all that comes after it.

    A regulator that has more before it than it lets behind it hides what is upstream; one that has
    not is an open part. Which it is, is told by which of the two lets less air through at half the
    pressure, where a stroke is most of its time.
    """
    tails: list[tuple[float, tuple[Restriction, ...]]] = []
    at = upstream_pa
    for index, link in enumerate(links):
        at = link.fed_with(at)
        if index == 0 or link.set_pa < inf:
            tails.append((at, _parts(links[index:], shares)))
    middle = 0.5 * (at + setting.atmosphere_pa)

    def passes(supply: float, parts: tuple[Restriction, ...]) -> float:
        return _passes(supply, parts, middle, setting.ambient_k)

    supply, parts = min(tails, key=lambda tail: passes(*tail))
    if supply <= at or not parts:
        return min(supply, at), parts
    # What is before the last regulator is narrower than it, and yet the valve never gets more than
    # that lets through: one part for all, which passes as much from the regulated pressure.
    whole = in_series(parts)
    wider = passes(supply, parts) / passes(at, (whole,))
    return at, (replace(whole, c_m3_s_pa=whole.c_m3_s_pa * wider),)


def _parts(links: Sequence[Link], shares: Mapping[str, float]) -> tuple[Restriction, ...]:
    return tuple(_shared(part, shares.get(link.into, 1.0)) for link in links for part in link.parts)


def _shared(part: Restriction, share: float) -> Restriction:
    if WHOLE <= share <= 1.0 / WHOLE:
        return part
    return replace(part, c_m3_s_pa=part.c_m3_s_pa * max(float(f"{share:.3g}"), 1e-3))


def _passes(supply_pa: float, parts: tuple[Restriction, ...], to_pa: float, kelvin: float) -> float:
    if not parts:
        return inf
    return mass_flow(in_series(parts), max(supply_pa, 1.0), to_pa, kelvin)


def behind_pa(part: Restriction, before_pa: float, flow_kg_s: float, kelvin: float) -> float:
    """The pressure behind a part through which so much flows; at b p1 it passes no more."""
    return after(part, before_pa, flow_kg_s / (RHO0 * sqrt(T0 / kelvin)))


def falls_to(enough: Callable[[float], bool], low: float, high: float) -> float:
    """The lowest pressure between the two at which it is still so, by halving."""
    for _ in range(40):
        middle = 0.5 * (low + high)
        if enough(middle):
            high = middle
        else:
            low = middle
    return high
