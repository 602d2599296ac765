"""A solenoid that strikes: a bell hammer, a knocker, a rattling drawer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.shape import span
from thundersheet.base.time import Span
from thundersheet.devices._course import Course, course_of
from thundersheet.devices._switched import Electric
from thundersheet.model.device import Action, Command, Load, Move, Part

EXPLAINS = {
    "HIT-01": "The coil is let go before the hammer has struck, so that it may not strike at all.",
    "HIT-02": "The coil of a hammer is only made for short pulses: held for longer it gets hot.",
}
LONG = Span.ms(500)
"""A hammer's coil is driven far above what it stands for good (common practice, no source)."""


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
