"""What the sums about lasting air ask alike, and the plant that follows from it.

In: what was typed, or a book, or both; what is typed goes before. Out: the plant, a show's air,
the least pressure and the time from show to show, as `physics.plant` takes them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import TYPE_CHECKING

from thundersheet.base.shape import Record, quantity, span, text
from thundersheet.base.time import Span
from thundersheet.calc._sum import AIR_CAUTION
from thundersheet.physics.gas import P_ATM, T0, flow_of_fad
from thundersheet.physics.plant.closed import leak_of_free_air
from thundersheet.physics.plant.records import Body, Compressor, Gas, Path, Plant, State

if TYPE_CHECKING:
    from thundersheet.model.book import Book

CAUTIONS = (
    AIR_CAUTION,
    "Use the compressor's measured delivery (FAD), never its label, and count the leaks.",
)
SOURCE = (
    "gas law and ISO 6358-1, isothermal, followed from event to event; a show's air is drawn at "
    "its start, which is the safe side"
)


@dataclass(frozen=True, kw_only=True)
class AirAsk(Record):
    """A tank, what fills it and what a show takes."""

    book: str = text(
        "A book to take the air from; what is typed goes before it.",
        default="",
        example="book.yaml",
    )
    volume_m3: float | None = quantity(
        "volume", "Of the tank.", default=None, low=1e-6, high=1e3, example="24l"
    )
    high_pa: float | None = quantity(
        "pressure", "Gauge pressure when full: where the compressor cuts out.", default=None,
        low=1e3, high=5e6, example="8bar",
    )  # fmt: skip
    low_pa: float | None = quantity(
        "pressure", "Gauge pressure in the tank below which a show is weak.", default=None,
        low=0.0, high=5e6, example="3bar",
    )  # fmt: skip
    per_show_m3: float | None = quantity(
        "volume", "Free air of one show.", default=None, low=1e-9, high=100.0, example="2.2l"
    )
    every: Span | None = span("From one start to the next.", default=None, example="104s")
    cut_in_pa: float | None = quantity(
        "pressure", "Gauge pressure at which the compressor starts.", default=None, low=0.0,
        high=5e6, example="6bar",
    )  # fmt: skip
    delivers_m3_s: float | None = quantity(
        "volume flow", "Free air that it delivers.", default=None, low=1e-9, high=10.0,
        example="60l/min",
    )  # fmt: skip
    at_pa: float | None = quantity(
        "pressure", "Gauge pressure at which it does; left out: at all.", default=None, low=0.0,
        high=5e6,
    )  # fmt: skip
    also_delivers_m3_s: float | None = quantity(
        "volume flow", "The same at a second pressure.", default=None, low=0.0, high=10.0,
        example="45l/min",
    )  # fmt: skip
    also_at_pa: float | None = quantity(
        "pressure", "That second pressure.", default=None, low=0.0, high=5e6, example="8bar"
    )
    duty: float | None = quantity(
        "share", "Most of any ten minutes that it may run; left out: all.", default=None, low=0.01,
        high=1.0, example="60%",
    )  # fmt: skip
    leaks_m3_s: float | None = quantity(
        "volume flow", "Free air that all leaks lose with the tank full.", default=None, low=0.0,
        high=1.0, example="0.5l/min",
    )  # fmt: skip
    ambient_k: float | None = quantity(
        "temperature", "Of the air and the tank; left out: 20 C.", default=None, low=230.0,
        high=340.0,
    )  # fmt: skip
    atmosphere_pa: float | None = quantity(
        "pressure", "Pressure of the open air, absolute; left out: 1013.25 mbar.", default=None,
        low=3e4, high=1.1e5,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Asked:
    """What a sum about lasting air has to go on."""

    plant: Plant
    kg_per_show: float | None
    least_pa: float | None
    """Absolute, at the root."""
    every_s: float | None
    full_pa: float
    """Absolute, of the root, where it begins."""

    @property
    def full(self) -> State:
        """All bodies full, nothing runs."""
        return self.at(self.full_pa)

    def at(self, root_pa: float, *, running: bool = False) -> State:
        """The root at a pressure."""
        gas = Gas(pa=root_pa, kelvin=self.plant.ambient_k)
        return State(bodies={self.plant.bodies[0].name: gas}, running=running)

    def show_kg(self) -> float:
        """A show's air; ValueError where nobody has said it."""
        return _said(self.kg_per_show, "per-show", "2.2l")

    def least(self) -> float:
        """The least pressure; ValueError where nobody has said it."""
        return _said(self.least_pa, "low", "3bar")

    def pause_s(self) -> float:
        """From show to show; ValueError where nobody has said it."""
        return _said(self.every_s, "every", "104s")

    def free_m3(self, kg: float) -> float:
        """A mass as free air: at the open air's pressure, as warm as the tank."""
        return kg / flow_of_fad(1.0, self.plant.atmosphere_pa, self.plant.ambient_k)


def asked(ask: AirAsk) -> Asked:
    """The plant and the show of what was asked; ValueError where it cannot be."""
    if not ask.book:
        return _typed(ask)
    from thundersheet.book.read import read_book

    return _typed_over(of_book(read_book(ask.book), ask), ask)


def _typed(ask: AirAsk) -> Asked:
    atmosphere = P_ATM if ask.atmosphere_pa is None else ask.atmosphere_pa
    ambient = T0 if ask.ambient_k is None else ask.ambient_k
    full = _said(ask.high_pa, "high", "8bar") + atmosphere
    tank = Body(name="tank", volume_m3=_said(ask.volume_m3, "volume", "24l"))
    bare = Plant(bodies=(tank,), atmosphere_pa=atmosphere, ambient_k=ambient)
    return _typed_over(Asked(bare, None, None, None, full), ask)


