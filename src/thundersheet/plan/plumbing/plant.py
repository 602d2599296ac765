"""A book's air as a plant in SI, for the solvers: parts without volume melt into paths.

In: a book, and how warm it is. Out: the plant. A book that says `set` alone is a
plant without end, in which every device has just the pressure it asks for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, pi

from thundersheet.model.air import AirPart
from thundersheet.model.book import Book
from thundersheet.model.device import Device, Setting
from thundersheet.physics.gas import Restriction, Tube
from thundersheet.physics.plant.records import (
    Body,
    Cylinder,
    Jet,
    Path,
    Plant,
)
from thundersheet.plan.plumbing.graph import Plumbing, plumbing_of
from thundersheet.plan.plumbing.machine import compressor_of, leak_of
from thundersheet.plan.plumbing.pressures import (
    atmosphere,
    behind,
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
            bodies=(
                replace(root, leak_m3_s_pa=leak_of(book.air, self.tree, bodies, self.warm)),
                *rest,
            ),
            cylinders=tuple(each for each in made if isinstance(each, Cylinder)),
            jets=tuple(each for each in made if isinstance(each, Jet)),
            compressor=compressor_of(book, self.warm),
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
                volume_m3=part.holds_m3 + self._keeps_m3(part),
                heat_w_k=_tank_heat(part.holds_m3),
                ambient_k=part.ambient_k,
            )
        path = self._path(self._since(part))
        own = part.holds_m3 or FORK_M3
        wall = sum(MOVING_W_M2_K * pi * tube.bore_m * tube.length_m for tube in path.tubes)
        block = _tank_heat(own) if part.kind == "tank" else MOVING_W_M2_K * 6.0 * own ** (2 / 3)
        return Body(
            name=part.name,
            volume_m3=own + sum(tube.volume_m3 for tube in path.tubes) + self._keeps_m3(part),
            fed_by=self._upstream(part),
            path=path,
            heat_w_k=wall + block,
            ambient_k=part.ambient_k,
        )

    def _path(self, parts: Sequence[AirPart]) -> Path:
        """Parts and hoses in a row as one path.

        What stands before a regulator passes air at the pressure there, at the worst with the tank
        as low as when the compressor starts: its conductance counts as much more, referred to the
        set pressure from which the path is fed. So does a hose there, whose air stays upstream.
        """
        air, outside = self.book.air, atmosphere(self.book.air)
        last = _last_regulator(parts)
        limit, need = inf, 0.0
        for part in parts[: last + 1]:
            if part.kind == "regulator":
                limit = min(set_of(air, part), limit - part.drop_pa)
                need += part.drop_pa
        flows: list[Restriction] = []
        tubes: list[Tube] = []
        for i, part in enumerate(parts):
            hose = _tube(part)
            if hose is not None and i <= last:
                flows.append(_times(hose.flow, self._higher(part.fed_by, limit)))
            elif hose is not None:
                tubes.append(hose)
            if part.passes_m3_s_pa < inf:
                own = Restriction(part.passes_m3_s_pa, CRITICAL)
                flows.append(_times(own, self._higher(part.name, limit)) if i < last else own)
        return Path(parts=tuple(flows), tubes=tuple(tubes), set_pa=limit + outside, drop_pa=need)

    def _higher(self, part: str, limit_pa: float) -> float:
        """By how much more pressure stands at a part than the limit, absolute, the tank low."""
        low = lowest_pa(self.book.air, self.tree.root)
        if low is None or limit_pa == inf:
            return 1.0
        outside = atmosphere(self.book.air)
        stands = behind(self.book.air, self.tree.way_to(part), low)
        return max((stands + outside) / (limit_pa + outside), 1.0)

    def _keeps_m3(self, body: AirPart) -> float:
        """Air in hoses that hang on a body before a regulator: it stands at the body's pressure."""
        chains = (
            self._since(part)
            for part in self.tree.parts.values()
            if part.fed_by and self._holds(part) and self._upstream(part) == body.name
        )
        hoses = (_tube(part) for chain in chains for part in chain[: _last_regulator(chain) + 1])
        return sum(hose.volume_m3 for hose in hoses if hose is not None)

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


def _last_regulator(parts: Sequence[AirPart]) -> int:
    """Where the last regulator of a row stands; -1: there is none."""
    return max((i for i, each in enumerate(parts) if each.kind == "regulator"), default=-1)


def _tube(part: AirPart) -> Tube | None:
    """The hose that feeds a part."""
    hose = part.hose
    return None if hose is None or not hose.length_m else Tube(hose.bore_m, hose.length_m)


SPARE = 0.02
"""Share of the set pressure that a part before a regulator may seem to lose while it still leaves
the regulator all it needs; in truth none is lost then."""


def _times(part: Restriction, higher: float) -> Restriction:
    """A part that is fed with so many times the set pressure, as a path fed with that has it.

    Up to the flow psi(1/higher) the regulator makes good what the part loses: a limit more than a
    slope. So its critical ratio is put where the law of ISO 6358-1 loses `SPARE` at that flow,
    (1 - b') (1 - 1/higher) / (1 - b) = SPARE, and never below its own.
    """
    if higher <= 1.0:
        return part
    flat = SPARE * (1.0 - part.b) / (1.0 - 1.0 / higher)
    return Restriction(part.c_m3_s_pa * higher, max(part.b, 1.0 - flat))


def _tank_heat(volume_m3: float) -> float:
    """W/K through the wall of a lying tank two and a half times as long as wide."""
    wide: float = (volume_m3 / (2.5 * pi / 4.0)) ** (1 / 3)
    return STILL_W_M2_K * 3.0 * pi * wide**2
