"""A book's air as a plant in SI, for the solvers: parts without volume melt into paths.

In: a book, and how warm it is. Out: the plant and the state it begins an evening in. A book that
says `set` alone is a plant without end, in which every device has just the pressure it asks for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, log, pi, sqrt

from thundersheet.model.air import AirPart
from thundersheet.model.air import Compressor as Machine
from thundersheet.model.book import Book
from thundersheet.model.device import Device, Setting
from thundersheet.physics.gas import RHO0, T0, R, Restriction, Tube
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
from thundersheet.physics.stroke import Air as Chambers
from thundersheet.plan.plumbing.graph import Plumbing, plumbing_of
from thundersheet.plan.plumbing.pressures import (
    atmosphere,
    highest_pa,
    lowest_pa,
    nominal_pa,
    set_of,
)

ENDLESS = "air"
"""Name of the one body of a plant without end."""
FORK_M3 = 10e-6
"""Air in a fitting at which a feed forks (common practice, no source)."""
CRITICAL = 0.3
"""Critical pressure ratio of small parts whose maker gives only a Cv (ISO 6358 tables: 0.2-0.5)."""
STILL_W_M2_K = 10.0
"""Heat transfer in a tank, where air is nearly still (natural convection: 5-25 W/(m2 K), any
handbook of heat transfer)."""
MOVING_W_M2_K = 60.0
"""The same in hoses and manifolds, as the reference model has it in cylinders."""
DAY_S = 86_400.0


def plant_of(book: Book, *, ambient_k: float | None = None) -> Plant:
    """The plant of a book; ``ambient_k``: how warm it is, if not as the book says.

    A plumbing that does not hang together has findings that refuse; its plant is as if the book
    said `set` alone. A device that cannot be reckoned is left out, and its checks say why.
    """
    tree, _ = plumbing_of(book)
    warm = book.air.ambient_k if ambient_k is None else ambient_k
    return _endless(book, warm) if tree is None else _Maker(book, tree, warm).plant()


def _breathing(
    book: Book, warm: float, tree: Plumbing | None
) -> dict[str, tuple[Device, Cylinder | Jet]]:
    """By name: each device with what it is on the air plant."""
    outside = atmosphere(book.air)
    found = {}
    for device in book.devices:
        gauge = nominal_pa(book, device, tree)
        setting = Setting(
            supply_pa=None if gauge is None else gauge + outside,
            atmosphere_pa=outside,
            ambient_k=warm,
        )
        on_it = device.on_the_air(setting)
        if isinstance(on_it, Cylinder | Jet):
            found[device.name] = (device, on_it)
    return found


def _endless(book: Book, warm: float) -> Plant:
    """One body that never empties; each device has a regulator at what it asks for."""
    outside = atmosphere(book.air)
    bare = replace(book, air=replace(book.air, parts=()))
    made = []
    for device, on_it in _breathing(bare, warm, None).values():
        gauge = nominal_pa(bare, device)
        assert gauge is not None  # it would not be on the air
        made.append(replace(on_it, body=ENDLESS, path=Path(set_pa=gauge + outside)))
    return Plant(
        bodies=(Body(name=ENDLESS, volume_m3=1.0, heat_w_k=inf),),
        cylinders=tuple(each for each in made if isinstance(each, Cylinder)),
        jets=tuple(each for each in made if isinstance(each, Jet)),
        atmosphere_pa=outside,
        ambient_k=warm,
        endless=True,
    )


@dataclass(frozen=True, slots=True)
class _Maker:
    """One tree on its way to a plant."""

    book: Book
    tree: Plumbing
    warm: float

    def plant(self) -> Plant:
        book, outside = self.book, atmosphere(self.book.air)
        bodies = tuple(self._body(part) for part in self.tree.parts.values() if self._holds(part))
        made = [
            self._hung(device, on_it)
            for device, on_it in _breathing(book, self.warm, self.tree).values()
            if device.name in self.tree.hangs
        ]
        root, *rest = bodies
        return Plant(
            bodies=(replace(root, leak_m3_s_pa=self._leak(bodies)), *rest),
            cylinders=tuple(each for each in made if isinstance(each, Cylinder)),
            jets=tuple(each for each in made if isinstance(each, Jet)),
            compressor=None if book.air.compressor is None else self._compressor(),
            atmosphere_pa=outside,
            ambient_k=self.warm,
        )

    def _holds(self, part: AirPart) -> bool:
        """Whether a part is a body: it has a volume, the feed forks at it, or a hose ends there.

        What forks without a body would give every branch the whole of what is shared.
        """
        if part.holds_m3:
            return True
        hung = self.tree.devices_at(part.name)
        if len(hung) + len(self.tree.fed_by(part.name)) > 1:
            return True
        return bool(hung) and any(each.hose is not None for each in self._since(part, False))

    def _since(self, part: AirPart, whole: bool = True) -> tuple[AirPart, ...]:
        """The parts from the last body before this one (not included) to this one."""
        found = [part]
        while found[-1].fed_by:
            before = self.tree.parts[found[-1].fed_by]
            if before.holds_m3 or (whole and self._holds(before)):
                break
            found.append(before)
        return tuple(reversed(found))

    def _upstream(self, part: AirPart) -> str:
        """The last body before this part; empty for the root."""
        return self._since(part)[0].fed_by

    def _body(self, part: AirPart) -> Body:
        if not part.fed_by:
            return Body(
                name=part.name,
                volume_m3=part.holds_m3,
                heat_w_k=_tank_heat(part.holds_m3),
                ambient_k=part.ambient_k,
            )
        path = self._path(self._since(part))
        own = part.holds_m3 or FORK_M3
        wall = sum(MOVING_W_M2_K * pi * tube.bore_m * tube.length_m for tube in path.tubes)
        block = _tank_heat(own) if part.kind == "tank" else MOVING_W_M2_K * 6.0 * own ** (2 / 3)
        return Body(
            name=part.name,
            volume_m3=own + sum(tube.volume_m3 for tube in path.tubes),
            fed_by=self._upstream(part),
            path=path,
            heat_w_k=wall + block,
            ambient_k=part.ambient_k,
        )

    def _path(self, parts: Sequence[AirPart]) -> Path:
        """Parts and hoses in a row as one path.

        What stands before a regulator passes air at the pressure there, at the worst that of the
        tank when the compressor starts: its conductance counts as much more, referred to the set
        pressure from which the path is fed.
        """
        air, outside = self.book.air, atmosphere(self.book.air)
        low = lowest_pa(air, self.tree.root)
        last = max((i for i, each in enumerate(parts) if each.kind == "regulator"), default=-1)
        limit, need = inf, 0.0
        for part in parts:
            if part.kind == "regulator":
                limit = min(set_of(air, part), limit - part.drop_pa)
                need += part.drop_pa
        higher = 1.0
        if last >= 0 and low is not None and limit < inf:
            higher = max((low + outside) / (limit + outside), 1.0)
        flows: list[Restriction] = []
        tubes: list[Tube] = []
        for i, part in enumerate(parts):
            scale = higher if i < last else 1.0
            if part.hose is not None and part.hose.length_m > 0.0:
                tubes.append(Tube(part.hose.bore_m, part.hose.length_m))
            if part.passes_m3_s_pa < inf:
                flows.append(Restriction(scale * part.passes_m3_s_pa, CRITICAL))
        return Path(parts=tuple(flows), tubes=tuple(tubes), set_pa=limit + outside, drop_pa=need)

    def _hung(self, device: Device, on_it: Cylinder | Jet) -> Cylinder | Jet:
        """A device at its body; a regulator of its own comes after what feeds it."""
        end = self.tree.parts[self.tree.hangs[device.name]]
        own = on_it.path
        if self._holds(end):
            body, path = end.name, Path()
        else:
            body, path = self._upstream(end), self._path(self._since(end))
        if own.set_pa < inf:
            drop = AirPart.drop_pa
            path = replace(
                path, set_pa=min(own.set_pa, path.set_pa - drop), drop_pa=path.drop_pa + drop
            )
        return replace(on_it, body=body, path=path)

    def _leak(self, bodies: Sequence[Body]) -> float:
        """Sonic conductance of all leaks, taken to sit at the first tank."""
        air = self.book.air
        outside = atmosphere(air)
        full = highest_pa(air, self.tree.root)
        # All of the book's figures are for the tank's own warmth; C rho0 p sqrt(T0/T) leaks.
        warm = self.tree.root.ambient_k or self.warm
        if air.leak_down is not None:
            began = air.leak_down.began_pa if air.leak_down.began_pa is not None else full
            if began is None or began <= air.leak_down.loses_pa:
                return 0.0
            held = sum(b.volume_m3 for b in bodies if _as_the_root(b, bodies))
            return leak_of_fall(
                held, began + outside, air.leak_down.loses_pa, air.leak_down.within.s, warm
            )
        if air.leaks_m3_s_anr is None or full is None:
            return 0.0
        return air.leaks_m3_s_anr / ((full + outside) * sqrt(T0 / warm))

    def _compressor(self) -> Compressor:
        machine = self.book.air.compressor
        assert machine is not None
        outside = atmosphere(self.book.air)
        evening = self.book.evening
        begins = None if evening is None or evening.begins is None else evening.begins.s
        return Compressor(
            delivers=delivers(machine, outside),
            cut_in_pa=machine.cut_in_pa + outside,
            cut_out_pa=machine.cut_out_pa + outside,
            duty=machine.duty,
            quiet_s=() if begins is None else quiet_s(machine, begins),
            inlet_k=self.warm if machine.inlet_k is None else machine.inlet_k,
        )


def _as_the_root(body: Body, bodies: Sequence[Body]) -> bool:
    """Whether a body stands at the root's pressure: no regulator on its way."""
    by_name = {each.name: each for each in bodies}
    while body.path is not None:
        if body.path.set_pa < inf:
            return False
        body = by_name[body.fed_by]
    return True


