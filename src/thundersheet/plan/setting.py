"""The surroundings in which a device acts: its air, the weather, the height above the sea.

In: a book and a device. Out: a `Setting`. With plumbing in the book it is that of a full tank with
nobody else on the feed; what an evening makes of it is `air`'s.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from thundersheet.model.book import Book
from thundersheet.model.device import Device, Setting
from thundersheet.physics.plant.records import Gas, Plant, State
from thundersheet.plan.air.feed import Line, fed, lines_of, stores_of
from thundersheet.plan.plumbing import atmosphere, first_state, plant_of


def bare_setting(book: Book, device: Device) -> Setting:
    """As if the regulator stood at the valve: the device's own goes before the book's."""
    outside = atmosphere(book.air)
    gauge = getattr(device, "pressure_pa", None)
    gauge = book.air.set_pa if gauge is None else gauge
    return Setting(
        supply_pa=None if gauge is None else gauge + outside,
        atmosphere_pa=outside,
        ambient_k=book.air.ambient_k,
        vented=book.air.dumped,
    )


def setting_of(book: Book, device: Device) -> Setting:
    """The surroundings of a device with a full tank and alone on its feed."""
    bare = bare_setting(book, device)
    piping = piping_of(book)
    line = piping.lines.get(device.name) if piping else None
    if piping is None or line is None:
        return bare
    return piping.alone(bare, line)


@dataclass(frozen=True, slots=True)
class Piping:
    """A book's plumbing as the leads need it."""

    plant: Plant
    lines: Mapping[str, Line]
    first: State
    """How an evening begins: a full tank, the compressor at rest."""
    stores: tuple[str, ...]
    """Bodies near the valves that feed a stroke themselves."""

    @property
    def full_pa(self) -> float:
        """At the root, with a full tank."""
        return self.first.bodies[self.plant.bodies[0].name].pa

    def from_root(self, most_pa: float) -> State:
        """Its first state, with no more than so much at the root."""
        root = self.plant.bodies[0].name
        if most_pa >= self.full_pa:
            return self.first
        return State(bodies={root: Gas(pa=most_pa, kelvin=self.first.bodies[root].kelvin)})

    def felt(self, line: Line) -> tuple[str, ...]:
        """The bodies on a device's way whose link its strokes feel."""
        kept = dict.fromkeys(self.stores, 0.0)
        return tuple(link.into for link in line.after(kept)[:-1])

    def alone(self, bare: Setting, line: Line) -> Setting:
        """The setting with a full tank and nobody else on the feed."""
        stores = {
            store: line.standing_at(store, self.full_pa) for store in self.stores if line.has(store)
        }
        return fed(bare, line, self.full_pa, stores=stores)


def piping_of(book: Book, ambient_k: float | None = None) -> Piping | None:
    """The plumbing at a temperature; None for a book without parts."""
    return _piping(_Same(book), ambient_k) if book.air.parts else None


@dataclass(frozen=True, eq=False, slots=True)
class _Same:
    """A book that is only equal to itself: comparing all of it costs more than its plumbing."""

    book: Book

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.book is self.book

    def __hash__(self) -> int:
        return id(self.book)


@lru_cache(maxsize=16)
def _piping(same: _Same, ambient_k: float | None) -> Piping:
    plant = plant_of(same.book, ambient_k=ambient_k)
    lines, first = lines_of(plant), first_state(same.book, plant)
    full = first.bodies[plant.bodies[0].name].pa
    return Piping(plant, lines, first, stores_of(plant, lines, full))
