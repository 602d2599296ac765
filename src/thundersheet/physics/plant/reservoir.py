"""Tank, compressor and leaks followed from event to event in closed form; no numpy, no steps.

In come a plant and what is drawn from it and when; out come pressures, when the compressor ran and
exact accounts of mass. Bodies further down count as standing at min(set, upstream - drop) at any
time: how fast they fill is the strokes' matter (`evening`). Isothermal throughout.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection
from dataclasses import replace
from math import inf

from thundersheet.physics.plant.closed import gain, gain_held, time_to
from thundersheet.physics.plant.records import Accounts, Gas, Plant, State
from thundersheet.physics.plant.running import Running, worst_duty
from thundersheet.physics.plant.vessels import Range, ranges_of, vessels_of


class Reservoir:
    """The air of a plant over time: draw from it, advance it, ask it.

    It starts at ``state``, or at rest with the root at the compressor's cut-out. Time only goes
    forward. `trace` holds (s, Pa) of the root at every event, and between them at least every
    ``trace_every_s``; None keeps no trace, so that an evening needs no more memory than a show.
    """

    def __init__(
        self, plant: Plant, state: State | None = None, *, trace_every_s: float | None = None
    ) -> None:
        self.plant = plant
        self.vessels = vessels_of(plant)
        self._known_ranges: dict[frozenset[str] | None, tuple[Range, ...]] = {}
        self._ranges = self._ranges_with(None)
        self._lows = [each.low for each in self._ranges]
        self.at_s = self.began_s = state.at_s if state else 0.0
        self.pressure_pa = self._first_pressure(state)
        self.running = Running(plant.compressor, state, self.pressure_pa, self.at_s)
        self.first_kg = self.mass_kg
        self.came_kg = self.leaked_kg = self.drawn_kg = self.short_kg = 0.0
        self.lowest_pa, self.lowest_at_s = self.pressure_pa, self.at_s
        self._demands: list[tuple[float, float]] = []
        self._every = trace_every_s
        self.trace: list[tuple[float, float]] = []
        self._note()

    def _first_pressure(self, state: State | None) -> float:
        compressor = self.plant.compressor
        if state is None:
            if compressor is None:
                raise ValueError("a plant without a compressor needs its first state")
            return compressor.cut_out_pa
        root = state.bodies[self.vessels[0].name].pa
        if self.plant.endless or any(each.name not in state.bodies for each in self.vessels):
            return root
        mass = sum(each.kg_pa * state.bodies[each.name].pa for each in self.vessels)
        return self._pressure_at(mass)

    def alone(self) -> Reservoir:
        """The same air with the compressor switched off from now on."""
        return Reservoir(
            replace(self.plant, compressor=None), self.state, trace_every_s=self._every
        )

    @property
    def mass_kg(self) -> float:
        """All the air inside, down to nothing."""
        return self._range(self.pressure_pa).mass(self.pressure_pa)

    def pressure_of(self, body: str) -> float:
        """Where a body stands now, once it has filled."""
        at = self.plant.atmosphere_pa
        return next(v.pressure(self.pressure_pa, at) for v in self.vessels if v.name == body)

    def draw(self, kg: float, over_s: float = 0.0) -> None:
        """Take ``kg`` at this instant, or evenly over the next ``over_s``; below zero brings it.

        What the plant does not hold above the open air's pressure is missing: ``short_kg``.
        """
        if over_s > 0.0:
            self._demands.append((self.at_s + over_s, kg / over_s))
            return
        if self.plant.endless:
            self.drawn_kg += kg
            self.came_kg += kg
            return
        mass = self.mass_kg
        given = min(kg, mass - self._ranges[0].mass(self._lows[0]))
        self.drawn_kg += given
        self.short_kg += kg - given
        self.pressure_pa = self._pressure_at(mass - given)
        self._note()

    def follow(self, names: Collection[str] | None, more_kg: float = 0.0) -> None:
        """Count only these bodies from now on (None: all).

        Somebody else follows the rest: what goes there is drawn. With ``more_kg``, what those held
        that are now counted again, the root finds the pressure at which all stand alike.
        """
        held = self.mass_kg + more_kg
        self._ranges = self._ranges_with(names)
        self._lows = [each.low for each in self._ranges]
        if names is None and not self.plant.endless:
            self.pressure_pa = self._pressure_at(held)
            self._note()

    def _ranges_with(self, names: Collection[str] | None) -> tuple[Range, ...]:
        key = frozenset(names) if names is not None else None
        known = self._known_ranges.get(key)
        if known is None:
            kept = tuple(each for each in self.vessels if names is None or each.name in names)
            known = self._known_ranges[key] = ranges_of(kept, self.plant)
        return known

    @property
    def line(self) -> tuple[float, float]:
        """kg/s that the root gains now, draws left out, and kg that a pascal more would take."""
        span = self._range(self.pressure_pa)
        if self.plant.endless:
            return 0.0, inf
        return span.rate(self.pressure_pa, self.running.now, 0.0)[0] * span.kg_pa, span.kg_pa

    def forget_lowest(self) -> None:
        """Follow the lowest pressure afresh from now on."""
        self.lowest_pa, self.lowest_at_s = self.pressure_pa, self.at_s

    def advance(self, to_s: float, *, stop_at_pa: float | None = None) -> bool:
        """Go on to ``to_s``, or until the root comes to ``stop_at_pa``; whether it did."""
        if to_s < self.at_s - 1e-9:
            raise ValueError(f"time only goes forward: {to_s:g} s lies before {self.at_s:g} s")
        if stop_at_pa == self.pressure_pa:
            return True
        while self.at_s < to_s:
            self._step(to_s, stop_at_pa)
            if stop_at_pa == self.pressure_pa:
                return True
        return False

    def _step(self, to_s: float, stop_at_pa: float | None) -> None:
        """Up to the next event."""
        until = min(to_s, self.running.changes_s(self.at_s))
        if self._every is not None:
            until = min(until, self.at_s + self._every)
        demand = 0.0
        for end, flow in self._demands:
            until = min(until, end)
            demand += flow
        if self.plant.endless:
            self._pass(until, self.pressure_pa, demand * (until - self.at_s), 0.0, demand)
            return
        p, span = self.pressure_pa, self._range(self.pressure_pa)
        rate, slope = span.rate(p, self.running.now, demand)
        if rate < 0.0 and p <= span.low:
            if p <= self._lows[0]:
                self._empty(until, demand)
                return
            span = self._ranges[bisect_right(self._lows, p) - 2]
            rate, slope = span.rate(p, self.running.now, demand)
        target = self._target(rate, span, stop_at_pa)
        took = time_to(target - p, rate, slope) if target is not None else inf
        arrives = target is not None and self.at_s + took <= until
        took = took if arrives else until - self.at_s
        held = p * took + gain_held(rate, slope, took)
        come = span.come_0 * took + span.come_1 * held if self.running.now else 0.0
        leak = span.leak_0 * took + span.leak_1 * held
        then = target if arrives and target is not None else p + gain(rate, slope, took)
        self._pass(self.at_s + took if arrives else until, then, come, leak, demand)

    def _target(self, rate: float, span: Range, stop_at_pa: float | None) -> float | None:
        """The pressure at which something happens next, on the way that ``rate`` goes."""
        p, compressor = self.pressure_pa, self.plant.compressor
        points = [span.high if rate > 0.0 else span.low]
        if compressor:
            points.append(compressor.cut_out_pa if rate > 0.0 else compressor.cut_in_pa)
        if stop_at_pa is not None:
            points.append(stop_at_pa)
        if rate > 0.0:
            return min((x for x in points if p < x < inf), default=None)
        return max((x for x in points if x < p), default=None)

    def _empty(self, until: float, demand: float) -> None:
        """Nothing above the open air's pressure: what comes goes, the rest is missing."""
        took, span = until - self.at_s, self._ranges[0]
        come = (span.come_0 + span.come_1 * span.low) * took if self.running.now else 0.0
        short = max(0.0, demand * took - come)
        self.short_kg += short
        self.drawn_kg -= short
        self._pass(until, span.low, come, max(0.0, come - demand * took), demand)

    def _pass(self, to_s: float, pa: float, come: float, leak: float, demand: float) -> None:
        """Book a stretch that ends at ``to_s`` and ``pa``, and let the compressor decide anew."""
        self.came_kg += come
        self.leaked_kg += leak
        self.drawn_kg += demand * (to_s - self.at_s)
        self.running.go_on(self.at_s, to_s)
        self.at_s, self.pressure_pa = to_s, pa
        if self._demands:
            self._demands = [each for each in self._demands if each[0] > to_s]
        self._note()

    def _note(self) -> None:
        self.running.see(self.pressure_pa, self.at_s)
        if self.pressure_pa < self.lowest_pa:
            self.lowest_pa, self.lowest_at_s = self.pressure_pa, self.at_s
        if self._every is not None:
            self.trace.append((self.at_s, self.pressure_pa))

    def _range(self, pa: float) -> Range:
        return self._ranges[max(0, bisect_right(self._lows, pa) - 1)]

    def _pressure_at(self, mass: float) -> float:
        span = self._ranges[0]
        for each in self._ranges[1:]:
            if mass < each.mass_low:
                break
            span = each
        return span.low + (mass - span.mass_low) / span.kg_pa

    @property
    def duty(self) -> float:
        """Share of the time so far that the compressor ran."""
        length = self.at_s - self.began_s
        return sum(b - a for a, b in self.running.own) / length if length else 0.0

    @property
    def worst_duty(self) -> float:
        """Largest share of any 600 s that it ran, what it ran before included."""
        return worst_duty(tuple(self.running.stretches))

    @property
    def accounts(self) -> Accounts:
        """What came, what went, what stayed; ``mass_missing`` is what the sums leave over."""
        grown = 0.0 if self.plant.endless else self.mass_kg - self.first_kg
        went = self.drawn_kg + self.leaked_kg
        return Accounts(
            mass_in=self.came_kg,
            mass_out=went,
            mass_growth=grown,
            mass_missing=self.came_kg - went - grown,
        )

    @property
    def state(self) -> State:
        """All that a later run needs to go on from here; demands that still run are not in it."""
        at = self.plant.atmosphere_pa
        return State(
            at_s=self.at_s,
            bodies={
                each.name: Gas(pa=each.pressure(self.pressure_pa, at), kelvin=each.kelvin)
                for each in self.vessels
            },
            running=self.running.now,
            calls=self.running.calls,
            ran_s=self.running.since(self.at_s),
        )