def _typed_over(found: Asked, ask: AirAsk) -> Asked:
    """What was typed in the place of what the book says."""
    plant = found.plant
    if ask.atmosphere_pa is not None and ask.book:
        raise ValueError("`atmosphere` follows from the book's `altitude`: leave it out")
    if ask.ambient_k is not None:
        plant = replace(plant, ambient_k=ask.ambient_k)
    full = found.full_pa if ask.high_pa is None else ask.high_pa + plant.atmosphere_pa
    plant = replace(plant, compressor=_compressor(plant, ask, full))
    root, *others = plant.bodies
    if ask.volume_m3 is not None:
        root = replace(root, volume_m3=ask.volume_m3)
    if ask.leaks_m3_s is not None:
        others = [replace(body, leak_m3_s_pa=0.0) for body in others]
        leak = leak_of_free_air(ask.leaks_m3_s, full, plant.atmosphere_pa)
        root = replace(root, leak_m3_s_pa=leak)
    plant = replace(plant, bodies=(root, *others), endless=False)
    kg, least = found.kg_per_show, found.least_pa
    if ask.per_show_m3 is not None:
        kg = flow_of_fad(ask.per_show_m3, plant.atmosphere_pa, plant.ambient_k)
    if ask.low_pa is not None:
        least = ask.low_pa + plant.atmosphere_pa
    if least is not None and least >= full:
        raise ValueError("`low` must be below `high`")
    every = found.every_s if ask.every is None else ask.every.s
    return Asked(plant, kg, least, every, full)


def _compressor(plant: Plant, ask: AirAsk, full: float) -> Compressor | None:
    """The compressor as typed, over what the book has; None: there is none."""
    known, outside = plant.compressor, plant.atmosphere_pa
    if known is None and ask.delivers_m3_s is None:
        return None
    cut_in = ask.cut_in_pa
    if known is None:
        cut_in = _said(cut_in, "cut-in", "6bar")
    cut_in_pa = known.cut_in_pa if known and cut_in is None else (cut_in or 0.0) + outside
    if cut_in_pa >= full:
        raise ValueError("`cut-in` must be below `high`, where the compressor cuts out")
    duty = known.duty if known and ask.duty is None else (ask.duty or 1.0)
    points = _points(ask, outside) or (known.delivers if known else ())
    ambient = plant.ambient_k if known is None else known.inlet_k
    return Compressor(
        delivers=points,
        cut_in_pa=cut_in_pa,
        cut_out_pa=full,
        duty=duty,
        inlet_k=ambient,
    )


def _points(ask: AirAsk, outside: float) -> tuple[tuple[float, float], ...]:
    """Its rated points, as typed."""
    if ask.delivers_m3_s is None:
        return ()
    first = ((ask.at_pa or 0.0) + outside, ask.delivers_m3_s)
    if ask.also_delivers_m3_s is None:
        return (first,)
    if ask.at_pa is None or ask.also_at_pa is None or ask.at_pa == ask.also_at_pa:
        raise ValueError("two deliveries need two pressures: write `at` and `also-at`")
    return first, (ask.also_at_pa + outside, ask.also_delivers_m3_s)


def of_book(book: Book, ask: AirAsk) -> Asked:
    """What a book says of its air; ValueError where it has no tank and none is typed."""
    from thundersheet.plan.plan import plan_cues
    from thundersheet.plan.plumbing import first_state, plant_of

    plant = plant_of(book)
    cues, _ = plan_cues(book)
    kg = kg_of_standard_litres(sum(cue.lead.air_l for cue in cues))
    least, every = needs(plant), pause_of(book)
    if not plant.endless:
        full = first_state(book, plant).bodies[plant.bodies[0].name].pa
        return Asked(plant, kg, least, every, full)
    if ask.volume_m3 is None or ask.high_pa is None:
        raise ValueError(
            "this book's air has no tank: write its `parts` under `air`, or type `volume=24l "
            "high=8bar`"
        )
    tank = Body(name="tank", volume_m3=ask.volume_m3)
    outside = plant.atmosphere_pa
    plant = Plant(bodies=(tank,), atmosphere_pa=outside, ambient_k=plant.ambient_k)
    return Asked(plant, kg, least, every, ask.high_pa + outside)


def needs(plant: Plant) -> float | None:
    """The root's pressure at which every device still gets what its regulators are set to.

    Absolute; None where no regulator says what that is.
    """
    paths = [(each.body, each.path) for each in plant.cylinders]
    paths += [(each.body, each.path) for each in plant.jets]
    found = [_needs(plant, *each) for each in paths]
    return max(found) if found and max(found) < inf else None


def _needs(plant: Plant, body: str, path: Path) -> float:
    by_name: Mapping[str, Body] = {each.name: each for each in plant.bodies}
    need, at = path.set_pa + path.drop_pa, by_name[body]
    while at.path is not None:
        need = min(need, at.path.set_pa) + at.path.drop_pa
        at = by_name[at.fed_by]
    return need


def kg_of_standard_litres(litres: float) -> float:
    """The mass of standard litres (ANR, ISO 8778)."""
    from thundersheet.physics.gas import standard_litres

    return litres / standard_litres(1.0)


def pause_of(book: Book) -> float:
    """From one start to the next: as the evening says, else as the guests, else length and rest."""
    evening = getattr(book, "evening", None)
    if evening is not None and evening.every is not None:
        return float(evening.every.s)
    if book.guests.shows_per_hour:
        return 3600.0 / book.guests.shows_per_hour
    return book.show.length.s + book.show.rest.s


def _said(value: float | None, key: str, example: str) -> float:
    if value is None:
        raise ValueError(f"`{key}` is needed here: write for example `{key}={example}`")
    return value
