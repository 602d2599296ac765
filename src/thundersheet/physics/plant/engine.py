"""The air of an evening from command to command: strokes that overlap are solved together.

In come commands in the order of time, out come landings as they become final. Each stroke runs in
the kernel with what stands before its valve: the mean pressure of its store while it lasts, and of
every shared stretch its share; both are found again until no landing moves. Between flurries the
reservoir goes on in closed form. Memory does not grow with the evening.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import inf, sqrt

from thundersheet.physics.gas import RHO0, T0, R, Restriction, flow_function, standard_litres
from thundersheet.physics.plant.alike import (
    MOST_KEPT,
    Key,
    Known,
    answer,
    answers_of,
    of_flow,
    of_task,
)
from thundersheet.physics.plant.feeds import (
    Feed,
    Store,
    before_valve,
    behind_three,
    feed_of,
    stands,
    stores_of,
)
from thundersheet.physics.plant.flows import Blow, Course, Flow, Level, Load, Step, share_of, walk
from thundersheet.physics.plant.legs import FINE_PA, Flights, Fly, content_kg
from thundersheet.physics.plant.records import (
    Accounts,
    Cylinder,
    Gas,
    Jet,
    Landing,
    Plant,
    Series,
    State,
    Switch,
)
from thundersheet.physics.plant.reservoir import Reservoir
from thundersheet.physics.plant.strokes import (
    Fed,
    FedOver,
    Fleet,
    Rest,
    Task,
    begins,
    fleet_of,
    fly,
    moved_on,
    piston_of,
    seen_by,
    switches_at,
)

SOON_S = 0.1
"""What is switched within this is solved together; that makes it no less exact, only cheaper."""
LONG_S = 600.0
"""After so long the air of a piston at rest is as warm as its surroundings."""
CLOSE_S = 3e-5
"""Ends that move by less from pass to pass are found."""
PASSES = 12
STEADY = 1e-6
"""Share of its pressure by which a store that has filled still moves in a second."""
PIECES = (0.06, 0.14, 0.3, 0.5, 0.75)
"""Where a stroke is cut whose supply moves: its first air comes fast, so it is cut finer there."""
HARDLY = 0.01
"""Share by which a supply may move while a stroke is solved in one piece."""
NO_VOLUME = 1e-12


class Engine:
    """A plant on its way through an evening."""

    def __init__(
        self,
        plant: Plant,
        state: State | None,
        fly_with: Fly,
        trace_every_s: float | None = None,
    ) -> None:
        self.plant = plant
        self.fleet: Fleet = fleet_of(plant.cylinders)
        self.flights = Flights(fly_with, self.fleet.rows, self.fleet.tables)
        self.stores, self.where = stores_of(plant)
        where = self.where
        root = self.stores[0].name
        first = state and replace(state, bodies={root: state.bodies[root]})
        self.reservoir = Reservoir(_lean(plant, self.stores), first, trace_every_s=trace_every_s)
        devices: list[Cylinder | Jet] = [*plant.cylinders, *plant.jets]
        self.feeds: list[Feed] = [feed_of(where, each.body, each.path) for each in devices]
        self._own = {b.name for b in plant.bodies if where[b.name][0] == 0}
        self._names = {each.name: i for i, each in enumerate(devices)}
        self.at_s = self.reservoir.at_s
        self.pa = self._first_pressures(state)
        self.reservoir.follow(self._own)
        self._tasks: list[Task] = []
        self._blows: list[_Open] = []
        self._past: list[Flow] = []
        self._course: Course | Level = Course([self.at_s], [[p] for p in self.pa])
        self._loads: dict[str, Load] = {}
        self._fresh_s = inf
        self._alike: dict[Key, Known] = {}
        self._rests: list[Rest] = []
        self._wake(state)
        self.leaked_kg = self.blown_kg = self.gone_kg = self.came_kg = 0.0
        self.drawn_kg = 0.0
        self._first_kg = self._inside_kg()
        self._ready: list[tuple[int, Landing]] = []

    def finish(self, to_s: float) -> None:
        """Cut everything at ``to_s``; commands that have not taken effect never do."""
        for task in [x for x in self._tasks if x.switch_s >= to_s]:
            self._tasks.remove(task)
            if task.switch is not None:
                self._ready.append((task.number, Landing(switch=task.switch)))
        for task in self._tasks:
            task.limit_s = min(task.limit_s, to_s)
        for jet in self._blows:
            jet.end_s = min(jet.end_s, to_s)
        self._converge()
        self.go_to(to_s)
        for i, rest in enumerate(self._rests):
            self._catch_up(i, rest)

    def _catch_up(self, device: int, rest: Rest) -> None:
        """Bring a resting piston's air to the present."""
        store = self.feeds[device].store
        row, supply = self.fleet.rows[rest.valve.stroke], self._stands(device, self.pa[store])
        moved = moved_on(rest, row, self.at_s, supply)
        before, after = (content_kg(row, x.y_m, x.air) for x in (rest, moved))
        took = after[0] - before[0]
        self.gone_kg += before[1] - after[1]
        if rest.valve.opens:
            self.gone_kg -= took
        elif store:
            self.pa[store] -= took / self.stores[store].kg_pa
        else:
            self.reservoir.draw(took)
            self.drawn_kg += took
            self.pa[0] = self.reservoir.pressure_pa
        self._rests[device] = moved

    def look(self) -> tuple[float, float]:
        """The root's pressure now, and its lowest since it was last looked at."""
        lowest = self.reservoir.lowest_pa
        self.reservoir.forget_lowest()
        return self.pa[0], lowest

    def ready(self) -> list[tuple[int, Landing]]:
        """Landings that have become final since last asked, with their commands' numbers."""
        found, self._ready = self._ready, []
        return found

    def _inside_kg(self) -> float:
        """All the air inside; an endless root's own left out."""
        root = 0.0 if self.plant.endless else self.reservoir.mass_kg
        rest = sum(s.kg_pa * p for s, p in zip(self.stores[1:], self.pa[1:], strict=True))
        pistons = (content_kg(self.fleet.rows[x.valve.stroke], x.y_m, x.air) for x in self._rests)
        return root + rest + sum(sum(each) for each in pistons)

    @property
    def accounts(self) -> Accounts:
        """Mass over the time that is past, once nothing is under way."""
        came = self.reservoir.came_kg + self.came_kg
        went = self.reservoir.leaked_kg + self.leaked_kg + self.blown_kg + self.gone_kg
        grown = self._inside_kg() - self._first_kg
        return Accounts(
            mass_in=came, mass_out=went, mass_growth=grown, mass_missing=came - went - grown
        )

    @property
    def state(self) -> State:
        """The plant now."""
        of_root = self.reservoir.state
        bodies = {
            each.name: Gas(pa=self._body_pa(each.name), kelvin=of_root.bodies[each.name].kelvin)
            for each in self.plant.bodies
        }
        pistons = {
            each.name: piston_of(rest, each.out.stroke_m)
            for each, rest in zip(self.plant.cylinders, self._rests, strict=True)
        }
        return replace(of_root, bodies=bodies, pistons=pistons)

    @property
    def series(self) -> Series:
        """The root's pressure and the compressor, where a trace was asked for."""
        trace = self.reservoir.trace
        if not trace:
            return Series()
        runs = self.reservoir.running.own
        return Series(
            at_s=tuple(t for t, _ in trace),
            columns={
                f"body {self.stores[0].name} pa": tuple(pa for _, pa in trace),
                "compressor": tuple(float(any(a <= t < b for a, b in runs)) for t, _ in trace),
            },
        )

    def _body_pa(self, name: str) -> float:
        store, way = self.where[name]
        return stands(way, self.pa[store], self.plant.atmosphere_pa)

    def _first_pressures(self, state: State | None) -> list[float]:
        if state is None:
            return [self.reservoir.pressure_of(each.name) for each in self.stores]
        return [
            state.bodies[each.name].pa
            if each.name in state.bodies
            else self.reservoir.pressure_of(each.name)
            for each in self.stores
        ]

    def _wake(self, state: State | None) -> None:
        """Every cylinder as it stands; what has not settled settles by a task of its own."""
        for i, cylinder in enumerate(self.plant.cylinders):
            piston = state.pistons.get(cylinder.name) if state else None
            supply = self._stands(i, self.pa[self.feeds[i].store])
            rest = begins(cylinder, self.fleet.valves[i], piston, self.at_s, supply)
            self._rests.append(rest)
            if not rest.still:
                self._tasks.append(Task(i, None, -1, rest.valve, self.at_s - 1.0, self.at_s, rest))
        if self._tasks:
            self._converge()

    def _stands(self, device: int, store_pa: float) -> float:
        return stands(self.feeds[device].segments, store_pa, self.plant.atmosphere_pa)

    def switch(self, switch: Switch, number: int) -> None:
        """Give a command; none may come before the last one."""
        if switch.device not in self._names:
            raise ValueError(f"{switch.device} is switched, but the plant has no such device")
        device = self._names[switch.device]
        if device >= len(self.plant.cylinders):
            self._blow(device, switch, number)
        else:
            self._stroke(device, switch, number)

    def _stroke(self, device: int, switch: Switch, number: int) -> None:
        cylinder, valves = self.plant.cylinders[device], self.fleet.valves[device]
        last = next((t for t in reversed(self._tasks) if t.device == device), None)
        standing = last.valve if last else self._rests[device].valve
        if switch.way not in {way for way, _ in valves}:
            raise ValueError(f"{cylinder.name} is a cylinder and can't be switched {switch.way}")
        if standing.way == switch.way:
            self._ready.append((number, Landing(switch=switch)))
            return
        out = standing.out if switch.way == "middle" else switch.way == "out"
        valve = valves[switch.way, out]
        delay = switches_at(self.fleet.rows[valve.stroke])
        if switch.way == "middle":
            delay = cylinder.out.valve_delay_s
        at_s = max(switch.at_s + delay, last.switch_s if last else self.at_s, self.at_s)
        self.go_to(at_s)
        last = next((t for t in reversed(self._tasks) if t.device == device), None)
        first = None
        if last is not None:
            last.limit_s = at_s
        else:
            first = self._rests[device]
        self._tasks.append(Task(device, switch, number, valve, switch.at_s, at_s, first, last))
        self._tasks.sort(key=lambda task: task.switch_s)
        self._fresh_s = min(self._fresh_s, at_s)

    def _blow(self, device: int, switch: Switch, number: int) -> None:
        jet = self.plant.jets[device - len(self.plant.cylinders)]
        if switch.way not in ("on", "off"):
            raise ValueError(f"{jet.name} is a jet and can't be switched {switch.way}")
        at_s = max(switch.at_s + jet.delay_s, self.at_s)
        self.go_to(at_s)
        mine = next((x for x in self._blows if x.device == device and x.end_s == inf), None)
        if (mine is not None) == (switch.way == "on"):
            self._ready.append((number, Landing(switch=switch)))
            return
        self._fresh_s = min(self._fresh_s, at_s)
        if mine is None:
            self._blows.append(_Open(jet, device, self.feeds[device], number, switch, at_s))
            return
        mine.end_s = at_s
        shut = Landing(switch=switch, start_s=at_s, full_s=at_s, supply_pa=self._body_pa(jet.body))
        self._ready.append((number, shut))

    def go_to(self, to_s: float) -> None:
        """Let the air go on; what has settled by then is final.

        What has just been switched is not solved at once: more may come that it overlaps with.
        """
        if to_s > self._fresh_s + SOON_S:
            self._converge()
        done = [task for task in self._tasks if task.end_s <= to_s]
        for task in done:
            if task.before is None:
                self._finish(task)
        base = min((task.switch_s for task in self._tasks), default=to_s)
        self._commit(min(base, to_s))

    def _finish(self, task: Task) -> None:
        """Book a task that is over, and hand its piston on."""
        lowest = self._lowest(task)
        landing = task.landing(lowest, self._still_takes(task))
        if landing is not None:
            self._ready.append((task.number, landing))
        self._past += task.legs
        if task.lump is not None:
            self._past.append(task.lump)
        self.gone_kg += task.gone_kg
        self.came_kg += task.came_kg
        self._tasks.remove(task)
        if task.after is None:
            raise AssertionError("a task is solved before it is over")
        self._rests[task.device] = task.after
        for other in self._tasks:
            if other.before is task:
                other.before, other.first = None, task.after

    def _still_takes(self, task: Task) -> float:
        """What the air in a piston at rest will draw in as it takes the ambient's temperature."""
        rest = task.after
        if rest is None or not rest.still or rest.valve.opens:
            return 0.0
        row = self.fleet.rows[rest.valve.stroke]
        supply = self._stands(task.device, self.pa[self.feeds[task.device].store])
        later = moved_on(rest, row, rest.at_s + LONG_S, supply)
        before, after = (content_kg(row, x.y_m, x.air)[0] for x in (rest, later))
        return after - before

    def _lowest(self, task: Task) -> float:
        """Lowest pressure of the body that fed it, until it landed."""
        feed, flight = self.feeds[task.device], task.flight
        end = task.end_s
        if flight is not None and flight.full_s >= 0.0:
            end = task.command_s + flight.full_s
        low = self._course.lowest(feed.store, task.switch_s, end)
        rate = max((leg.rate for leg in task.legs), default=0.0)
        way = [each for each in feed.segments if each.name]
        pa, sums = before_valve(way, low, self.plant.atmosphere_pa, (1.0,) * len(way), rate)
        return behind_three(sums, pa, rate)

    def _commit(self, to_s: float) -> None:
        """Make the time up to ``to_s`` past: the reservoir goes there, the stores too."""
        if to_s <= self.at_s:
            return
        flows = [x for x in self._flows() if x.begin_s < to_s and x.end_s >= self.at_s]
        blows = [x.blow(self) for x in self._blows]
        ends = [x.end_s for x in flows] + [x.end_s for x in blows]
        busy = min(max(ends, default=self.at_s), to_s)
        if busy > self.at_s or flows:
            self._walk(flows, blows, max(busy, self.at_s))
        if to_s > self.at_s:
            self._idle(to_s)
        self._past = [x for x in self._past if x.end_s > self.at_s or x.begin_s >= self.at_s]
        for jet in [x for x in self._blows if x.end_s <= self.at_s]:
            self._blows.remove(jet)
            self._ready.append((jet.number, jet.landing(self)))

    def _walk(self, flows: list[Flow], blows: list[Blow], to_s: float) -> None:
        gains, kg_pa = self.reservoir.line
        walk(
            self.stores, self.pa, gains, kg_pa, flows, blows, self.at_s, to_s,
            self.plant.atmosphere_pa, self._book,
        )  # fmt: skip
        self.at_s = to_s

    def _book(self, step: Step) -> None:
        """Let the reservoir live through a step of the stores."""
        self.drawn_kg += step.out_kg[0]
        self.leaked_kg += step.leaked_kg
        for device, kg in step.blown_kg.items():
            self.blown_kg += kg
            for jet in self._blows:
                if jet.device == device:
                    jet.took_kg += kg
                    jet.lowest_pa = min(jet.lowest_pa, self.pa[jet.feed.store])
        self.reservoir.draw(step.out_kg[0], step.end_s - step.begin_s)
        self.reservoir.advance(step.end_s)
        self.pa[0] = self.reservoir.pressure_pa

    def _idle(self, to_s: float) -> None:
        """Nothing is drawn: stores fill, then all follow the root in closed form."""
        while len(self.stores) > 1 and self.at_s < to_s and not self._filled():
            self._walk([], [], min(self.at_s + 1.0, to_s))
        if self.at_s >= to_s:
            return
        if len(self.stores) > 1:
            self._level()
            self.reservoir.follow(None)
        self.reservoir.advance(to_s)
        if len(self.stores) > 1:
            self.reservoir.follow(self._own)
            self.pa = [self.reservoir.pressure_of(each.name) for each in self.stores]
        self.pa[0] = self.reservoir.pressure_pa
        self.at_s = to_s

    def _filled(self) -> bool:
        """Whether every store stands where the root's pressure says, as near as makes no odds."""
        return all(
            abs(pa - self.reservoir.pressure_of(each.name)) <= 100 * STEADY * pa
            for each, pa in zip(self.stores[1:], self.pa[1:], strict=True)
        )

    def _level(self) -> None:
        """Give back to the root what the stores hold beyond that, or take it there."""
        for i, each in enumerate(self.stores[1:], 1):
            self.reservoir.draw(each.kg_pa * (self.reservoir.pressure_of(each.name) - self.pa[i]))

    def _flows(self) -> list[Flow]:
        lumps = [task.lump for task in self._tasks if task.lump is not None]
        return [*self._past, *lumps, *(leg for task in self._tasks for leg in task.legs)]

    def _converge(self) -> None:
        """Solve what overlaps until no landing moves any more, or as one that was alike."""
        self._fresh_s = inf
        key = self._likeness()
        known = self._alike.get(key) if key else None
        if known is not None and self._unfelt(known.sag_pa):
            for task, each in zip(self._tasks, known.answers, strict=True):
                answer(task, each, self.at_s, self._held_kg(task))
            self._course = self._course_of(self._flows())
            return
        for turn in range(PASSES):
            if self._pass() < CLOSE_S and turn:
                break
        if key:
            if len(self._alike) >= MOST_KEPT:
                self._alike.clear()
            sag = self.pa[0] - self._course.lowest(0, self.at_s, self._busy_until())
            self._alike[key] = Known(
                answers_of(self._tasks, self.at_s, [self._held_kg(x) for x in self._tasks]), sag
            )

    def _held_kg(self, task: Task) -> float:
        """The air in a piston before its task, where that begins from a state of its own."""
        rest = task.first
        if task.before is not None or rest is None:
            return 0.0
        return sum(content_kg(self.fleet.rows[rest.valve.stroke], rest.y_m, rest.air))

    def _busy_until(self) -> float:
        return max((x.end_s for x in self._flows()), default=self.at_s)

    def _pass(self) -> float:
        """One pass over all that overlaps; how far landings moved."""
        flows = self._flows()
        self._course = self._course_of(flows)
        passing = [*flows, *(x.flow(self) for x in self._blows)]
        self._loads = {
            name: Load(x for x in passing if name in x.shared)
            for name in {name for x in passing for name in x.shared}
        }
        for jet in self._blows:
            jet.share(self, self._loads)
        moved = 0.0
        for task in self._tasks:
            was = task.flight.full_s if task.flight else 0.0
            self._solve(task)
            moved = max(moved, abs((task.flight.full_s if task.flight else 0.0) - was))
        return moved

    def _unfelt(self, sag_pa: float) -> bool:
        """Whether regulators keep the root's pressure from all strokes, though it sags so far."""
        low, high = self.pa[0] - 1.1 * sag_pa - 1.0, self.pa[0]
        atmosphere = self.plant.atmosphere_pa
        for store in self.stores[1:]:
            if store.fed_by == 0 and store.most_pa > low - store.drop_pa:
                return False
        ways = {self.feeds[task.device] for task in self._tasks}
        return all(
            way.store
            or stands(way.segments, low, atmosphere) == stands(way.segments, high, atmosphere)
            for way in ways
        )

    def _likeness(self) -> Key | None:
        """What this flurry has in common with those that come to the same; None: nothing."""
        if self._blows or not self._unfelt(0.0):
            return None
        tasks = []
        for task in self._tasks:
            rest, moved = task.first, None
            if task.before is None and rest is not None and rest.still:
                supply = self._stands(task.device, self.pa[self.feeds[task.device].store])
                row = self.fleet.rows[rest.valve.stroke]
                moved = moved_on(rest, row, task.switch_s, supply).air
            tasks.append(of_task(task, self.at_s, moved))
        return (
            *tasks,
            *(of_flow(x, self.at_s) for x in self._past if x.end_s > self.at_s),
            *(round(pa / FINE_PA) for pa in self.pa[1:]),
        )

    def _course_of(self, flows: list[Flow]) -> Course | Level:
        """What the stores come to under these flows."""
        gains, kg_pa = self.reservoir.line
        if len(self.stores) == 1 and not self._blows:
            return Level(self.at_s, self.pa[0], gains, kg_pa, Load(flows))
        ends = [x.end_s for x in flows] + [task.switch_s for task in self._tasks]
        return walk(
            self.stores, list(self.pa), gains, kg_pa, flows,
            [x.blow(self) for x in self._blows], self.at_s, max(self.at_s, *ends) + 1e-6,
            self.plant.atmosphere_pa,
        )  # fmt: skip

    def _solve(self, task: Task) -> None:
        device, feed = task.device, self.feeds[task.device]
        full = self.plant.cylinders[device].out.stroke_m
        rest = task.first if task.before is None else task.before.after
        if rest is None:
            raise AssertionError("tasks are solved in the order of their switching")
        row, moved = self.fleet.rows[rest.valve.stroke], rest
        if rest.still:
            supply = self._stands(device, self._course.at(feed.store, task.switch_s))
            moved = moved_on(rest, row, task.switch_s, supply)
        seen = seen_by(moved._replace(at_s=task.switch_s), task.valve, full)
        task.lump, over = self._drift(task, rest, moved, feed)
        over += sum(content_kg(row, moved.y_m, moved.air))
        over -= sum(content_kg(self.fleet.rows[task.valve.stroke], seen.y_m, seen.air))
        rest = seen
        fly(
            task, rest, self.fleet.rows[task.valve.stroke], self.flights,
            self._fed_over(task, feed), self._cuts(task, feed), feed,
        )  # fmt: skip
        task.gone_kg += over

    def _drift(self, task: Task, rest: Rest, moved: Rest, feed: Feed) -> tuple[Flow | None, float]:
        """What a resting drive side took from its feed by now, and what else went to the open."""
        row = self.fleet.rows[rest.valve.stroke]
        before, after = (content_kg(row, x.y_m, x.air) for x in (rest, moved))
        took, went = after[0] - before[0], before[1] - after[1]
        if rest.valve.opens:
            return None, went - took
        if took == 0.0:
            return None, went
        at_s = task.switch_s
        return Flow(at_s, at_s, took, task.device, feed.store, ()), went

    def _cuts(self, task: Task, feed: Feed) -> list[float]:
        """Where its stroke is cut, by the pass before: nowhere if what feeds it hardly moves."""
        if not task.legs or task.flight is None:
            return []
        begin, end = task.switch_s, task.command_s + task.flight.end_s
        pa = [self._course.at(feed.store, t) for t in (begin, 0.5 * (begin + end), end)]
        moves = max(pa) - min(pa) > HARDLY * max(pa)
        own = task.flight.took_kg
        for name in feed.shared:
            moves = moves or self._loads[name].within(begin, end) > own * (1.0 + HARDLY)
        if not moves:
            return []
        cuts = [begin + part * (end - begin) for part in PIECES]
        near = 0.02 * (end - begin)
        edges = [x.switch_s for x in self._tasks if x.device != task.device]
        edges += [t for jet in self._blows for t in (jet.begin_s, jet.end_s)]
        for edge in edges:
            if begin + near < edge < end - near:
                cuts = [c for c in cuts if abs(c - edge) > near] + [edge]
        return sorted(cuts)

    def _fed_over(self, task: Task, feed: Feed) -> FedOver:
        """What stands before its valve over any stretch, by the pass before."""
        atmosphere, none = self.plant.atmosphere_pa, (1.0,) * len(feed.segments)
        own = Load(task.legs)

        def fed(a: float, b: float) -> Fed:
            if task.valve.opens:
                return Fed(atmosphere, (0.0, 0.0, 0.0))
            if not own.at_s:
                pa = self._course.at(feed.store, a)
                return Fed(*before_valve(feed.segments, pa, atmosphere, none, 0.0))
            b = min(b, max(own.at_s[-1], a + 1e-3))
            kg = own.within(a, b)
            shares = [
                share_of(kg, self._loads[x.name].within(a, b)) if x.name in feed.shared else 1.0
                for x in feed.segments
            ]
            pa = self._course.mean(feed.store, a, b)
            rate = max(kg, 0.0) / (b - a)
            return Fed(*before_valve(feed.segments, pa, atmosphere, shares, rate))

        return fed