def delivers(machine: Machine, outside_pa: float) -> tuple[tuple[float, float], ...]:
    """A compressor's one or two points, absolute."""
    at = machine.cut_out_pa if machine.at_pa is None else machine.at_pa
    points = [(at + outside_pa, machine.delivers_m3_s)]
    if machine.also_at_pa is not None and machine.also_delivers_m3_s is not None:
        points.append((machine.also_at_pa + outside_pa, machine.also_delivers_m3_s))
    return tuple(points)


def quiet_s(machine: Machine, begins_s: float) -> tuple[tuple[float, float], ...]:
    """Its quiet hours in seconds from the beginning of the evening, for a day; in order."""
    found = []
    for first, last in machine.quiet:
        starts = (first.s - begins_s) % DAY_S
        lasts = (last.s - first.s) % DAY_S
        found.append((starts, starts + lasts))
        if starts + lasts > DAY_S:  # it has begun before the evening does
            found.append((0.0, starts + lasts - DAY_S))
    return tuple(sorted(found))


def leak_of_fall(
    volume_m3: float, began_pa: float, loses_pa: float, over_s: float, kelvin: float
) -> float:
    """Sonic conductance of a leak by which a volume's absolute pressure fell, isothermally.

    Choked blow-down, t = V/(R T rho0 C sqrt(T0/T)) ln(p1/p2): the first-order equation
    V/(R T) dp/dt = -C rho0 p sqrt(T0/T) solved.
    """
    rate = R * kelvin * RHO0 * sqrt(T0 / kelvin) / volume_m3
    return log(began_pa / (began_pa - loses_pa)) / (rate * over_s)


