"""A prop through an evening: show after show on one plant, with the version the ladder chooses.

In: a book, faults, when shows start. Out: `Played` shows and what tank and compressor did. The air
is the event-driven solver's; all that needs no air is the same in every show of a variant, and is
reckoned once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from thundersheet.model.book import Book
from thundersheet.physics.bulk import quiet
from thundersheet.physics.plant.records import Plant, Run, State, Switch
from thundersheet.physics.plant.running import worst_duty
from thundersheet.plan.plan import make_plan
from thundersheet.plan.plumbing.machine import quiet_s
from thundersheet.plan.records import Plan
from thundersheet.rehearse.air import air_of, landed_by_air
from thundersheet.rehearse.faults import Fault, on_switches
from thundersheet.rehearse.ladder import choose
from thundersheet.rehearse.measured import as_measured, measured_ms
from thundersheet.rehearse.motion import thinned
from thundersheet.rehearse.power import Samples
from thundersheet.rehearse.records import Landed, Played, Tank
from thundersheet.rehearse.rest import Rest, rest_after
from thundersheet.rehearse.stage import Staged
from thundersheet.rehearse.world import air_at_first, in_order, staged_with_wires

Say = Callable[[str], None]
TRACE_S = 10.0
"""The tank's course has a point at least so often."""


