"""A servo: an arm, a head, a jaw that goes to an angle and holds it."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, inf, radians
from typing import ClassVar

from thundersheet.base.finding import Finding
from thundersheet.base.shape import quantity
from thundersheet.devices._answers import outside
from thundersheet.devices._course import Course
from thundersheet.devices._moving import Placed
from thundersheet.model.device import Action, Impact, Move, Output, Setting

EXPLAINS = {
    "SERVO-01": "The two angles `out` and `back` lie outside the servo's `travel`, or are one and "
    "the same, so that it would not move.",
}


@dataclass(frozen=True, kw_only=True)
class Servo(Placed):
    """A servo with two places of its own, `out` and `back`, and any angle between its ends."""

    KIND: ClassVar[str] = "servo"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(
            name="out",
            doc="To its angle `out`.",
            lands=("arrives", "starts", "half-way"),
            takes=frozenset({"over"}),
        ),
        Action(
            name="back",
            doc="To its angle `back`, where it waits.",
            lands=("arrives", "starts", "half-way"),
            takes=frozenset({"over"}),
        ),
        Action(
            name="to",
            doc="To an angle.",
            lands=("arrives", "starts", "half-way"),
            takes=frozenset({"to", "over"}),
            to="angle",
        ),
    )
    EXAMPLE: ClassVar[str] = """\
devices:
  arm:
    kind: servo
    what: clockmaker's arm
    out: 60 deg
    speed: 333 deg/s        # 60 degrees in 180 ms
    volts: 5 V
    current: 0.4 A
    peak: 1.5 A
    words: {down: out, up: back}
    on: main 12
beats:
  - {at: 0:12, do: arm down}
  - {at: 0:14, do: arm to 30 deg over 1 s}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><circle cx="9" cy="15" r="6"/>'
        '<path d="M9 15L20 4M20 4l-1 5M20 4l-5 1"/></g>'
    )

    travel_angle: float = quantity(
        "angle", "All of its travel, from 0.", default=radians(180), low=0.01, high=100.0,
        example="180 deg", key="travel", estimated="the usual travel; common practice, no source",
    )  # fmt: skip
    out_rad: float = quantity(
        "angle", "The angle of `out`.", default=radians(90), low=0.0, high=100.0, example="60 deg",
        key="out",
    )  # fmt: skip
    back_rad: float = quantity(
        "angle", "The angle of `back`, where it waits.", default=0.0, low=0.0, high=100.0,
        example="0 deg", key="back",
    )  # fmt: skip
    speed_rad_s: float = quantity(
        "angular speed", "Its greatest speed, loaded.", default=radians(333), low=0.01, high=1000.0,
        example="333 deg/s", key="speed",
        estimated="60 degrees in 180 ms, loaded; common practice, no source",
    )  # fmt: skip
    arm_m: float | None = quantity(
        "length", "From its axis to the tip of what it moves, for speed and force at the tip.",
        default=None, low=0.001, high=5.0, example="200 mm", key="arm",
    )  # fmt: skip
    moves_kg: float = quantity(
        "mass", "What it moves, as if all of it were at the tip.", default=0.0, low=0.0, high=100.0,
        example="100 g", key="moves",
    )  # fmt: skip
    torque_n_m: float = quantity(
        "torque", "Its stall torque, for the force at the tip.", default=0.0, low=0.0, high=1000.0,
        example="10 kgf cm", key="torque",
    )  # fmt: skip

    def travel_rad(self) -> float:
        return self.travel_angle

    def pace(self) -> tuple[float, float]:
        return self.speed_rad_s, inf

    def home(self) -> float:
        return self.back_rad / self.travel_angle

    def goal(self, move: Move) -> float:
        angle = {"out": self.out_rad, "back": self.back_rad}.get(move.action, move.to or 0.0)
        return min(max(angle / self.travel_angle, 0.0), 1.0)

    def outputs(self) -> tuple[Output, ...]:
        return (Output(name="pulse", terminal=self.on, drives="pulses", safe=self.home()),)

    def impact(self, move: Move, course: Course) -> Impact | None:
        if self.arm_m is None or course.end_s <= 0.0:
            return None
        reach = abs(course.goal - course.points[0][1]) * self.travel_angle
        takes = max(move.over.s if move.over else 0.0, reach / self.speed_rad_s)
        speed = self.arm_m * reach / takes if takes else 0.0
        return Impact(
            energy_j=0.5 * self.moves_kg * speed**2,
            force_n=self.torque_n_m / self.arm_m,
            speed_m_s=speed,
            reach_m=reach * self.arm_m,
        )

    def objections(self, move: Move) -> tuple[Finding, ...]:
        if move.to is not None and not 0.0 <= move.to <= self.travel_angle * 1.000001:
            end = f"{degrees(self.travel_angle):g}"
            return (outside(self, f"{degrees(move.to):g} deg", f"0 to {end} deg"),)
        return super().objections(move)

    def checks(self, setting: Setting) -> tuple[Finding, ...]:
        return (*super().checks(setting), *self._angles())

    def _angles(self) -> tuple[Finding, ...]:
        ends = (self.out_rad, self.back_rad)
        if max(ends) <= self.travel_angle * 1.000001 and ends[0] != ends[1]:
            return ()
        return (
            Finding(
                code="SERVO-01",
                grade="refuse",
                place=self.origin.of("out_rad"),
                says=f"{self.name} goes from {degrees(self.back_rad):g} to "
                f"{degrees(self.out_rad):g} deg.",
                allowed=f"Two different angles from 0 to its travel of "
                f"{degrees(self.travel_angle):g} deg.",
                about=(self.name,),
            ),
        )
