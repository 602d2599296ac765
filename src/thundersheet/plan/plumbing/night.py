"""What a night does to the air, as far as it needs no simulation: leaks, cold, quiet hours.

In: a book, its tree and its cues. Out: findings.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import exp, sqrt

from thundersheet.base.finding import Cure, Finding
from thundersheet.model.book import Book
from thundersheet.physics.gas import P0, T0
from thundersheet.plan.plumbing.graph import Plumbing
from thundersheet.plan.plumbing.machine import DAY_S
from thundersheet.plan.plumbing.plant import plant_of
from thundersheet.plan.plumbing.pressures import atmosphere, highest_pa
from thundersheet.plan.records import Cue

EXPLAINS = {
    "AIR-23": "Air that is compressed drops its water, most of all on a cold night: it stands in "
    "the tank, runs into valves, and freezes where air expands. Valves and seals are slower as "
    "well, by an amount that only a measurement tells. Let the water off before every evening "
    "(`drained: yes` at the tank) or fit a dryer, and measure the leads in the cold.",
    "AIR-24": "All the leaks together lose more air than the shows use. The compressor then works "
    "for the leaks, and a tank without one is empty too soon. Soapy water finds them; a fitting "
    "that hisses is worth more than a larger tank.",
    "AIR-27": "Hours by the clock mean something only where the evening says when it begins.",
}

COLD_K = 278.15
"""Below 5 C outside, air that expands in a valve is below freezing (common practice)."""
DAMP = 0.8
"""Relative humidity of an evening outdoors (common practice, no source)."""
VAPOUR_R = 461.5
"""J/(kg K), gas constant of water vapour."""


@dataclass(frozen=True, slots=True)
class Use:
    """What an evening takes, in ANR litres; of a book without `evening`, its busiest hour."""

    shows: int
    hours: float
    show_l: float
    leak_l_h: float

    @property
    def shows_l(self) -> float:
        """All shows."""
        return self.shows * self.show_l

    @property
    def leaks_l(self) -> float:
        """All leaks, the tank full."""
        return self.hours * self.leak_l_h


def use_of(book: Book, tree: Plumbing, cues: Sequence[Cue]) -> Use:
    """Shows and leaks of the evening."""
    show_l = sum(cue.lead.air_l for cue in cues if cue.target.move.device in tree.hangs)
    every = book.show.length.s + book.show.rest.s
    shows, hours = max(int(book.guests.shows_per_hour or 3600.0 / every), 1), 1.0
    evening = book.evening
    if evening is not None:
        every = evening.every.s if evening.every is not None else every
        shows, hours = evening.shows, evening.shows * every / 3600.0
        if evening.begins is not None and evening.ends is not None:
            hours = ((evening.ends.s - evening.begins.s) % DAY_S) / 3600.0
    return Use(shows, hours, show_l, _leak_l_h(book, tree))


def _leak_l_h(book: Book, tree: Plumbing) -> float:
    """ANR litres an hour at the full tank: 1000 C p sqrt(T0/T)."""
    plant = plant_of(book)
    full = highest_pa(book.air, tree.root)
    if full is None:
        return 0.0
    root = plant.bodies[0]
    warm = root.ambient_k or plant.ambient_k
    flow = root.leak_m3_s_pa * (full + plant.atmosphere_pa) * sqrt(T0 / warm)
    return 3.6e6 * flow


def night(book: Book, tree: Plumbing, cues: Sequence[Cue]) -> Iterator[Finding]:
    """Everything about a night that needs no simulation."""
    use = use_of(book, tree, cues)
    yield from _leaks(book, use)
    yield from _cold(book, tree, use)
    yield from _quiet(book)


def _leaks(book: Book, use: Use) -> Iterator[Finding]:
    if not use.shows_l or use.leaks_l <= use.shows_l:
        return
    field = "leak_down" if book.air.leak_down is not None else "leaks_m3_s_anr"
    yield Finding(
        code="AIR-24",
        grade="warn",
        place=book.air.origin.of(field),
        says=f"The leaks lose {use.leak_l_h:.0f} l of free air an hour, {use.leaks_l:.0f} l in "
        f"{use.hours:.1f} h; {use.shows} shows use {use.shows_l:.0f} l.",
        allowed="Leaks should lose less than the shows use.",
        cures=(
            Cure(do="Find them with soapy water, fitting by fitting", cost="an hour"),
            Cure(do="Close the shut-off whenever no show is on", cost="somebody who does it"),
        ),
        about=(),
    )


def _cold(book: Book, tree: Plumbing, use: Use) -> Iterator[Finding]:
    """A cold evening, with water that nobody lets off."""
    coldest = None if book.evening is None else book.evening.coldest_k
    if coldest is None or coldest >= COLD_K or tree.root.drained or not tree.hangs:
        return
    dried = all(
        any(part.kind == "dryer" for part in tree.way_to(end)) for end in tree.hangs.values()
    )
    if dried:
        return
    assert book.evening is not None
    cold = book.units.show(coldest, "temperature")
    water = condensate_ml(book, tree, use.shows_l + use.leaks_l)
    yield Finding(
        code="AIR-23",
        grade="warn",
        place=book.evening.origin.of("coldest_k"),
        says=f"At {cold} water stands in `{tree.root.name}` (about {water:.0f} ml in an "
        "evening), may freeze in the valves, and they are slower.",
        allowed="Let it off before every evening, or dry the air.",
        cures=(
            Cure(do=f"Drain `{tree.root.name}` before every evening and write `drained: yes`",
                 cost="a minute"),
            Cure(do="Fit a dryer (`{kind: dryer}`) before the regulator", cost="a dryer"),
            Cure(do="Measure the leads in the cold and write them under `measured`",
                 cost="an evening"),
        ),
        about=(tree.root.name,),
    )  # fmt: skip


def condensate_ml(book: Book, tree: Plumbing, free_air_l: float) -> float:
    """Water that so much free air leaves in the tank: what comes in less what can stay as vapour.

    Sucked in at the warmest and 80 % humidity, cooled to the coldest at the tank's full pressure,
    where each litre of free air is smaller by the ratio of the pressures.
    """
    evening, air = book.evening, book.air
    assert evening is not None
    warm = air.ambient_k if evening.warmest_k is None else evening.warmest_k
    cold = air.ambient_k if evening.coldest_k is None else evening.coldest_k
    outside = atmosphere(air)
    full = (highest_pa(air, tree.root) or 0.0) + outside
    litres = free_air_l * P0 / outside * warm / T0  # ANR to what is sucked in
    stays = vapour_kg_m3(cold) * outside / full * cold / warm
    return max(litres * (DAMP * vapour_kg_m3(warm) - stays), 0.0)


def vapour_kg_m3(kelvin: float) -> float:
    """Water in saturated air: e/(Rv T), e = 611.2 exp(17.62 t/(243.12 + t)) Pa (Magnus formula).

    As in WMO-No. 8, annex 4.B; -45 to 60 C.
    """
    celsius = kelvin - 273.15
    pressure = 611.2 * exp(17.62 * celsius / (243.12 + celsius))
    return pressure / (VAPOUR_R * kelvin)


def _quiet(book: Book) -> Iterator[Finding]:
    compressor = book.air.compressor
    if compressor is None or not compressor.quiet:
        return
    if book.evening is None or book.evening.begins is None:
        yield Finding(
            code="AIR-27",
            grade="warn",
            place=compressor.origin.of("quiet"),
            says="The compressor has quiet hours, but the book does not say when its evening "
            "begins: they are not heeded.",
            allowed="Write `evening: {..., begins: 19:00}`.",
        )
