"""Nights by lot: the whole controller in a world that fails, every promise asked at every step.

In: a setup, a seed, how many shows. Out: what happened, counted; or ``Broken`` with the seed, from
which the very same night is played again. Time is simulated; nothing is opened. The world drops,
delays, repeats and corrupts what the controller is told (at most one report in a row is lost,
as a line with acknowledged reports gives it), and ends processes and power at any event.
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
    Asked,
    Begin,
    Counted,
    Effect,
    Event,
    Jog,
    Mark,
    OutputFailed,
    Over,
    PlayerLost,
    PowerUp,
    Read,
    Say,
    Send,
    Wish,
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

    def run(self, shows: int) -> Tally:
        """The night until so many shows have been begun."""
        self.power_up()
        self.later(CYCLE.in_ms, self._cycle)
        self.later(500, self._person)
        self.later(2_000, self._guest)
        self.later(5_000, self._fault)
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

    # People.

    def _ask(self, wish: Wish) -> None:
        if self.controller is None:
            return
        if wish == "start":
            self._token(0.0)
        self.tell(Asked(self.now, wish))
        state = self.controller.now.state
        if wish == "open" and state == "resting":
            self.truth.opened, self.truth.causes = True, {}
            self.truth.jog.clear()
        elif wish == "close" and state == "dark" and self.truth.opened:
            self._ended("closed", None)
        elif wish == "stop":
            self._ended("stopped at the controls", self.now)

    def _ended(self, why: str, since: Time | None) -> None:
        """Nothing may be on from now, or soon after, until a person opens again."""
        self.truth.opened = False
        self.truth.forget(self.now)
        self.truth.jogged.clear()
        self.truth.show_ends = None
        self.truth.causes = {} if since is None else {why: since}

    def _person(self) -> None:
        """Somebody who looks after it: mends what is wrong, releases, opens, practises."""
        self.later(self.rng.uniform(300, 3_000), self._person)
        if self.controller is None:
            return
        state = self.controller.now.state
        if state == "stopped":
            for each in self.setup.inputs.values():
                if each.kind in ("stop", "door", "supply") and self.levels[each.name] is not True:
                    self.set(each.name, True)
            self.later(100, lambda: self._ask("release"))
        elif state == "dark" and self.rng.random() < 0.3:
            self._jogs()
        elif state == "dark":
            self._ask(self.rng.choice(_PRACTICES))
            self._ask("open")
        elif self.rng.random() < 0.15:
            wish = self.rng.choice(_WISHES)
            self._ask(wish)
            if wish == "lock":
                self.later(1_000, lambda: self._ask("unlock"))

    def _jogs(self) -> None:
        """Some jogging in the dark; the word that the button was let go may be lost."""
        names = [line.name for line in self.setup.lines.values() if line.device]
        chosen = self.rng.sample(names, 2)
        self.truth.opened, self.truth.show_ends = False, None
        self.truth.causes = {}  # a person is there, and looks: what follows is their doing
        for step in range(4):
            name = chosen[self.rng.random() < 0.3]
            self.later(step * 200, partial(self._jog, name, True))
        if self.rng.random() < 0.7:
            for name in chosen:
                self.later(900, partial(self._jog, name, False))
        if self.rng.random() < 0.5:
            self.later(1_000, lambda: self._ask("air on"))
            self.later(1_100, lambda: self._jog(self.rng.choice(names), True))
            self.later(1_500, lambda: self._ask("air off"))

    def _jog(self, name: str, held: bool) -> None:
        if self.controller is None:
            return
        dark = self.controller.now.state == "dark" and not self.controller.now.air
        if held and dark and not self.truth.on_since:
            self.truth.causes = {}  # safe it was; from here on it is this person's doing
        if held:
            self.truth.jog[name] = self.now + Span.ms(250) + TICK_LATE
        self.tell(Jog(self.now, name, 1.0 - self.setup.lines[name].safe, held))
        if held and dark and name in self.truth.on_since:
            self.truth.jogged.add(name)

    def _token(self, ms: float) -> None:
        """A person asks for one show by what they do for so long from now."""
        made = self.now + Span.ms(ms + 100.0)
        waits = Span.seconds(60) if self.setup.start.at_rest == "queue" else Span(0)
        self.truth.tokens.append((self.now, made, made + waits))

    def _guest(self) -> None:
        """One series of what guests do to the button: press, hammer, hold, or noise beside it."""
        button = self.setup.of_kind("start")[0].name
        lot = self.rng.random()
        if lot < 0.5:
            lasts = self._press(button, 0.0, self.rng.uniform(60, 400))
        elif lot < 0.75:
            lasts = self._hammer(button)
        elif lot < 0.85:
            lasts = self._press(button, 0.0, 15_000.0)
        else:
            lasts = self._noise(button)
        if lot < 0.85:
            self._token(lasts)
        self.later(lasts + self.rng.uniform(2_600, 5_000), self._guest)

    def _press(self, button: str, begin: float, lasts: float) -> float:
        """A press with bounces at both ends; how long all of it lasts in ms."""
        for edge, level in ((begin, True), (begin + lasts, False)):
            at = edge
            for _ in range(self.rng.randrange(2)):
                self.later(at, partial(self.set, button, level))
                at += self.rng.uniform(0.5, 4)
                self.later(at, partial(self.set, button, not level))
                at += self.rng.uniform(0.5, 4)
            self.later(at, partial(self.set, button, level))
        return begin + lasts + 30.0

    def _hammer(self, button: str) -> float:
        """Up to 200 presses, 150 ms apart: 30 s."""
        presses = self.rng.choices((5, 20, 200), (15, 4, 1))[0]
        for index in range(presses):
            self._press(button, index * 150.0, self.rng.uniform(40, 90))
        return presses * 150.0

    def _noise(self, button: str) -> float:
        """A coil nearby: spikes too short for a press."""
        for index in range(self.rng.randrange(1, 15)):
            self.later(index * 60.0, lambda: self.set(button, True))
            self.later(index * 60.0 + self.rng.uniform(0.01, 8), lambda: self.set(button, False))
        return 1_000.0

    # Faults.

    def _fault(self) -> None:
        self.later(self.rng.expovariate(1.0) * 8_000 / self.odds.faults, self._fault)
        if self.controller is None:
            return
        what = self.rng.choice(_FAULTS)
        self.tally.happened[what] += 1
        if what in ("kill", "power cut"):
            self._dies(what)
        elif what == "player":
            self.tell(PlayerLost(self.now))
        elif what == "rubbish":
            self.tell(Read(self.now, "no such input", True))
            self.tell(OutputFailed(self.now, "no such output"))
        elif what == "pressure":
            self._each("pressure", self.rng.choice((600_000.0, 250_000.0, 50_000.0, None)))
        elif what == "beam":
            self._each("beam", False)
            self.later(self.rng.uniform(100, 3_000), lambda: self._each("beam", True))
        elif what == "flap":
            self._flap()
        else:
            self._bad(what)

    def _each(self, kind: str, value: Value) -> None:
        for each in self.setup.of_kind(kind):
            self.set(each.name, value)

    def _flap(self) -> None:
        """Contacts that wobble for less than they need to settle."""
        for kind in ("door", "beam", "home"):
            for each in self.setup.of_kind(kind):
                was = self.levels[each.name]
                if isinstance(was, bool):
                    self.set(each.name, not was)
                    self.later(8, partial(self.set, each.name, was))

    def _bad(self, kind: str) -> None:
        """Stop, door or supply: everything has to be safe soon, if anything was on."""
        assert self.controller is not None
        state = self.controller.now.state
        for each in self.setup.of_kind(kind):
            self.set(each.name, False)
        if state == "playing" or (kind != "door" and state in ("ready", "resting")):
            self._ended(f"{kind} while {state}", self.now)
            if kind == "door":
                self.later(SAFE_WITHIN.in_ms + 1, self._was_over)
        elif state in ("ready", "resting", "dark"):
            self.later(self.rng.uniform(500, 4_000), lambda: self._each(kind, True))

    def _was_over(self) -> None:
        """The show was over before the door was believed open: outputs safe, but not stopped."""
        if self.controller and self.controller.now.state in ("ready", "resting"):
            self.truth.opened, self.truth.causes = True, {}
            self._each("door", True)

    def _dies(self, what: str) -> None:
        """The process ends at any event; with the power, the outputs go at once."""
        self.controller = None
        self._boot += 1
        self._ended(what, self.now)
        self.truth.jog.clear()
        if what == "power cut":
            self._all_safe()
        else:
            self.later(self.rng.uniform(0, SAFE_WITHIN.in_ms), self._all_safe)
        self.later(self.rng.uniform(200, 4_000), self.power_up)

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


_WISHES: tuple[Wish, ...] = ("quiet", "as usual", "lock", "start", "close", "stop", "open")
_PRACTICES: tuple[Wish, ...] = ("full", "full", "full", "half pressure", "dry run")
_FAULTS = (
    "kill", "power cut", "stop", "door", "supply", "beam", "pressure", "player", "flap", "rubbish",
)  # fmt: skip


def simulate(setup: Setup, seed: int, shows: int, odds: Odds | None = None) -> Tally:
    """A night of so many shows; ``Broken`` where a promise is, the same for the same seed."""
    return World(setup, seed, odds or Odds()).run(shows)
