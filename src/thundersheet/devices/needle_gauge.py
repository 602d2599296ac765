"""A needle over a scale, turned by a servo or a stepper."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, radians
from typing import ClassVar

from thundersheet.base.finding import Finding
from thundersheet.base.shape import choice, numbers, quantity, text
from thundersheet.devices._answers import outside
from thundersheet.devices._moving import Placed
from thundersheet.model.device import Action, Move, Output, Setting

EXPLAINS = {
    "NEEDLE-01": "The scale of a needle has two ends, and they differ: `scale: [26, 31]`.",
}
PACES = {"servo": (radians(333), inf), "stepper": (radians(180), radians(720))}
"""Speed and acceleration: a small servo turns 60 degrees in 180 ms; a small stepper with a light
needle does half a turn a second and is there after a quarter (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class NeedleGauge(Placed):
    """A needle that shows a value of its scale."""

    KIND: ClassVar[str] = "needle gauge"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(
            name="to",
            doc="To a value of the scale.",
            lands=("arrives", "starts", "half-way"),
            takes=frozenset({"to", "over"}),
            to="number",
        ),
        Action(
            name="home",
            doc="To where it waits; a stepper finds its home switch again.",
            lands=("arrives", "starts"),
            takes=frozenset({"over"}),
        ),
    )
    EXAMPLE: ClassVar[str] = """\
devices:
  depth:
    kind: needle gauge
    drive: stepper
    scale: [0, 360]
    angle: 270 deg
    volts: 24 V
    current: 0.5 A
    on: main 13
    on direction: main 14
beats:
  - {at: 0:12, do: depth to 360 over 30 s, land: starts, window: soft}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><path d="M3 18a9 9 0 0 1 18 0zM12 18L17 8"/>'
        '<path d="M5 12l2 1M12 9v2M19 12l-2 1"/></g>'
    )

    drive: str = choice(
        "What turns it: a servo is told an angle, a stepper counts its steps from home.",
        ("servo", "stepper"),
        default="servo",
    )
    scale: tuple[float, ...] = numbers("Its two ends.", default=(0.0, 100.0), example="[26, 31]")
    waits_at: float | None = quantity(
        "share", "Where on its travel it waits before the show; left out: at the first end.",
        default=None, low=0.0, high=1.0, example="50 %", key="waits at",
    )  # fmt: skip
    angle_rad: float = quantity(
        "angle", "From one end of the scale to the other.", default=radians(120), low=0.01,
        high=100.0, example="120 deg", key="angle", estimated="common practice, no source",
    )  # fmt: skip
    speed_rad_s: float | None = quantity(
        "angular speed", "Its greatest speed; left out: 333 deg/s (servo), 180 deg/s (stepper).",
        default=None, low=0.01, high=1000.0, example="180 deg/s", key="speed",
        estimated="small drives with a light needle; common practice, no source",
    )  # fmt: skip
    acceleration_rad_s2: float | None = quantity(
        "angular acceleration", "A stepper's acceleration; left out: 720 deg/s2.", default=None,
        low=0.01, high=1e5, example="720 deg/s2", key="acceleration",
        estimated="so that no step is lost; common practice, no source",
    )  # fmt: skip
    on_direction: str = text(
        "A stepper's direction terminal.", default="", names="terminal", example="main 14"
    )

    def travel_rad(self) -> float:
        return self.angle_rad

    def pace(self) -> tuple[float, float]:
        speed, acceleration = PACES[self.drive]
        if self.acceleration_rad_s2 is not None and self.drive == "stepper":
            acceleration = self.acceleration_rad_s2
        return self.speed_rad_s or speed, acceleration

    def home(self) -> float:
        return self.waits_at or 0.0

    def goal(self, move: Move) -> float:
        if move.action == "home" or move.to is None or not self._has_scale():
            return self.home()
        first, last = self.scale
        return min(max((move.to - first) / (last - first), 0.0), 1.0)

    def _has_scale(self) -> bool:
        return len(self.scale) == 2 and self.scale[0] != self.scale[1]

    def outputs(self) -> tuple[Output, ...]:
        if self.drive == "servo":
            return (Output(name="pulse", terminal=self.on, drives="pulses", safe=self.home()),)
        return (
            Output(name="step", terminal=self.on, drives="pulses", safe=self.home()),
            Output(name="direction", terminal=self.on_direction, drives="switch"),
        )

    def objections(self, move: Move) -> tuple[Finding, ...]:
        if move.to is not None and self._has_scale():
            low, high = min(self.scale), max(self.scale)
            if not low <= move.to <= high:
                return (outside(self, f"{move.to:g}", f"{low:g} to {high:g}"),)
        return super().objections(move)

    def checks(self, setting: Setting) -> tuple[Finding, ...]:
        if self._has_scale():
            return super().checks(setting)
        return (
            Finding(
                code="NEEDLE-01",
                grade="refuse",
                place=self.origin.of("scale"),
                says=f"The scale of {self.name} is {list(self.scale)}.",
                allowed="It has two ends, and they differ: `scale: [26, 31]`.",
                about=(self.name,),
            ),
        )
