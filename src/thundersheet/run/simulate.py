"""Nights by lot: the whole controller in a world that fails, every promise asked at every step.

In: a setup, a seed, how many shows. Out: what happened, counted; or ``Broken`` with the seed, from
which the very same night is played again. Time is simulated; nothing is opened. Guests press and
hammer, somebody mends, jogs, opens and closes, and processes and power end at any event.
"""

from __future__ import annotations

from functools import partial

from thundersheet.base.time import Span
from thundersheet.run.events import (
    Asked,
    Jog,
    OutputFailed,
    PlayerLost,
    Read,
    Wish,
)
from thundersheet.run.promises import SAFE_WITHIN, TICK_LATE
from thundersheet.run.sensors import Value
from thundersheet.run.setup import Setup
from thundersheet.run.world import Odds, Tally, World


class Night(World):
    """One night: a world with people in it, and misfortune."""

    def run(self, shows: int) -> Tally:
        """The night until so many shows have been begun."""
        self.power_up()
        self.later(500, self._person)
        self.later(2_000, self._guest)
        self.later(5_000, self._fault)
        return self.go(shows)

    # People.

    def _ask(self, wish: Wish) -> None:
        if self.controller is None:
            return
        if wish == "start":
            self._token(0.0)
        was = self.controller.now.state
        self.tell(Asked(self.now, wish))
        state = self.controller.now.state
        if wish == "open" and state == "resting":
            self.truth.opened, self.truth.causes = True, {}
            self.truth.jog.clear()
        elif wish == "close" and state == "dark" and self.truth.opened:
            self._ended("closed", None)
        elif wish == "release" and (was, state) == ("stopped", "dark") and self.truth.opened:
            # A stop that no fault foretold: a door that opened as devices were still on their way
            # home, or as somebody opened or started. It is open no more, and jogging may follow.
            self._ended("released", None)
        elif wish == "stop":
            self._ended("stopped at the controls", self.now)

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


_WISHES: tuple[Wish, ...] = ("quiet", "as usual", "lock", "start", "close", "stop", "open")
_PRACTICES: tuple[Wish, ...] = ("full", "full", "full", "half pressure", "dry run")
_FAULTS = (
    "kill", "power cut", "stop", "door", "supply", "beam", "pressure", "player", "flap", "rubbish",
)  # fmt: skip


def simulate(setup: Setup, seed: int, shows: int, odds: Odds | None = None) -> Tally:
    """A night of so many shows; ``Broken`` where a promise is, the same for the same seed."""
    return Night(setup, seed, odds or Odds()).run(shows)
