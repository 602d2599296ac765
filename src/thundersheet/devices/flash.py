"""A flash: a lamp that is lit for a moment (lightning), or a strobe with a rhythm of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.shape import quantity, span
from thundersheet.base.time import Span
from thundersheet.devices._course import Course, pulse
from thundersheet.devices._lights import Lit
from thundersheet.model.device import Action, Command, Light, Load, Move

EXPLAINS = {
    "FLASH-10": "Only a light with a rhythm of its own (`strobes`) can strobe by itself. Any other "
    "flashes once for each beat.",
    "FLASH-11": "The light is let go before it has come up: a filament needs longer than an LED.",
}


@dataclass(frozen=True, kw_only=True)
class Flash(Lit):
    """A light for flashes; `glow` is what a quiet version of the show has in their place."""

    KIND: ClassVar[str] = "flash"
    TIMED_BY: ClassVar[str] = "rise"
    WORKS: ClassVar[str] = "rise"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(
            name="flash",
            doc="One flash, as long as `pulse` or `for` says.",
            lands=("full", "starts"),
            takes=frozenset({"for"}),
        ),
        Action(
            name="strobe",
            doc="Flashes in its own rhythm, one second or as long as `for` says.",
            lands=("starts", "full"),
            takes=frozenset({"for"}),
        ),
        Action(
            name="glow",
            doc="Lit steadily, one second or as long as `for` says, with no flashing.",
            lands=("full", "starts"),
            takes=frozenset({"for"}),
        ),
    )
    EXAMPLE: ClassVar[str] = """\
devices:
  lightning: {kind: flash, volts: 24 V, current: 1.7 A, pulse: 70 ms, lit share: 40 %, on: main 5}
beats:
  - {at: 0:26, do: lightning flash, window: soft}
"""
    SYMBOL: ClassVar[str] = (
        '<path d="M14 2L5 13h5l-1 9 10-13h-6z" fill="none" stroke="currentColor"/>'
    )

    pulse: Span = span(
        "How long one flash is lit.", default=Span.ms(70), low=0.001, high=2.0, example="70 ms",
        estimated="long enough to be seen as one flash; common practice, no source",
    )  # fmt: skip
    strobes_hz: float | None = quantity(
        "frequency",
        "A strobe's own rhythm while it is on; left out: it is lit steadily while on.",
        default=None,
        low=0.1,
        high=50.0,
        example="2 Hz",
    )

    def lit(self, move: Move) -> Span:
        """How long the output stays on."""
        return move.hold or (self.pulse if move.action == "flash" else Span.seconds(1))

    def aim(self, move: Move) -> float:  # noqa: ARG002
        return 1.0

    def rhythm(self, lit_s: float) -> float:
        if self.strobes_hz is None:
            return 1.0
        period = 1.0 / self.strobes_hz
        return float(lit_s % period < min(self.pulse.s, period / 2))

    def course(self, move: Move, first: float) -> Course:
        rise = self.rises().s
        return pulse(after_s=0.0, rises_s=rise, stays_s=self.lit(move).s, falls_s=rise, first=first)

    def commands(self, move: Move) -> tuple[Command, ...]:
        return (Command(output=self.wire(), value=1.0, hold=self.lit(move)),)

    def loads(self, move: Move) -> tuple[Load, ...]:
        return (Load(volts=self.volts_v, amps=self.current_a, stop=self.lit(move)),)

    def light(self, move: Move) -> Light:
        if move.action != "strobe" or self.strobes_hz is None:
            return self.given(self.course(move, 0.0))
        period = 1.0 / self.strobes_hz
        count = max(1, round(self.lit(move).s * self.strobes_hz))
        on = min(self.pulse.s, period / 2)
        edges = ((k * period + t, v) for k in range(count) for t, v in ((0.0, 1.0), (on, 0.0)))
        levels = tuple((Span.seconds(t), v) for t, v in edges)
        return Light(levels=levels, area=self.lit_share, red=self.red)

    def least_gap(self, earlier: Move, later: Move) -> Span:  # noqa: ARG002
        return self.lit(earlier) + self.rises()

    def objections(self, move: Move) -> tuple[Finding, ...]:
        if move.action == "strobe" and self.strobes_hz is None:
            return (_no_rhythm(self),)
        if self.lit(move) < self.rises():
            return (_too_short(self, self.lit(move)),)
        return super().objections(move)


def _no_rhythm(device: Flash) -> Finding:
    return Finding(
        code="FLASH-10",
        grade="refuse",
        says=f"{device.name} has no rhythm of its own, so it cannot strobe.",
        allowed="It can flash once for each beat.",
        cures=(
            Cure(do=f"Write `do: {device.name} flash, times: 4, every: 0.5 s`", cost="nothing"),
            Cure(do="Fit a strobe and write its `strobes: 2 Hz`", cost="a strobe"),
        ),
        about=(device.name,),
    )


def _too_short(device: Flash, lit: Span) -> Finding:
    return Finding(
        code="FLASH-11",
        grade="refuse",
        says=f"{device.name} is lit for {lit}, but takes {device.rises()} to come up.",
        allowed=f"Light it for {device.rises()} or more, or fit an LED.",
        about=(device.name,),
    )
