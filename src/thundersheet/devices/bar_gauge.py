"""A bar gauge: a row of segments that light one after another."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.shape import choice, quantity, whole
from thundersheet.base.time import Span
from thundersheet.devices._answers import outside
from thundersheet.devices._course import Course, ramp
from thundersheet.devices._steps import Lag
from thundersheet.devices._switched import Follows
from thundersheet.model.device import (
    Action,
    Command,
    Light,
    Load,
    Move,
    Output,
    Part,
    Setting,
    Wire,
)

EXPLAINS = {
    "BAR-01": "A bar whose segments have a terminal each can only jump: a climb over some time "
    "needs a command for each segment, or a bar on a data line that keeps the time itself.",
    "BAR-02": "`on` has to end in the number of the first segment's terminal, so that the others "
    "can be counted on from it.",
}
RISE = Span.ms(2)
"""An LED and its driver (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class BarGauge(Follows):
    """A bar of segments, on one data line or with a terminal for each."""

    KIND: ClassVar[str] = "bar gauge"
    WORKS: ClassVar[str] = "rise"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(
            name="to",
            doc="Lights a share of the segments.",
            lands=("arrives", "starts", "half-way"),
            takes=frozenset({"to", "over"}),
            to="share",
        ),
        Action(name="off", doc="Dark.", lands=("arrives", "starts"), takes=frozenset({"over"})),
    )
    EXAMPLE: ClassVar[str] = """\
devices:
  wind: {kind: bar gauge, what: wind, segments: 10, current: 12 mA, volts: 24 V, on: main 7}
beats:
  - {at: 0:18, do: wind to 100 % over 10 s, window: loose, land: starts}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><path d="M7 2h10v20H7z"/>'
        '<path d="M9 19h6M9 16h6M9 13h6M9 10h6" stroke-width="2"/></g>'
    )

    current_a: float = quantity(
        "current", "Current of one segment.", low=0.0, high=5.0, example="12 mA", key="current"
    )
    segments: int = whole("How many segments.", default=10, low=2, high=256, example="10")
    wired: str = choice(
        "`data line`: one terminal tells it how high. `each segment`: the terminals from `on` "
        "upwards, the lowest segment first.",
        ("data line", "each segment"),
        default="data line",
    )

    def goal(self, move: Move) -> float:
        """The share of segments that a move lights."""
        return min(max(move.to or 0.0, 0.0), 1.0) if move.action == "to" else 0.0

    def aim(self, move: Move) -> float:
        # With a terminal each, segments are lit or not; on a data line the topmost is dimmed.
        goal = self.goal(move)
        return goal if self.wired == "data line" else round(goal * self.segments) / self.segments

    def settles(self, *, up: bool) -> Span:  # noqa: ARG002
        return RISE

    def one_wire(self, wires: tuple[Wire, ...]) -> Wire:
        if self.wired == "data line":
            return wires[0]
        return Wire.at(sum(wire.value for wire in wires) / len(wires))

    def draws(self, state: Lag) -> float:
        return self.current_a * self.segments * state.told * state.volts

    def lights(self, state: Lag) -> float:
        return state.value

    def course(self, move: Move, first: float) -> Course:
        return ramp(first, self.goal(move), takes_s=max(move.over or Span(0), RISE).s)

    def bands(self, move: Move, parts: tuple[Part, ...]) -> dict[str, Span]:  # noqa: ARG002
        return {"rise": RISE}

    def outputs(self) -> tuple[Output, ...]:
        if self.wired == "data line":
            return (Output(name="level", terminal=self.on, drives="data"),)
        first = re.fullmatch(r"(.*\D)(\d+)", self.on)
        return tuple(
            Output(
                name=f"segment {k + 1}",
                terminal=f"{first[1]}{int(first[2]) + k}" if first else "",
                drives="switch",
            )
            for k in range(self.segments)
        )

    def commands(self, move: Move) -> tuple[Command, ...]:
        goal = self.goal(move)
        if self.wired == "data line":
            return (Command(output=self.wire(), value=goal, over=move.over),)
        lit = round(goal * self.segments)
        return tuple(
            Command(output=self.wire(k), value=float(k < lit)) for k in range(self.segments)
        )

    def loads(self, move: Move) -> tuple[Load, ...]:
        amps = self.current_a * round(self.segments * self.goal(move))
        return (Load(volts=self.volts_v, amps=amps),)

    def light(self, move: Move) -> Light:
        goal = self.goal(move)
        return Light(levels=((Span(0), 1.0 - goal), (RISE, goal)), area=self.lit_share)

    def objections(self, move: Move) -> tuple[Finding, ...]:
        if move.to is not None and not 0.0 <= move.to <= 1.0:
            return (outside(self, f"{move.to:.0%}", "0 % to 100 %"),)
        if move.over is not None and self.wired == "each segment":
            return (_no_climb(self),)
        return super().objections(move)

    def checks(self, setting: Setting) -> tuple[Finding, ...]:
        if self.wired == "each segment" and self.on and not self.on[-1:].isdigit():
            return (_no_number(self),)
        return super().checks(setting)


def _no_climb(device: BarGauge) -> Finding:
    return Finding(
        code="BAR-01",
        grade="refuse",
        says=f"{device.name} has a terminal for each segment, so it cannot climb by itself.",
        allowed="It can jump to a height.",
        cures=(
            Cure(do="Write a beat for each step, without `over`", cost="one cue a step"),
            Cure(do="Use a bar with a data line: `wired: data line`", cost="another bar"),
        ),
        about=(device.name,),
    )


def _no_number(device: BarGauge) -> Finding:
    return Finding(
        code="BAR-02",
        grade="refuse",
        place=device.origin.of("on"),
        says=f"`on: {device.on}` names no first terminal to count the {device.segments} segments "
        "from.",
        allowed="Write the lowest segment's terminal, as in `on: main 7`.",
        about=(device.name,),
    )