class House:
    """The prop with its air, which goes on from show to show.

    ``variant`` is what plays while nothing is asked of the ladder; named, the ladder stays out of
    it: whoever asks for the quiet show gets no other. ``from_s``: the clock at which time 0 lies,
    for the compressor's quiet hours.
    """

    def __init__(
        self,
        book: Book,
        plan: Plan,
        faults: Sequence[Fault] = (),
        *,
        from_s: float | None = None,
        say: Say = quiet,
    ) -> None:
        self.book, self.faults, self._say = book, tuple(faults), say
        self.plans: dict[str, Plan] = {plan.variant: plan}
        self._asked = plan.variant
        self._staged: dict[str, tuple[Staged, Samples]] = {}
        self._usual: dict[str, tuple[Landed, ...]] = {}
        plant, self.state = air_at_first(book, faults)
        self.plant = plant if from_s is None else _at_clock(book, plant, from_s)
        self.first_state = self.state
        self._trace: list[tuple[float, float]] = []
        self._on: list[tuple[float, float]] = []
        self._first: tuple[Staged, Samples, Run, State, float] | None = None

    @cached_property
    def root(self) -> str:
        """The body that the compressor fills."""
        return self.plant.bodies[0].name

    @property
    def tank_pa(self) -> float | None:
        """Where it stands now, absolute; None for a supply without end."""
        return None if self.plant.endless else self.state.bodies[self.root].pa

    def staged(self, variant: str) -> tuple[Staged, Samples]:
        """A variant ready to be played."""
        if variant not in self._staged:
            if variant not in self.plans:
                self.plans[variant] = make_plan(self.book, variant)
            self._staged[variant] = staged_with_wires(self.book, self.plans[variant], self.faults)
        return self._staged[variant]

    def chosen(self) -> tuple[str, str]:
        """The variant that would start now, and why."""
        if self._asked:
            return self._asked, ""
        return choose(self.book, self.tank_pa, self.plant.atmosphere_pa)

    def wait(self, until_s: float) -> None:
        """Nothing plays until then."""
        if until_s > self.state.at_s:
            self._run((), until_s)

    def play(self, number: int, start_s: float, until_s: float, guests: int) -> Played:
        """One show and the time until the next may start."""
        self.wait(start_s)
        variant, why = self.chosen()
        staged, samples = self.staged(variant)
        before, tank = self.state, self.tank_pa
        switches = on_switches(self.faults, staged.switches, first=number == 1)
        run = self._run([replace(each, at_s=each.at_s + start_s) for each in switches], until_s)
        if self._first is None:
            self._first = (staged, samples, run, before, start_s)
        own = air_of(run)
        landed = (*staged.landed, *landed_by_air(staged, run, start_s))
        landed = as_measured(staged.plan, landed, self._usual_of(variant))
        return Played(
            number=number,
            start_s=start_s,
            variant=variant,
            why=why,
            guests=guests,
            tank_pa=tank,
            lowest_pa=self._lowest(run),
            air_l=sum(litres for _, litres in own),
            air_of=own,
            landed=in_order(staged, landed),
        )

    def _usual_of(self, variant: str) -> tuple[Landed, ...]:
        """A variant's landings on a full tank with nothing wrong, if it has measured moves."""
        if variant not in self._usual:
            plan = self.plans[variant]
            self._usual[variant] = ()
            if measured_ms(plan):
                staged, _ = staged_with_wires(self.book, plan, ())
                plant, state = air_at_first(self.book, ())
                found = _event_driven(plant, staged.switches, plan.length.s, state, self._say)
                self._usual[variant] = (*staged.landed, *landed_by_air(staged, found))
        return self._usual[variant]

    def rest(self) -> Rest:
        """The least pause after the first show."""
        if self._first is None:
            return Rest(0.0, "nothing was played")
        staged, samples, run, before, start_s = self._first
        return rest_after(staged, samples, run, self.plant, before, start_s)

    def _run(self, switches: Sequence[Switch], until_s: float) -> Run:
        found = _event_driven(self.plant, switches, until_s, self.state, self._say)
        self.state = found.state
        column = found.series.columns.get(f"body {self.root} pa", ())
        if column:
            self._trace += self._coarse(found.series.at_s, column)
        self._on += found.compressor_on
        return found

    def _coarse(self, at_s: Sequence[float], pa: Sequence[float]) -> list[tuple[float, float]]:
        """A trace without what lies on a line, so that an evening of 500 shows stays small."""
        full = self.plant.compressor.cut_out_pa if self.plant.compressor else pa[0]
        rows = thinned(zip(at_s, (each / full for each in pa), strict=True))
        return [(at, share * full) for at, share in rows]

    def _lowest(self, run: Run) -> float | None:
        if self.plant.endless:
            return None
        column = run.series.columns.get(f"body {self.root} pa", ())
        return min((*column, run.state.bodies[self.root].pa))

    def tank(self) -> Tank | None:
        """The tank's course so far; None for a supply without end."""
        if self.plant.endless:
            return None
        on = merged(self._on)
        machine = self.plant.compressor
        length = self.state.at_s - self.first_state.at_s
        trace = _kept(self._trace)
        return Tank(
            at_s=tuple(at for at, _ in trace),
            pa=tuple(pa for _, pa in trace),
            compressor_on=on,
            cut_in_pa=machine.cut_in_pa if machine else None,
            cut_out_pa=machine.cut_out_pa if machine else None,
            duty=sum(end - begin for begin, end in on) / length if length > 0.0 else 0.0,
            worst_duty=worst_duty(on),
        )


def _event_driven(
    plant: Plant, switches: Sequence[Switch], until_s: float, state: State, say: Say
) -> Run:
    from thundersheet.physics.plant.evening import run  # numba, so only where it is needed

    return run(plant, switches, until_s, state=state, say=say, trace_every_s=TRACE_S)


def _at_clock(book: Book, plant: Plant, from_s: float) -> Plant:
    """The plant whose compressor keeps its quiet hours by an evening that begins then."""
    machine = book.air.compressor
    if machine is None or plant.compressor is None:
        return plant
    hours = quiet_s(machine, from_s)
    return replace(plant, compressor=replace(plant.compressor, quiet_s=hours))


def merged(stretches: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Stretches of which one begins where the other ends, as one."""
    found: list[tuple[float, float]] = []
    for begin, end in stretches:
        if found and begin <= found[-1][1] + 1e-9:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        elif end > begin:
            found.append((begin, end))
    return tuple(found)


def _kept(trace: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """In order and each instant once: what is last said of it."""
    by_time: Mapping[float, float] = dict(trace)
    return sorted(by_time.items())
