"""The air that is stored: the reservoir in closed form, and stores that take time to fill.

In come flows and jets with their times, out come where every store stands and what was leaked and
blown. While something flows the stores are walked in steps; in between they fill, and then all
follow the root in closed form.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from thundersheet.physics.gas import R
from thundersheet.physics.plant.feeds import Store, stands, stores_of
from thundersheet.physics.plant.flows import Flow, Now
from thundersheet.physics.plant.jets import OpenJet
from thundersheet.physics.plant.records import Gas, Plant, State
from thundersheet.physics.plant.reservoir import Reservoir
from thundersheet.physics.plant.walking import Step, walk

FILLED = 3e-4
"""Share of its pressure within which a store that fills is taken to have filled."""
FILLS_S = 1.0
"""So long at a time stores are walked until they have."""
CHUNK_S = 0.1
"""Steps of stores that fill are shorter than the root needs; it goes along so far at a time."""
NO_VOLUME = 1e-18
"""m3 of a body that only passes air on."""


class Stock:
    """All bodies of a plant on their way through an evening."""

    def __init__(self, plant: Plant, state: State | None, trace_every_s: float | None) -> None:
        self.plant = plant
        self.stores, self.where = stores_of(plant)
        root = self.stores[0].name
        first = state and replace(state, bodies={root: state.bodies[root]})
        self.reservoir = Reservoir(_lean(plant, self.stores), first, trace_every_s=trace_every_s)
        self.at_s = self.reservoir.at_s
        given = state.bodies if state else {}
        self.pa = [
            given[x.name].pa if x.name in given else self.reservoir.pressure_of(x.name)
            for x in self.stores
        ]
        self._own = {b.name for b in plant.bodies if self.where[b.name][0] == 0}
        self.reservoir.follow(self._own)
        self.leaked_kg = self.blown_kg = 0.0

    @property
    def now(self) -> Now:
        """Where it stands."""
        return Now(self.at_s, self.pa, *self.reservoir.line)

    def body_pa(self, name: str) -> float:
        """Where a body stands when nothing flows."""
        store, way = self.where[name]
        return stands(way, self.pa[store], self.plant.atmosphere_pa)

    def go(self, to_s: float, flows: Sequence[Flow], jets: Sequence[OpenJet]) -> None:
        """Go on to ``to_s`` with all that flows until then."""
        ends = [x.end_s for x in flows if x.begin_s < to_s] + [x.end_s for x in jets]
        busy = min(max(ends, default=self.at_s), to_s)
        at_once = any(x.begin_s >= self.at_s for x in flows if x.begin_s == x.end_s < to_s)
        if at_once or busy > self.at_s:
            # What is drawn at one instant needs a stretch to be drawn in.
            self._walk(flows, jets, min(max(busy + 1e-6, self.at_s + 1e-6), to_s))
        if to_s > self.at_s:
            self._idle(to_s)

    def _walk(self, flows: Sequence[Flow], jets: Sequence[OpenJet], to_s: float) -> None:
        drawn_kg = 0.0
        chunk_s = CHUNK_S if len(self.stores) > 1 else 0.0

        def book(step: Step) -> None:
            self.leaked_kg += step.leaked_kg
            for device, kg in step.blown_kg.items():
                self.blown_kg += kg
                for jet in jets:
                    if jet.device == device:
                        jet.took_kg += kg
                        jet.lowest_pa = min(jet.lowest_pa, self.pa[jet.feed.store])
            nonlocal drawn_kg
            drawn_kg += step.out_kg[0]
            if step.end_s - self.reservoir.at_s < chunk_s and step.end_s < to_s:
                return
            self.reservoir.draw(drawn_kg, step.end_s - self.reservoir.at_s)
            self.reservoir.advance(step.end_s)
            self.pa[0], drawn_kg = self.reservoir.pressure_pa, 0.0

        blows = [x.blow() for x in jets]
        walk(self.stores, self.now, flows, blows, to_s, self.plant.atmosphere_pa, book)
        self.at_s = to_s

    def _idle(self, to_s: float) -> None:
        """Nothing is drawn: stores fill, then all follow the root in closed form."""
        several = len(self.stores) > 1
        while several and self.at_s < to_s and not self._filled():
            self._walk([], [], min(self.at_s + FILLS_S, to_s))
        if self.at_s >= to_s:
            return
        if several:
            self.reservoir.follow(None, self._stored_kg)
        self.reservoir.advance(to_s)
        if several:
            self.reservoir.follow(self._own)
            self.pa = [self.reservoir.pressure_of(each.name) for each in self.stores]
        self.pa[0] = self.reservoir.pressure_pa
        self.at_s = to_s

    def _filled(self) -> bool:
        """Whether every store stands where the root's pressure says, as near as makes no odds."""
        return all(
            abs(pa - self.reservoir.pressure_of(each.name)) <= FILLED * pa
            for each, pa in zip(self.stores[1:], self.pa[1:], strict=True)
        )

    def take(self, store: int, kg: float) -> None:
        """Draw from a store at this instant."""
        if store:
            self.pa[store] -= kg / self.stores[store].kg_pa
            return
        self.reservoir.draw(kg)
        self.pa[0] = self.reservoir.pressure_pa

    def look(self) -> tuple[float, float]:
        """The root's pressure now, and its lowest since it was last looked at."""
        lowest = self.reservoir.lowest_pa
        self.reservoir.forget_lowest()
        return self.pa[0], lowest

    @property
    def inside_kg(self) -> float:
        """All the air inside; an endless root's own left out."""
        root = 0.0 if self.plant.endless else self.reservoir.mass_kg
        return root + self._stored_kg

    @property
    def _stored_kg(self) -> float:
        """What the stores hold, the root left out."""
        return sum(s.kg_pa * p for s, p in zip(self.stores[1:], self.pa[1:], strict=True))

    @property
    def state(self) -> State:
        """Bodies and compressor; pistons are not known here."""
        state = self.reservoir.state
        bodies = {
            name: Gas(pa=self.body_pa(name), kelvin=gas.kelvin)
            for name, gas in state.bodies.items()
        }
        return replace(state, bodies=bodies)


def _lean(plant: Plant, stores: tuple[Store, ...]) -> Plant:
    """The plant with the volume of its stores alone."""
    volumes = {each.name: each.kg_pa * R * each.kelvin for each in stores}
    return replace(
        plant,
        bodies=tuple(
            replace(each, volume_m3=volumes.get(each.name, NO_VOLUME)) for each in plant.bodies
        ),
    )
