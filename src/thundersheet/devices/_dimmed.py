"""Lamps whose brightness is set: steps and fades on a level output."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from thundersheet.base.finding import Finding
from thundersheet.base.time import Span
from thundersheet.devices._answers import outside
from thundersheet.devices._course import Course, follow, ramp
from thundersheet.devices._lights import Lit
from thundersheet.model.device import Action, Command, Light, Load, Move, Output, Part


@dataclass(frozen=True, kw_only=True)
class Dimmed(Lit):
    """Light on a level output; the board keeps the time of a fade."""

    TIMED_BY: ClassVar[str] = "rise"
    WORKS: ClassVar[str] = "rise"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(
            name="on",
            doc="Full brightness.",
            lands=("full", "starts", "half-way"),
            takes=frozenset({"over"}),
        ),
        Action(
            name="off",
            doc="Dark.",
            lands=("arrives", "starts", "half-way"),
            takes=frozenset({"over"}),
        ),
        Action(
            name="to",
            doc="To a brightness; a fade begins on the beat unless `land` says otherwise.",
            lands=("starts", "half-way", "arrives"),
            takes=frozenset({"to", "over"}),
            to="share",
        ),
    )

    def goal(self, move: Move) -> float:
        """The brightness that a move asks for."""
        if move.action == "to":
            return min(max(move.to or 0.0, 0.0), 1.0)
        return float(move.action == "on")

    def aim(self, move: Move) -> float:
        return self.goal(move)

    def course(self, move: Move, first: float) -> Course:
        over = move.over.s if move.over else 0.0
        return follow(ramp(first, self.goal(move), takes_s=over), self.rises().s)

    def outputs(self) -> tuple[Output, ...]:
        return (Output(name="on", terminal=self.on, drives="level"),)

    def commands(self, move: Move) -> tuple[Command, ...]:
        return (Command(output=self.wire(), value=self.goal(move), over=move.over),)

    def bands(self, move: Move, parts: tuple[Part, ...]) -> dict[str, Span]:
        # The board keeps the time of a fade, so only the lamp's own rise is in doubt.
        own = tuple(replace(part, span=min(part.span, self.rises())) for part in parts)
        return super().bands(move, own)

    def loads(self, move: Move) -> tuple[Load, ...]:
        fading = move.over or Span(0)
        draws = Load(volts=self.volts_v, amps=self.current_a * self.goal(move), start=fading)
        if not fading:
            return (draws,)
        # While it fades down it still draws; from where it comes is not known here.
        most = 1.0 if move.action == "off" else self.goal(move)
        return (Load(volts=self.volts_v, amps=self.current_a * most, stop=fading), draws)

    def light(self, move: Move) -> Light | None:
        return self.given(self.course(move, 0.0 if self.goal(move) > 0.5 else 1.0))

    def objections(self, move: Move) -> tuple[Finding, ...]:
        if move.to is not None and not 0.0 <= move.to <= 1.0:
            return (outside(self, f"{move.to:.0%}", "0 % to 100 %"),)
        return super().objections(move)
