"""Strokes that overlap, solved together until no landing moves.

In come tasks, jets and how the stores stand; each task is left with what became of it. Each stroke
runs with what stands before its valve: the mean pressure of its store over each piece of it, and
of every shared stretch its share of all that passes there in that time.
"""

from __future__ import annotations

from math import inf

from thundersheet.physics import kernel
from thundersheet.physics.plant.alike import (
    MOST_KEPT,
    Key,
    Known,
    answer,
    answers_of,
    moved_course,
    of_flow,
    of_task,
)
from thundersheet.physics.plant.feeds import Feed, Store, before_valve, behind_three, stands
from thundersheet.physics.plant.flows import Course, Flow, Level, Load, Now, share_of
from thundersheet.physics.plant.jets import OpenJet
from thundersheet.physics.plant.legs import FINE_PA, UNFED, Flights, content_kg
from thundersheet.physics.plant.records import Plant
from thundersheet.physics.plant.strokes import (
    GUESS_S,
    Fed,
    FedOver,
    Fleet,
    Rest,
    Task,
    fly,
    moved_on,
    seen_by,
)
from thundersheet.physics.plant.walking import walk

CLOSE_S = 3e-5
"""Landings that move by less from pass to pass are found."""
PASSES = 12
PIECES = (0.06, 0.14, 0.3, 0.5, 0.75)
"""Where a stroke is cut whose supply moves: its first air comes fast, so it is cut finer there."""
HARDLY = 0.005
"""Share by which a supply may move while a stroke is solved in one piece."""


