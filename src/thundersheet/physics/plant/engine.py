"""The air of an evening from command to command.

In come commands in the order of time, out come landings as they become final. What overlaps is a
flurry, solved together; what is over is booked and forgotten, so that memory does not grow with
the evening. Between flurries the stock goes on in closed form.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import inf

from thundersheet.physics.plant.feeds import before_valve, behind_three, feed_of
from thundersheet.physics.plant.flows import Load
from thundersheet.physics.plant.flurry import CLOSE_S, Flurry
from thundersheet.physics.plant.jets import OpenJet
from thundersheet.physics.plant.legs import Flights, content_kg
from thundersheet.physics.plant.records import (
    Accounts,
    Cylinder,
    Jet,
    Landing,
    Plant,
    Series,
    State,
    Switch,
)
from thundersheet.physics.plant.stock import Stock
from thundersheet.physics.plant.strokes import (
    Fleet,
    Rest,
    Task,
    begins,
    moved_on,
    piston_of,
    switches_at,
)

SOON_S = 0.1
"""What is switched within this is solved together; that makes it no less exact, only cheaper."""
EVENING_OUT = 4
"""Chambers at rest and their store give to each other until both stand alike; so many rounds do."""
BEFORE_S = 1.0
"""What has not settled at first is taken to have been switched so long ago."""


class Engine:
    """A plant on its way through an evening."""

    def __init__(
        self,
        plant: Plant,
        state: State | None,
        fleet: Fleet,
        flights: Flights,
        trace_every_s: float | None = None,
        close_s: float = CLOSE_S,
    ) -> None:
        self.plant = plant
        self.stock = Stock(plant, state, trace_every_s)
        devices: list[Cylinder | Jet] = [*plant.cylinders, *plant.jets]
        self._feeds = [feed_of(self.stock.where, each.body, each.path) for each in devices]
        self._numbers = {each.name: i for i, each in enumerate(devices)}
        self.fleet = fleet
        self.flurry = Flurry(
            plant,
            self.fleet,
            flights,
            self.stock.stores,
            self._feeds,
            self.stock.now,
            close_s,
        )
        self._ready: list[tuple[int, Landing]] = []
        self._open: dict[int, OpenJet] = {}
        """Jets that no command has shut yet."""
        self._went_to_s = self.stock.at_s
        """What is over by then is over."""
        self._fresh_s = inf
        """When the first valve switched of those that are not solved yet."""
        self._rests = [self._first_rest(i, state) for i in range(len(plant.cylinders))]
        self.gone_kg = self.came_kg = 0.0
        """Out of cylinders into the open, and from there into them."""
        self._first_kg = self._inside_kg()

    def _first_rest(self, device: int, state: State | None) -> Rest:
        """How a cylinder stands at first; what has not settled settles by a task of its own."""
        cylinder = self.plant.cylinders[device]
        piston = state.pistons.get(cylinder.name) if state else None
        supply = self.flurry.stands(device, self.stock.pa[self._feeds[device].store])
        at_s = self.stock.at_s
        rest = begins(cylinder, self.fleet, device, piston, at_s, supply)
        if not rest.still:
            self._add(Task(device, None, -1, rest.valve, at_s - BEFORE_S, at_s, rest))
        return rest

    def _add(self, task: Task) -> None:
        self.flurry.tasks.append(task)
        self.flurry.tasks.sort(key=lambda each: each.switch_s)
        self._fresh_s = min(self._fresh_s, task.switch_s)

    def play(self, switches: Sequence[Switch], start_s: float, first: int) -> Iterator[Switch]:
        """Give the commands of a show that begins at ``start_s``, numbered from ``first``."""
        order, overtaken = self._in_order(switches)
        self._ready += [
            (first + i, Landing(switch=_later(switches[i], start_s))) for i in overtaken
        ]
        shuts: dict[str, float] = {}
        ends: dict[int, float] = {}
        for i in reversed(order):
            ends[i] = shuts.get(switches[i].device, inf)
            if switches[i].way == "off":
                shuts[switches[i].device] = switches[i].at_s + start_s
        for i in order:
            switch = _later(switches[i], start_s)
            yield switch
            self.switch(switch, first + i, ends[i])

    def _in_order(self, switches: Sequence[Switch]) -> tuple[list[int], list[int]]:
        """Commands as their valves switch, and those that a later one overtakes on the way."""
        lines: dict[str, list[tuple[float, int]]] = {}
        overtaken = []
        for i in sorted(range(len(switches)), key=lambda i: switches[i].at_s):
            at_s, line = self._takes_effect(switches[i]), lines.setdefault(switches[i].device, [])
            while line and line[-1][0] >= at_s:
                overtaken.append(line.pop()[1])
            line.append((at_s, i))
        return [i for _, i in sorted(x for line in lines.values() for x in line)], overtaken

    def _takes_effect(self, switch: Switch) -> float:
        """When its valve switches: valves differ, and so may the order of commands and valves."""
        device = self._number(switch)
        if device >= len(self.plant.cylinders):
            return switch.at_s + self.plant.jets[device - len(self.plant.cylinders)].delay_s
        valves = self.fleet.valves[device]
        found = next((x for (way, _), x in valves.items() if way == switch.way), None)
        if found is None:
            raise ValueError(f"{switch.device} is a cylinder and can't be switched {switch.way}")
        if switch.way == "middle":
            return switch.at_s + self.plant.cylinders[device].out.valve_delay_s
        return switch.at_s + switches_at(self.fleet.rows[found.stroke])

    def _number(self, switch: Switch) -> int:
        if switch.device not in self._numbers:
            raise ValueError(f"{switch.device} is switched, but the plant has no such device")
        return self._numbers[switch.device]

    def switch(self, switch: Switch, number: int, shut_s: float = inf) -> None:
        """Give a command; none may come before the last one.

        ``shut_s`` is when a jet will be shut, as far as is known: then it is solved only once.
        """
        device = self._number(switch)
        if device < len(self.plant.cylinders):
            self._stroke(device, switch, number)
        else:
            self._blow(device, switch, number, shut_s)

    def _stroke(self, device: int, switch: Switch, number: int) -> None:
        valves = self.fleet.valves[device]
        at_s = max(self._takes_effect(switch), self._went_to_s)
        last = self._last(device)
        standing = last.valve if last else self._rests[device].valve
        if standing.way == switch.way:
            self._ready.append((number, Landing(switch=switch)))
            return
        out = standing.out if switch.way == "middle" else switch.way == "out"
        valve = valves[switch.way, out]
        self.go_to(at_s)
        last = self._last(device)
        if last is not None:
            last.limit_s, last.end_s = at_s, inf
        first = None if last else self._rests[device]
        self._add(Task(device, switch, number, valve, switch.at_s, at_s, first, last))

    def _last(self, device: int) -> Task | None:
        return next((x for x in reversed(self.flurry.tasks) if x.device == device), None)

    def _blow(self, device: int, switch: Switch, number: int, shut_s: float) -> None:
        jet = self.plant.jets[device - len(self.plant.cylinders)]
        if switch.way not in ("on", "off"):
            raise ValueError(f"{jet.name} is a jet and can't be switched {switch.way}")
        at_s = max(self._takes_effect(switch), self._went_to_s)
        self.go_to(at_s)
        mine = self._open.get(device)
        if switch.way == "on" and mine is None:
            feed, air = self._feeds[device], self.plant.atmosphere_pa
            kelvin = self.stock.stores[feed.store].kelvin
            opened = OpenJet(jet, device, feed, number, switch, at_s, air, kelvin)
            opened.end_s = shut_s + jet.delay_s
            self.flurry.jets.append(opened)
            self._open[device] = opened
            self._fresh_s = min(self._fresh_s, at_s)
            return
        if switch.way == "off" and mine is not None:
            del self._open[device]
            if mine.end_s != at_s:
                mine.end_s = at_s
                self._fresh_s = min(self._fresh_s, at_s)
        # A valve that shuts, or one that stands as it is told to: it does so at once.
        low = self.stock.body_pa(jet.body)
        shut = Landing(switch=switch, start_s=at_s, full_s=at_s, supply_pa=low)
        self._ready.append((number, shut))

    def go_to(self, to_s: float) -> None:
        """Let the air go on; what has settled by then is final.

        What has just been switched is not solved at once: more may come that it overlaps with. It
        is solved before anything is final that it may have disturbed.
        """
        self._went_to_s = max(self._went_to_s, to_s)
        fresh = self._fresh_s
        if to_s > fresh + SOON_S or any(fresh < x.end_s <= to_s for x in self.flurry.tasks):
            self._solve()
        for task in [x for x in self.flurry.tasks if x.end_s <= to_s]:
            if task.before is None:
                self._finish(task)
        to_s = min(to_s, min((x.switch_s for x in self.flurry.tasks), default=inf))
        if to_s <= self.stock.at_s:
            return
        self.stock.go(to_s, self.flurry.flows(), self.flurry.jets)
        self.flurry.past = [x for x in self.flurry.past if max(x.begin_s, x.end_s - 1e-9) >= to_s]
        for jet in [x for x in self.flurry.jets if x.end_s <= to_s]:
            self.flurry.jets.remove(jet)
            self._ready.append((jet.number, jet.landing(self.stock.pa)))

    def _solve(self) -> None:
        self._fresh_s = inf
        self.flurry.converge(self.stock.now)

    def _finish(self, task: Task) -> None:
        """Book a task that is over, and hand its piston on."""
        if task.after is None:
            raise AssertionError("a task is solved before it is over")
        landing = task.landing(self._lowest(task))
        if landing is not None:
            self._ready.append((task.number, landing))
        self.flurry.past += task.legs
        if task.lump is not None:
            self.flurry.past.append(task.lump)
        self.gone_kg += task.gone_kg + max(-task.came_kg, 0.0)
        self.came_kg += max(task.came_kg, 0.0)
        self.flurry.tasks.remove(task)
        self._rests[task.device] = task.after
        for other in self.flurry.tasks:
            if other.before is task:
                other.before, other.first = None, task.after

    def _later(self, device: int, rest: Rest, at_s: float) -> Rest:
        supply = self.flurry.stands(device, self.stock.pa[self._feeds[device].store])
        return moved_on(rest, self.fleet.rows[rest.valve.stroke], at_s, supply)

    def _between(self, rest: Rest, later: Rest) -> tuple[float, float]:
        """What the drive side still has to draw, and what left the exhaust side."""
        row = self.fleet.rows[rest.valve.stroke]
        before, after = (content_kg(row, x.y_m, x.air) for x in (rest, later))
        return after[0] - before[0] - rest.owed_kg, before[1] - after[1]

    def _lowest(self, task: Task) -> float:
        """Lowest pressure of the body that fed it, until it landed: behind what fills that."""
        feed, flight, end = self._feeds[task.device], task.flight, task.end_s
        if flight is not None and flight.full_s >= 0.0:
            end = task.command_s + flight.full_s
        low = self.flurry.course.lowest(feed.store, task.switch_s, end)
        rate = max((leg.rate for leg in task.legs), default=0.0)
        way = [each for each in feed.segments if each.name]
        pa, sums = before_valve(way, low, self.plant.atmosphere_pa, (1.0,) * len(way), rate)
        return behind_three(sums, pa, rate)

    def finish(self, to_s: float) -> None:
        """Cut everything at ``to_s``; commands that have not taken effect never do."""
        for task in [x for x in self.flurry.tasks if x.switch_s >= to_s]:
            self.flurry.tasks.remove(task)
            if task.switch is not None:
                self._ready.append((task.number, Landing(switch=task.switch)))
        for task in self.flurry.tasks:
            task.limit_s = min(task.limit_s, to_s)
        for jet in self.flurry.jets:
            jet.end_s = min(jet.end_s, to_s)
        if self.flurry.tasks or self.flurry.jets:
            self._solve()
        self.go_to(to_s)
        for flow in self.flurry.past:
            # Drawn while a piston's air cools, which the end has come too early for.
            self.stock.take(flow.store, flow.kg - Load([flow]).by(to_s))
        self.flurry.past = []
        for _ in range(EVENING_OUT):
            for device, rest in enumerate(self._rests):
                self._catch_up(device, rest)

    def _catch_up(self, device: int, rest: Rest) -> None:
        """Bring a resting piston's air to the present."""
        later = self._later(device, rest, self.stock.at_s)
        took, went = self._between(rest, later)
        self.gone_kg += went
        if rest.valve.opens:
            self.gone_kg -= took
        else:
            self.stock.take(self._feeds[device].store, took)
        self._rests[device] = later

    def ready(self) -> list[tuple[int, Landing]]:
        """Landings that have become final since last asked, with their commands' numbers."""
        found, self._ready = self._ready, []
        return found

    def _inside_kg(self) -> float:
        """All the air inside; an endless root's own left out."""
        pistons = (content_kg(self.fleet.rows[x.valve.stroke], x.y_m, x.air) for x in self._rests)
        return self.stock.inside_kg + sum(sum(each) for each in pistons)

    @property
    def accounts(self) -> Accounts:
        """Mass over the time that is past, once nothing is under way."""
        stock = self.stock
        came = stock.reservoir.came_kg + self.came_kg
        went = stock.reservoir.leaked_kg + stock.leaked_kg + stock.blown_kg + self.gone_kg
        grown = self._inside_kg() - self._first_kg
        return Accounts(
            mass_in=came, mass_out=went, mass_growth=grown, mass_missing=came - went - grown
        )

    @property
    def state(self) -> State:
        """The plant now."""
        pistons = {
            each.name: piston_of(rest, each.out.stroke_m)
            for each, rest in zip(self.plant.cylinders, self._rests, strict=True)
        }
        return replace(self.stock.state, pistons=pistons)

    @property
    def series(self) -> Series:
        """The root's pressure and the compressor, where a trace was asked for."""
        trace, runs = self.stock.reservoir.trace, self.stock.reservoir.running.own
        if not trace:
            return Series()
        return Series(
            at_s=tuple(t for t, _ in trace),
            columns={
                f"body {self.stock.stores[0].name} pa": tuple(pa for _, pa in trace),
                "compressor": tuple(float(any(a <= t < b for a, b in runs)) for t, _ in trace),
            },
        )


def _later(switch: Switch, by_s: float) -> Switch:
    return replace(switch, at_s=switch.at_s + by_s) if by_s else switch
