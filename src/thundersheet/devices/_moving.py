"""Things that are told where to go and go there at their own pace: servos, needles.

The pace is a trapezoid of speed: up at the greatest acceleration, on at the greatest speed, down
again (the usual profile of motion control; textbook kinematics). Not modelled: load, overshoot.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf, sqrt
from typing import Any, ClassVar

from thundersheet.base.shape import quantity, span
from thundersheet.base.time import Span
from thundersheet.devices._course import POINTS, Course, course_of, still
from thundersheet.devices._steps import TOUCH, Placing, placed, told, way_done
from thundersheet.devices._switched import Electric
from thundersheet.model.device import (
    Command,
    Landing,
    Lead,
    Load,
    Move,
    Part,
    Seen,
    Setting,
    Wire,
)


def least_time(distance: float, speed: float, acceleration: float) -> float:
    """Seconds for a distance from rest to rest: d/v + v/a, or 2 sqrt(d/a) when v is never met."""
    if acceleration == inf:
        return distance / speed
    if distance >= speed**2 / acceleration:
        return distance / speed + speed / acceleration
    return 2.0 * sqrt(distance / acceleration)


def cruise(distance: float, takes_s: float, acceleration: float) -> float:
    """The speed in between with which a distance takes just so long: d = v T - v^2/a solved."""
    if acceleration == inf:
        return distance / takes_s
    reach = acceleration * takes_s
    return (reach - sqrt(max(reach**2 - 4.0 * acceleration * distance, 0.0))) / 2.0


def gone(t: float, distance: float, takes_s: float, speed: float, acceleration: float) -> float:
    """How far it is at ``t`` of a trapezoid that takes ``takes_s`` with this speed in between."""
    if acceleration == inf:
        return speed * t
    ramp_s = speed / acceleration
    if t <= ramp_s:
        return 0.5 * acceleration * t**2
    if t >= takes_s - ramp_s:
        return distance - 0.5 * acceleration * (takes_s - t) ** 2
    return speed * (t - 0.5 * ramp_s)


@dataclass(frozen=True, kw_only=True)
class Placed(Electric):
    """A thing with a place 0..1 on its travel, that goes where it is told."""

    TIMED_BY: ClassVar[str] = "speed_rad_s"
    WAITS: ClassVar[str] = "answer"
    WORKS: ClassVar[str] = "turning"

    peak_a: float | None = quantity(
        "current", "Current while it turns; left out: as `current`.", default=None, low=0.0,
        high=50.0, example="0.8 A", key="peak",
    )  # fmt: skip
    answers_after: Span = span(
        "From the command until it begins to turn.",
        default=Span.ms(10),
        low=0.0,
        high=1.0,
        example="10 ms",
        estimated="half of the 20 ms between a servo's pulses; common practice, no source",
    )

    @abstractmethod
    def travel_rad(self) -> float:
        """From one end of its travel to the other."""

    @abstractmethod
    def pace(self) -> tuple[float, float]:
        """Greatest speed (rad/s) and acceleration (rad/s2, infinite for none to speak of)."""

    @abstractmethod
    def goal(self, move: Move) -> float:
        """The place 0..1 that a move goes to."""

    def home(self) -> float:
        """The place 0..1 where it waits before the show."""
        return 0.0

    def least(self, first: float, goal: float) -> Span:
        """The least time from one place to another, without the wait for its answer."""
        distance = abs(goal - first) * self.travel_rad()
        return Span.seconds(least_time(distance, *self.pace())) if distance else Span(0)

    def course(self, move: Move, first: float) -> Course:
        goal = self.goal(move)
        if goal == first:
            return still(first)
        least = self.least(first, goal).s
        takes = max(move.over.s if move.over else 0.0, least)
        return course_of(self._points(first, goal, takes))

    def _points(self, first: float, goal: float, takes: float) -> Iterator[tuple[float, float]]:
        _, acceleration = self.pace()
        distance = abs(goal - first) * self.travel_rad()
        speed = cruise(distance, takes, acceleration)
        wait = self.answers_after.s
        yield 0.0, first
        yield wait, first
        count = POINTS if acceleration < inf else 1
        for k in range(1, count):
            t = takes * k / count
            share = gone(t, distance, takes, speed, acceleration) / distance
            yield wait + t, first + (goal - first) * share
        yield wait + takes, goal

    def at_rest(self, setting: Setting) -> Any:  # noqa: ARG002
        return still(self.home())

    def lead(
        self, move: Move, land: Landing, before: Any, since: Span | None, setting: Setting
    ) -> Lead:
        found = super().lead(move, land, before, since, setting)
        first = found.curve[0][1]
        least = self.least(first, self.goal(move))
        if move.over is None or move.over >= least:
            return found
        return replace(
            found,
            never=f"`over {move.over}` is too short for the way it has to go. Write `over "
            f"{_up(least)}` or more, shorten the way, or fit a faster drive",
        )

    def begins(self, setting: Setting) -> Any:  # noqa: ARG002
        return Placing(place=self.home(), told=self.home())

    def step(
        self,
        state: Any,
        wires: tuple[Wire, ...],
        volts: float,
        dt_s: float,
        setting: Setting,  # noqa: ARG002
    ) -> Any:
        speed, gains = (each / self.travel_rad() for each in self.pace())
        found = told(state, wires[0], self.answers_after.s)
        ramps = None if gains == inf else gains
        return placed(found, volts=volts, dt_s=dt_s, most=speed, gains=ramps)

    def seen(self, state: Any) -> Seen:
        found: Placing = state
        most = self.current_a if self.peak_a is None else max(self.peak_a, self.current_a)
        return Seen(found.place, most if found.legs else self.current_a)

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:
        goal = self.goal(move)
        if abs(goal - first.place) <= TOUCH:
            return True
        done = way_done(first.place, now.place, goal)
        if land in ("starts", "half-way"):
            return done > TOUCH if land == "starts" else done >= 0.5
        there: bool = abs(now.told - goal) <= TOUCH and not now.legs and not now.waiting
        return there

    def bands(self, move: Move, parts: tuple[Part, ...]) -> dict[str, Span]:
        # Where the board keeps the time of the move, only the answer is in doubt.
        own = parts[:1] if move.over is not None and len(parts) > 1 else parts
        return super().bands(move, own)

    def commands(self, move: Move) -> tuple[Command, ...]:
        return (Command(output=self.wire(), value=self.goal(move), over=move.over),)

    def loads(self, move: Move) -> tuple[Load, ...]:
        turning = self.answers_after + max(self.least(0.0, 1.0), move.over or Span(0))
        most = self.current_a if self.peak_a is None else max(self.peak_a, self.current_a)
        if most == self.current_a:
            return (Load(volts=self.volts_v, amps=self.current_a),)
        return (
            Load(volts=self.volts_v, amps=most, stop=turning),
            Load(volts=self.volts_v, amps=self.current_a, start=turning),
        )


def _up(span: Span) -> Span:
    """Rounded up to 10 ms, as advice is given."""
    return Span(-(-span.ns // 10_000_000) * 10_000_000)
