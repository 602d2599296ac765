"""Whether one compressor is enough for several books together."""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heapreplace

from thundersheet.base.shape import Record, text
from thundersheet.book.site import Fed, read_site
from thundersheet.calc._plant import CAUTIONS, SOURCE, kg_of_standard_litres, needs, pause_of
from thundersheet.calc._sum import Result, Sum
from thundersheet.model.air import Air
from thundersheet.model.site import Site
from thundersheet.physics.gas import flow_of_fad
from thundersheet.physics.plant.records import Body, Compressor, Plant
from thundersheet.physics.plant.reservoir import Reservoir
from thundersheet.physics.plant.running import ran_within, worst_duty
from thundersheet.plan.plan import plan_cues
from thundersheet.plan.plumbing import atmosphere, plant_of
from thundersheet.plan.plumbing.machine import delivers, quiet_s


@dataclass(frozen=True, kw_only=True)
class Ask(Record):
    """A site's file."""

    file: str = text("The site's file, which names its books.", example="site.yaml")


@dataclass(frozen=True, slots=True, kw_only=True)
class Taker:
    """One book as the common tank sees it."""

    name: str
    kg_per_show: float
    every_s: float
    needs_pa: float
    """Absolute, in the common tank."""


@dataclass(frozen=True, slots=True)
class Weak:
    """A show that finds too little in the tank."""

    name: str
    number: int
    """From 1, among its book's."""
    at_s: float


def answer(ask: Ask) -> tuple[Result, ...]:
    """Whether it is enough, how low the tank comes, and which show is the first weak one."""
    site, fed = read_site(ask.file)
    plant = plant_of_site(site)
    takers = tuple(taker_of(each, plant) for each in fed)
    reservoir = Reservoir(plant)
    weak = follow(reservoir, takers, site.lasts.s)
    ran = reservoir.running.own
    end = site.lasts.s
    limit = plant.compressor.duty if plant.compressor else 1.0
    per_m3 = flow_of_fad(1.0, plant.atmosphere_pa, plant.ambient_k)
    asks = sum(each.kg_per_show / each.every_s for each in takers)
    return (
        Result("enough", weak is None),
        Result("first_weak_show", None if weak is None else f"{weak.name}, show {weak.number}"),
        Result("weak_after", None if weak is None else weak.at_s / 60.0, "min"),
        Result("lowest", reservoir.lowest_pa - plant.atmosphere_pa, "Pa", "pressure"),
        Result("at_the_end", reservoir.pressure_pa - plant.atmosphere_pa, "Pa", "pressure"),
        Result("shows_take", 60_000.0 * asks / per_m3, "L/min free air"),
        Result("leaks_take", 60_000.0 * reservoir.leaked_kg / end / per_m3, "L/min free air"),
        Result("compressor_runs", 100.0 * ran_within(ran, 0.0, end) / end, "%"),
        Result("worst_ten_minutes", 100.0 * worst_duty(ran), "%"),
        Result("allowed", 100.0 * limit, "%"),
    )


def follow(reservoir: Reservoir, takers: tuple[Taker, ...], seconds: float) -> Weak | None:
    """Play all shows of all books into the tank; the first one that is weak, if any is.

    All begin together, which is the worst that can happen, and then each keeps its own pace.
    """
    weak: Weak | None = None
    due = [(0.0, at, 1) for at in range(len(takers))]
    while due and due[0][0] < seconds:
        at_s, index, number = due[0]
        taker = takers[index]
        reservoir.advance(at_s)
        reservoir.draw(taker.kg_per_show)
        if weak is None and reservoir.pressure_pa < taker.needs_pa:
            weak = Weak(taker.name, number, at_s)
        heapreplace(due, (number * taker.every_s, index, number + 1))
    reservoir.advance(seconds)
    return weak


def plant_of_site(site: Site) -> Plant:
    """The common tank with its compressor and leaks."""
    air = site.air
    outside = atmosphere(Air(altitude_m=air.altitude_m))
    machine = air.compressor
    full = machine.cut_out_pa + outside
    return Plant(
        bodies=(
            Body(
                name="tank",
                volume_m3=air.tank_m3,
                leak_m3_s_pa=air.leaks_m3_s_anr / full,
            ),
        ),
        compressor=Compressor(
            delivers=delivers(machine, outside),
            cut_in_pa=machine.cut_in_pa + outside,
            cut_out_pa=full,
            duty=machine.duty,
            quiet_s=() if site.opens is None else quiet_s(machine, site.opens.s),
            inlet_k=air.ambient_k if machine.inlet_k is None else machine.inlet_k,
        ),
        atmosphere_pa=outside,
        ambient_k=air.ambient_k,
    )


def taker_of(fed: Fed, plant: Plant) -> Taker:
    """A book's shows: their air, their pace, the pressure they need in the common tank."""
    entry, book = fed.entry, fed.book
    cues, _ = plan_cues(book)
    litres = sum(cue.lead.air_l for cue in cues)
    own = plant_of(book)
    least = needs(own)
    if entry.needs_pa is not None:
        least = entry.needs_pa + plant.atmosphere_pa
    elif least is not None:
        # A gauge pressure there is the same gauge pressure here, whatever the heights.
        least += plant.atmosphere_pa - own.atmosphere_pa
    if least is None:
        raise ValueError(f"nothing says what `{entry.book}` needs: write `needs: 3 bar` beside it")
    pace = entry.shows_per_hour
    return Taker(
        name=book.show.name,
        kg_per_show=kg_of_standard_litres(litres),
        every_s=3600.0 / pace if pace else pause_of(book),
        needs_pa=least,
    )


SUM = Sum(
    about="Whether one compressor and tank are enough for several books together (a site's file).",
    asks=Ask,
    answer=answer,
    formula="dm/dt = rho_inlet FAD(p) on - C_leak rho0 p sqrt(T0/T) - every book's shows",
    source=SOURCE,
    cautions=(
        *CAUTIONS,
        "All books begin together and keep their pace without a pause: the busiest evening.",
    ),
    example="file=site.yaml",
)