class _Open:
    """A jet that is on."""

    def __init__(
        self, jet: Jet, device: int, feed: Feed, number: int, switch: Switch, begin_s: float
    ) -> None:
        self.jet, self.device, self.feed = jet, device, feed
        self.number, self.switch = number, switch
        self.begin_s, self.end_s = begin_s, inf
        self.took_kg, self.lowest_pa = 0.0, inf
        self.shares = (1.0,) * len(feed.segments)

    def kg_s(self, engine: Engine, store_pa: float) -> float:
        """What it blows when its store stands at ``store_pa``."""
        atmosphere = engine.plant.atmosphere_pa
        pa, sums = before_valve(self.feed.segments, store_pa, atmosphere, self.shares, 0.0)
        cubes, squares, indices = (a + b for a, b in zip(sums, _three(self.jet.flow), strict=True))
        c: float = cubes ** (-1.0 / 3.0)
        b = max(0.0, 1.0 - c * c * squares)
        kelvin = engine.stores[self.feed.store].kelvin
        psi = flow_function(atmosphere / pa, min(b, 0.99), min(1.0, indices / cubes))
        return c * RHO0 * pa * sqrt(T0 / kelvin) * psi

    def blow(self, engine: Engine) -> Blow:
        """As the stores' walk wants it."""
        return Blow(
            self.begin_s, self.end_s, self.device, self.feed.store, self.feed.shared,
            lambda pa: self.kg_s(engine, pa),
        )  # fmt: skip

    def flow(self, engine: Engine) -> Flow:
        """As those that share its feed see it."""
        end = min(self.end_s, engine.at_s + 3600.0)
        kg = self.kg_s(engine, engine.pa[self.feed.store]) * max(end - self.begin_s, 0.0)
        return Flow(self.begin_s, end, kg, self.device, self.feed.store, self.feed.shared)

    def share(self, engine: Engine, loads: Mapping[str, Load]) -> None:
        """Find its share of every stretch anew."""
        flow = self.flow(engine)
        if flow.end_s <= flow.begin_s:
            return
        self.shares = tuple(
            share_of(flow.kg, loads[each.name].within(flow.begin_s, flow.end_s))
            if each.name in self.feed.shared
            else 1.0
            for each in self.feed.segments
        )

    def landing(self, engine: Engine) -> Landing:
        """What is to be said of it."""
        low = min(self.lowest_pa, engine.pa[self.feed.store])
        way = [each for each in self.feed.segments if each.name]
        return Landing(
            switch=self.switch,
            start_s=self.begin_s,
            full_s=self.begin_s,
            supply_pa=stands(way, low, engine.plant.atmosphere_pa),
            air_l=standard_litres(self.took_kg),
        )


def _three(part: Restriction) -> tuple[float, float, float]:
    cube = part.c_m3_s_pa**-3
    return cube, (1.0 - part.b) / part.c_m3_s_pa**2, part.m * cube


def _lean(plant: Plant, stores: tuple[Store, ...]) -> Plant:
    """The plant with the volume of its stores alone."""
    volumes = {each.name: each.kg_pa * R * each.kelvin for each in stores}
    return replace(
        plant,
        bodies=tuple(
            replace(each, volume_m3=volumes.get(each.name, NO_VOLUME)) for each in plant.bodies
        ),
    )
