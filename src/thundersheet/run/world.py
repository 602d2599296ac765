"""A simulated world around one controller: time, inputs, a board, a programme, all of them by lot.

In: a setup, a seed, odds. The world drops, delays, repeats and corrupts what the controller is told
(at most one report in a row is lost, as a line with acknowledged reports gives it). It keeps the
truth beside what it says. What people and misfortune do in it, ``simulate`` adds.
"""

from __future__ import annotations

import heapq
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

from thundersheet.base.time import ZERO, Span, Time
from thundersheet.run.controller import Controller
from thundersheet.run.events import (
    Begin,
    Counted,
    Effect,
    Event,
    Mark,
    OutputFailed,
    Over,
    PowerUp,
    Read,
    Say,
    Send,
)
from thundersheet.run.promises import SAFE_WITHIN, TICK_LATE, Truth
from thundersheet.run.sensors import Value
from thundersheet.run.setup import Setup

REPORT_LATE = 5.0
"""Milliseconds that a report may take at most."""
AGAIN = 8.0
"""Milliseconds after which a lost report is said again."""
CYCLE = Span.ms(1900)
"""How often an input says how it stands though nothing changes."""
HOME_AFTER = Span.ms(300)
"""How long a simulated device needs to be home."""


@dataclass(frozen=True, slots=True)
class Odds:
    """How often things fail: shares of events, or of shows."""

    lost: float = 0.05
    repeated: float = 0.05
    corrupt: float = 0.03
    faults: float = 0.6
    """Share of shows into which a fault falls."""


@dataclass(slots=True)
class Tally:
    """What happened in a simulated night."""

    shows: int = 0
    practised: int = 0
    steps: int = 0
    happened: Counter[str] = field(default_factory=Counter)