class Flurry:
    """What is under way, and what it comes to."""

    def __init__(
        self,
        plant: Plant,
        fleet: Fleet,
        flights: Flights,
        stores: tuple[Store, ...],
        feeds: list[Feed],
        now: Now,
        close_s: float,
    ) -> None:
        self.plant, self.fleet, self.flights = plant, fleet, flights
        self.stores, self.feeds, self.now = stores, feeds, now
        self._close_s = close_s
        self.tasks: list[Task] = []
        """In the order of their valves' switching."""
        self.jets: list[OpenJet] = []
        self.past: list[Flow] = []
        """Of tasks that are over, not yet past."""
        self.course: Course | Level = Course([now.at_s], [[p] for p in now.pa])
        self._loads: dict[str, Load] = {}
        self._alike: dict[Key, Known] = {}

    def stands(self, device: int, store_pa: float) -> float:
        """What stands before a device's valve when nothing flows."""
        return stands(self.feeds[device].segments, store_pa, self.plant.atmosphere_pa)

    def flows(self) -> list[Flow]:
        """Everything that strokes draw from the stores."""
        lumps = [task.lump for task in self.tasks if task.lump is not None]
        return [*self.past, *lumps, *(leg for task in self.tasks for leg in task.legs)]

    def converge(self, now: Now) -> None:
        """Solve what overlaps until no landing moves any more, or as one that was alike."""
        self.now = now
        key = self._likeness()
        known = self._alike.get(key) if key else None
        if known is not None and self._unfelt(known.sag_pa):
            for task, each in zip(self.tasks, known.answers, strict=True):
                answer(task, each, self.now.at_s, self._held_kg(task))
            self.course = moved_course(known, self.now.at_s) or self._course_of(self.flows())
            return
        last = inf
        for turn in range(PASSES):
            moved = self._pass()
            # Passes close in by the same factor each time: the next would move no more than this.
            left = moved * moved / last if moved < last else moved
            if left < self._close_s and (turn > 1 or moved < self._close_s or not self.tasks):
                break
            last = moved
        if key:
            if len(self._alike) >= MOST_KEPT:
                self._alike.clear()
            sag = self.now.pa[0] - self.course.lowest(0, self.now.at_s, self._busy_until())
            self._alike[key] = Known(
                answers_of(self.tasks, self.now.at_s, [self._held_kg(x) for x in self.tasks]),
                sag,
                self.now.at_s,
                self.course if isinstance(self.course, Course) else None,
            )

    def _held_kg(self, task: Task) -> float:
        """The air in a piston before its task, where that begins from a state of its own."""
        rest = task.first
        if task.before is not None or rest is None:
            return 0.0
        return sum(content_kg(self.fleet.rows[rest.valve.stroke], rest.y_m, rest.air))

    def _busy_until(self) -> float:
        return max((x.end_s for x in self.flows()), default=self.now.at_s)

    def _pass(self) -> float:
        """One pass over all that overlaps; how far landings moved."""
        flows = self.flows()
        if self.tasks:
            self.course = self._course_of(flows)
        passing = [*flows, *(x.flow(self.now.at_s, self.now.pa) for x in self.jets)]
        self._loads = {
            name: Load(x for x in passing if name in x.shared)
            for name in {name for x in passing for name in x.shared}
        }
        for jet in self.jets:
            jet.share(jet.flow(self.now.at_s, self.now.pa), self._loads)
        moved = 0.0
        for task in self.tasks:
            was = task.flight.full_s if task.flight else 0.0
            self._solve(task)
            moved = max(moved, abs((task.flight.full_s if task.flight else 0.0) - was))
        return moved

    def _unfelt(self, sag_pa: float) -> bool:
        """Whether regulators keep the root's pressure from all strokes, though it sags so far."""
        low, high = self.now.pa[0] - 1.1 * sag_pa - 1.0, self.now.pa[0]
        atmosphere = self.plant.atmosphere_pa
        for store in self.stores[1:]:
            if store.fed_by == 0 and store.most_pa > low - store.drop_pa:
                return False
        ways = {self.feeds[task.device] for task in self.tasks}
        return all(
            way.store
            or stands(way.segments, low, atmosphere) == stands(way.segments, high, atmosphere)
            for way in ways
        )

    def _likeness(self) -> Key | None:
        """What this flurry has in common with those that come to the same; None: nothing."""
        if self.jets or not self._unfelt(0.0):
            return None
        tasks = []
        for task in self.tasks:
            rest, moved = task.first, None
            if task.before is None and rest is not None and rest.still:
                supply = self.stands(task.device, self.now.pa[self.feeds[task.device].store])
                row = self.fleet.rows[rest.valve.stroke]
                moved = moved_on(rest, row, task.switch_s, supply).air
            tasks.append(of_task(task, self.now.at_s, moved))
        return (
            *tasks,
            *(of_flow(x, self.now.at_s) for x in self.past if x.end_s > self.now.at_s),
            *(round(pa / FINE_PA) for pa in self.now.pa[1:]),
        )

    def _course_of(self, flows: list[Flow]) -> Course | Level:
        """What the stores come to under these flows."""
        if len(self.stores) == 1 and not self.jets:
            return Level(self.now, Load(flows))
        end_s = self.now.at_s + 1e-6
        for task in self.tasks:
            landed = task.command_s + task.flight.end_s if task.flight else task.switch_s
            end_s = max(end_s, landed + GUESS_S)
        blows = [x.blow() for x in self.jets]
        return walk(self.stores, self.now, flows, blows, end_s, self.plant.atmosphere_pa)

    def _solve(self, task: Task) -> None:
        device, feed = task.device, self.feeds[task.device]
        full = self.plant.cylinders[device].out.stroke_m
        rest = task.first if task.before is None else task.before.after
        if rest is None:
            raise AssertionError("tasks are solved in the order of their switching")
        row, moved = self.fleet.rows[rest.valve.stroke], rest
        if rest.still:
            supply = self.stands(device, self.course.at(feed.store, task.switch_s))
            moved = moved_on(rest, row, task.switch_s, supply)
        seen = seen_by(moved._replace(at_s=task.switch_s), task.valve, full)
        task.lump, over = self._drift(task, rest, moved, feed)
        over += sum(content_kg(row, moved.y_m, moved.air))
        over -= sum(content_kg(self.fleet.rows[task.valve.stroke], seen.y_m, seen.air))
        rest = seen
        settles = self.stands(device, self.now.pa[feed.store]) if feed.store else 0.0
        fly(
            task,
            rest,
            self.fleet.rows[task.valve.stroke],
            self.flights,
            self._fed_over(task, feed),
            self._cuts(task, feed),
            feed,
            settles,
        )
        task.gone_kg += over

    def _drift(self, task: Task, rest: Rest, moved: Rest, feed: Feed) -> tuple[Flow | None, float]:
        """What a resting drive side took from its feed by now, and what else went to the open."""
        row = self.fleet.rows[rest.valve.stroke]
        before, after = (content_kg(row, x.y_m, x.air) for x in (rest, moved))
        took, went = after[0] - before[0] - rest.owed_kg, before[1] - after[1]
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
        pa = [self.course.at(feed.store, t) for t in (begin, 0.5 * (begin + end), end)]
        moves = max(pa) - min(pa) > HARDLY * max(pa)
        moves = moves or (self._exact(task) and any(each.part for each in feed.segments))
        own = task.flight.took_kg
        for name in feed.shared:
            moves = moves or self._loads[name].within(begin, end) > own * (1.0 + HARDLY)
        if not moves:
            return []
        cuts = [begin + part * (end - begin) for part in PIECES]
        near = 0.02 * (end - begin)
        edges = [x.switch_s for x in self.tasks if x.device != task.device]
        edges += [t for jet in self.jets for t in (jet.begin_s, jet.end_s)]
        for edge in edges:
            if begin + near < edge < end - near:
                cuts = [c for c in cuts if abs(c - edge) > near] + [edge]
        return sorted(cuts)

    def _fed_over(self, task: Task, feed: Feed) -> FedOver:
        """What stands before its valve over any stretch, by the pass before."""
        atmosphere, none = self.plant.atmosphere_pa, (1.0,) * len(feed.segments)
        own = Load(task.legs)
        landed = task.command_s + task.flight.end_s if task.flight else task.switch_s

        def fed(a: float, b: float) -> Fed:
            if task.valve.opens:
                return Fed(atmosphere, (0.0, 0.0, 0.0))
            if not own.at_s:
                pa = self.course.at(feed.store, a)
                supply, sums = before_valve(feed.segments, pa, atmosphere, none, 0.0)
                return Fed(supply, UNFED if self._exact(task) else sums)
            # A stroke's last piece is asked for without an end: it ended there in the pass before.
            b = min(b, max(landed, a + 1e-3) if a < landed else own.at_s[-1])
            kg = own.within(a, b)
            shares = [
                share_of(kg, self._loads[x.name].within(a, b)) if x.name in feed.shared else 1.0
                for x in feed.segments
            ]
            pa = self.course.mean(feed.store, a, b)
            rate = max(kg, 0.0) / (b - a)
            supply, sums = before_valve(feed.segments, pa, atmosphere, shares, rate)
            if self._exact(task):
                # Its parts are a table that nothing can be put in series with: the feed takes off
                # what it drops at the mean flow of this piece.
                return Fed(behind_three(sums, supply, rate), UNFED)
            return Fed(supply, sums)

        return fed

    def _exact(self, task: Task) -> bool:
        """Whether its drive side is an exact chain."""
        return self.fleet.rows[task.valve.stroke][kernel.D_TABLE] >= 0.0