def _tank_heat(volume_m3: float) -> float:
    """W/K through the wall of a lying tank two and a half times as long as wide."""
    wide: float = (volume_m3 / (2.5 * pi / 4.0)) ** (1 / 3)
    return STILL_W_M2_K * 3.0 * pi * wide**2


def first_state(book: Book, plant: Plant) -> State:
    """How an evening begins: the tank full, everything behind it at its pressure, rods back.

    A tank of which nobody says how full it is stands at what the devices ask for.
    """
    outside = plant.atmosphere_pa
    gas = {
        name: Gas(pa=pa, kelvin=_warm(plant, name)) for name, pa in _standing(book, plant).items()
    }
    pistons = {}
    for each in plant.cylinders:
        at = min(each.path.set_pa, gas[each.body].pa - each.path.drop_pa)
        full = outside if book.air.dumped or each.out.acting != "double" else max(at, outside)
        pistons[each.name] = Piston(air=Chambers.at(outside, full, plant.ambient_k))
    return State(bodies=gas, pistons=pistons)


def full_pa(book: Book) -> float:
    """Absolute pressure of the first tank when it is full, or of an endless supply."""
    plant = plant_of(book)
    return _standing(book, plant)[plant.bodies[0].name]


def _warm(plant: Plant, name: str) -> float:
    own = next(body.ambient_k for body in plant.bodies if body.name == name)
    return plant.ambient_k if own is None else own


def _standing(book: Book, plant: Plant) -> Mapping[str, float]:
    """Absolute pressure of every body, nothing flowing and the tank full."""
    tree, _ = plumbing_of(book)
    full = None if plant.endless or tree is None else highest_pa(book.air, tree.root)
    asked = max(_asked(plant), default=plant.atmosphere_pa)
    standing: dict[str, float] = {}
    for body in plant.bodies:
        if body.path is None:
            standing[body.name] = asked if full is None else full + plant.atmosphere_pa
        else:
            come = standing[body.fed_by] - body.path.drop_pa
            standing[body.name] = max(min(body.path.set_pa, come), plant.atmosphere_pa)
    return standing


def _asked(plant: Plant) -> Iterable[float]:
    """What regulators are set to, with what they need before them."""
    paths = [each.path for each in plant.cylinders] + [each.path for each in plant.jets]
    paths += [body.path for body in plant.bodies if body.path is not None]
    return (path.set_pa + path.drop_pa for path in paths if path.set_pa < inf)