class World:
    """One simulated night."""

    def __init__(self, setup: Setup, seed: int, odds: Odds) -> None:
        self.setup, self.odds = setup, odds
        self.rng = random.Random(seed)
        self.truth = Truth(seed, setup)
        self.controller: Controller | None = None
        self.now = ZERO
        self.tally = Tally()
        self.levels: dict[str, Value] = {
            each.name: 600_000.0 if each.kind == "pressure" else each.kind != "start"
            for each in setup.inputs.values()
        }
        self._heap: list[tuple[int, int, Callable[[], None]]] = []
        self._order = 0
        self._spoken: dict[str, Time] = {}
        self._boot = 0
        self._linked = True
        self._tick_due: Time | None = None
        self._holds: dict[str, Time | None] = {}

    # The world's clock.

    def later(self, ms: float, do: Callable[[], None]) -> None:
        """Something happens so many milliseconds from now."""
        self._push(self.now + Span.ms(ms), do)

    def _push(self, at: Time, do: Callable[[], None]) -> None:
        self._order += 1
        heapq.heappush(self._heap, (at.ns, self._order, do))

    def go(self, shows: int) -> Tally:
        """What is to happen happens, until so many shows have been begun."""
        self.later(CYCLE.in_ms, self._cycle)
        while self.truth.begun < shows:
            ns, _, do = heapq.heappop(self._heap)
            # What the last step left is judged at the end of its time: at its worst.
            self.now = Time(ns)
            self.truth.check(self.now)
            do()
        self.tally.shows, self.tally.practised = self.truth.begun, self.truth.practised
        self.tally.steps = self.truth.steps
        return self.tally

    # The controller and its board.

    def power_up(self) -> None:
        """A new process, with nothing but the journal."""
        self.controller = Controller(self.setup)
        self._boot += 1
        self._linked = True
        self.tell(PowerUp(self.now, self.truth.journal))
        for name in self.levels:
            self.report(name)

    def tell(self, event: Event) -> None:
        """The controller hears of something, if it lives; what it says is done."""
        if self.controller is None:
            return
        for effect in self.controller.tell(event):
            self._done(effect)
        self.truth.counts(self.now, self.controller.now.shows)
        self._tick()

    def _tick(self) -> None:
        if self.controller is None or (due := self.controller.wakes()) is None:
            self._tick_due = None
            return
        if due != self._tick_due:
            self._tick_due = due
            late = Span(self.rng.randrange(TICK_LATE.ns))
            self._push(max(due, self.now) + late, lambda: self._ticked(due, self._boot))

    def _ticked(self, due: Time, boot: int) -> None:
        if due == self._tick_due and boot == self._boot:
            self._tick_due = None
            self.tell(Event(self.now))

    def _done(self, effect: Effect) -> None:
        if isinstance(effect, Send):
            self._sent(effect)
        elif isinstance(effect, Counted):
            if effect.sort == "practice":
                self.truth.practised += 1
            else:
                self.truth.counted += 1
            self.truth.journal = effect.shows
            self.truth.begun += 1
        elif isinstance(effect, Begin):
            self._begun(effect)
        elif isinstance(effect, Over):
            self.truth.show_ends = None
        elif isinstance(effect, Say):
            self.tally.happened[effect.text.split(":")[0].rstrip(".")] += 1

    def _sent(self, send: Send) -> None:
        line = self.setup.lines[send.output]
        if send.value != line.safe and self._linked and self.rng.random() < 0.004:
            self._unplug()
        if not self._linked:
            if send.value != line.safe:
                self.later(self.rng.uniform(0, 50), partial(self._failed, send.output, self._boot))
            return
        before = self.truth.outputs.get(send.output, line.safe)
        self.truth.put(send.output, send.value, self.now)
        if line.device and line.moves and before != send.value:
            self._homes(line.device)
        self._holds[send.output] = send.lets_go
        if send.lets_go is not None:
            self._push(send.lets_go, partial(self._board_lets_go, send.output, send.lets_go))

    def _board_lets_go(self, output: str, at: Time) -> None:
        """The board keeps a hold's time by itself, while we live and when we do not."""
        if self._holds.get(output) == at:
            self.truth.put(output, self.setup.lines[output].safe, self.now)

    def _all_safe(self) -> None:
        for name in list(self.truth.on_since):
            self.truth.put(name, self.setup.lines[name].safe, self.now)
        for device in self.setup.movers:
            self._homes(device)

    def _homes(self, device: str) -> None:
        """A home switch follows its device: at once when it leaves, later when it comes back."""
        for each in self.setup.of_kind("home"):
            if each.of == (device,):
                home = not any(self.setup.lines[n].device == device for n in self.truth.on_since)
                self.later(HOME_AFTER.in_ms if home else 20, partial(self._home, each.name, device))

    def _home(self, name: str, device: str) -> None:
        if name not in self._spoken or self.rng.random() > 0.01:  # now and then it sticks
            home = not any(self.setup.lines[n].device == device for n in self.truth.on_since)
            self.set(name, home)

    def _unplug(self) -> None:
        """The board hears nothing more: its heartbeat makes it safe; we are told in a while."""
        self._linked = False
        self.truth.unplugged = self.now
        self.tally.happened["board unplugged"] += 1
        self.later(self.rng.uniform(0, SAFE_WITHIN.in_ms), self._all_safe)
        self.later(self.rng.uniform(200, 2_000), self._plugged)

    def _failed(self, output: str, boot: int) -> None:
        if boot != self._boot or self.controller is None:
            return
        stops = self.setup.lines[output].moves and self.controller.now.state in (
            "ready",
            "playing",
            "resting",
        )
        self.tell(OutputFailed(self.now, output))
        if stops:
            self._ended("output failed", self.now)

    def _plugged(self) -> None:
        self._linked = True

    def _ended(self, why: str, since: Time | None) -> None:
        """Nothing may be on from now, or soon after, until a person opens again."""
        self.truth.opened = False
        self.truth.forget(self.now)
        self.truth.jogged.clear()
        self.truth.show_ends = None
        self.truth.causes = {} if since is None else {why: since}

    # What the controller hears, as the line brings it.

    def set(self, name: str, value: Value) -> None:
        """An input changes."""
        self.levels[name] = value
        self.report(name)

    def report(self, name: str) -> None:
        """An input says how it stands: late, twice, not at first, or as rubbish at first."""
        lot = self.rng.random()
        if lot < self.odds.lost:
            self.later(AGAIN, lambda: self._say(name))
        elif lot < self.odds.lost + self.odds.corrupt:
            self._deliver(name, self.rng.choice((None, float("nan"))))
            self.later(AGAIN, lambda: self._say(name))
        else:
            self._say(name)
            if lot > 1.0 - self.odds.repeated:
                self._say(name)

    def _say(self, name: str) -> None:
        self._deliver(name, self.levels[name])

    def _deliver(self, name: str, value: Value) -> None:
        """In order on each line, however late."""
        at = self.now + Span.ms(self.rng.random() * REPORT_LATE)
        at = max(at, self._spoken.get(name, ZERO))
        self._spoken[name] = at
        self._push(at, lambda: self.tell(Read(self.now, name, value)))

    def _cycle(self) -> None:
        for name in self.levels:
            self.report(name)
        self.later(CYCLE.in_ms, self._cycle)

    # Shows and the programme.

    def _begun(self, begin: Begin) -> None:
        self.truth.starts(self.now)
        plan = self.setup.plans[begin.variant]
        length = max(plan.length.s, *(cue.leaves_at.s for cue in plan.cues))
        self.truth.show_ends = self.now + Span.seconds(length * 1.05 + 0.5)
        self.tally.happened[f"plays {begin.variant or 'as written'}"] += 1
        self._marks(self.now, 1.0 + self.rng.uniform(-0.015, 0.015), self.rng.random() < 0.15)

    def _marks(self, began: Time, speed: float, dies: bool) -> None:
        if not self.setup.follows or self.truth.show_ends is None:
            return
        self.later(500, lambda: self._mark(began, speed, dies))

    def _mark(self, began: Time, speed: float, dies: bool) -> None:
        if self.truth.show_ends is None:
            return
        lot = self.rng.random()
        true = Time(round(self.now.since(began).ns * speed))
        if lot < self.odds.corrupt:
            self.tell(Mark(self.now, Time.seconds(self.rng.uniform(-10, 1000))))
        elif lot > self.odds.corrupt + self.odds.lost:
            self.tell(Mark(self.now, true))
        if not (dies and self.rng.random() < 0.3):
            self._marks(began, speed, dies)
