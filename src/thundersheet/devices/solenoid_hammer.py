"""A solenoid that strikes: a bell hammer, a knocker, a rattling drawer."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import Any, ClassVar

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.shape import span
from thundersheet.base.time import Span
from thundersheet.devices._course import Course, course_of
from thundersheet.devices._switched import Electric
from thundersheet.model.device import (
    Action,
    Command,
    Landing,
    Load,
    Move,
    Part,
    Seen,
    Setting,
    Wire,
)

EXPLAINS = {
    "HIT-01": "The coil is let go before the hammer has struck, so that it may not strike at all.",
    "HIT-02": "The coil of a hammer is only made for short pulses: held for longer it gets hot.",
}
LONG = Span.ms(500)
"""A hammer's coil is driven far above what it stands for good (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Plunger:
    """A hammer's state in a rehearsal."""

    place: float = 0.0
    """0 at rest, 1 at what it strikes."""
    speed: float = 0.0
    """Ways a second."""
    strikes: int = 0
    amps: float = 0.0


@dataclass(frozen=True, kw_only=True)
class SolenoidHammer(Electric):
    """A hammer that a coil throws: a pulse, and the strike some time after its start."""

    KIND: ClassVar[str] = "solenoid hammer"
    TIMED_BY: ClassVar[str] = "strikes_after"
    WORKS: ClassVar[str] = "strike"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(
            name="strike",
            doc="One strike; `for` gives another pulse length.",
            lands=("arrives", "starts"),
            takes=frozenset({"for"}),
        ),
    )
    EXAMPLE: ClassVar[str] = """\
devices:
  knocker: {kind: solenoid hammer, volts: 24 V, current: 1 A, strikes after: 30 ms, on: main 4}
beats:
  - {at: 0:36, do: knocker strike, times: 2, every: 0.6 s}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><path d="M2 8h9v8H2zM2 8l9 8M11 12h7"/>'
        '<path d="M18 7h3v10h-3z"/></g>'
    )

    strikes_after: Span = span(
        "From the pulse's start to the strike.",
        default=Span.ms(30),
        low=0.001,
        high=1.0,
        example="30 ms",
        estimated="small 24 V solenoids with 10-15 mm of stroke; common practice, no source",
    )
    scatter: Span = span(
        "By how much the strike comes early or late of that, from one strike to the next.",
        default=Span.ms(4),
        low=0.0,
        high=0.2,
        example="4 ms",
        estimated="common practice, no source",
    )
    pulse: Span = span(
        "How long the coil is driven.",
        default=Span.ms(60),
        low=0.001,
        high=2.0,
        example="35 ms",
        estimated="twice the time to the strike; common practice, no source",
    )
    between: Span = span(
        "Least time from strike to strike: the hammer has to fall back.",
        default=Span.ms(120),
        low=0.001,
        high=5.0,
        example="120 ms",
        estimated="common practice, no source",
    )

    def driven(self, move: Move) -> Span:
        """How long the coil is driven for a move."""
        return move.hold or self.pulse

    def course(self, move: Move, first: float) -> Course:
        # Evenly accelerated: a plunger's force hardly changes until the last millimetres.
        hit = self.strikes_after.s
        way = [(hit * k / 10, first + (1.0 - first) * (k / 10) ** 2) for k in range(11)]
        back = max(self.driven(move).s, hit)
        return course_of([*way, (back, 1.0), (max(self.between.s, back + 1e-3), 0.0)])

    def begins(self, setting: Setting) -> Any:  # noqa: ARG002
        return Plunger()

    def step(
        self,
        state: Any,
        wires: tuple[Wire, ...],
        volts: float,
        dt_s: float,
        setting: Setting,  # noqa: ARG002
    ) -> Any:
        """Evenly accelerated by coil and return spring; it strikes, and stays while it is driven.

        A coil's pull goes with the square of its current, so of the voltage (textbook magnetics).
        """
        found: Plunger = state
        driven = wires[0].value >= 0.5
        gains = -self._falls()
        if driven:
            pull = 2.0 / self.strikes_after.s**2 + self._falls()
            gains += pull * max(volts, 0.0) ** 2
        place, speed, struck = _thrown(found.place, found.speed, gains, dt_s)
        amps = self.current_a * volts if driven else 0.0
        return Plunger(place, speed, found.strikes + struck, amps)

    def _falls(self) -> float:
        """How fast the spring takes it back, so that it is at rest when the next may come."""
        held = max(self.pulse.s, self.strikes_after.s)
        back = max(self.between.s - held, 1e-3)
        return 2.0 / back**2

    def seen(self, state: Any) -> Seen:
        found: Plunger = state
        return Seen(found.place, found.amps)

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:  # noqa: ARG002
        if land == "starts":
            return bool(now.place > first.place + 1e-9 or now.strikes > first.strikes)
        return bool(now.strikes > first.strikes)

    def bands(self, move: Move, parts: tuple[Part, ...]) -> dict[str, Span]:
        found = super().bands(move, parts) if not self.origin.wrote("strikes_after") else {}
        return {**found, "scatter": self.scatter} if parts[-1].span else {}

    def commands(self, move: Move) -> tuple[Command, ...]:
        return (Command(output=self.wire(), value=1.0, hold=self.driven(move)),)

    def loads(self, move: Move) -> tuple[Load, ...]:
        return (Load(volts=self.volts_v, amps=self.current_a, stop=self.driven(move)),)

    def least_gap(self, earlier: Move, later: Move) -> Span:  # noqa: ARG002
        return max(self.between, self.driven(earlier))

    def objections(self, move: Move) -> tuple[Finding, ...]:
        driven = self.driven(move)
        if driven + self.scatter < self.strikes_after:
            return (_lets_go(self, driven),)
        if driven > LONG:
            return (_hot(self, driven),)
        return ()


def _thrown(place: float, speed: float, gains: float, dt_s: float) -> tuple[float, float, int]:
    """Place and speed after so long under one acceleration between two stops, and strikes."""
    if gains > 0.0 and place >= 1.0 and speed >= 0.0:
        return 1.0, 0.0, 0
    if gains <= 0.0 and place <= 0.0 and speed <= 0.0:
        return 0.0, 0.0, 0
    hits = _first_root(place - 1.0, speed, gains)
    homes = _first_root(place, speed, gains)
    if min(hits, homes) > dt_s:
        return place + speed * dt_s + gains * dt_s**2 / 2.0, speed + gains * dt_s, 0
    # It does not bounce: hammers are stopped by felt or by what they strike.
    at, end, struck = (hits, 1.0, 1) if hits <= homes else (homes, 0.0, 0)
    then = _thrown(end, 0.0, gains, dt_s - at)
    return then[0], then[1], then[2] + struck


def _first_root(first: float, speed: float, gains: float) -> float:
    """The first later instant at which first + speed t + gains t^2 / 2 is nought; inf: never."""
    square = speed**2 - 2.0 * gains * first
    if square < 0.0 or gains == speed == 0.0:
        return inf
    if gains == 0.0:
        return -first / speed if first * speed < 0.0 else inf
    if first == 0.0:
        return -2.0 * speed / gains if speed * gains < 0.0 else inf
    times = ((-speed - sqrt(square)) / gains, (-speed + sqrt(square)) / gains)
    return min((t for t in times if t > 0.0), default=inf)


def _lets_go(device: SolenoidHammer, driven: Span) -> Finding:
    return Finding(
        code="HIT-01",
        grade="refuse",
        says=f"{device.name} is let go after {driven} but strikes only at {device.strikes_after}.",
        allowed=f"Drive it for {device.strikes_after} or more.",
        cures=(
            Cure(do=f"Leave `for` out: its pulse is {device.pulse}", cost="a harder strike"),
            Cure(do="Lower its voltage for a softer strike", cost="it strikes later: measure it"),
        ),
        about=(device.name,),
    )


def _hot(device: SolenoidHammer, driven: Span) -> Finding:
    return Finding(
        code="HIT-02",
        grade="warn",
        says=f"{device.name} is driven for {driven}.",
        allowed=f"A hammer's coil gets hot when held for more than {LONG}.",
        about=(device.name,),
        source="common practice, no source",
    )
