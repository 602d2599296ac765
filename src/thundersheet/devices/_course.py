"""How a device's value goes after a command: brightness, speed or place over time.

In come numbers, out comes a ``Course``: points with straight lines between them. It is at once
the curve that is drawn, the state that is left behind, and where the landings are read off.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from math import exp

from thundersheet.model.device import Landing

Point = tuple[float, float]
"""Seconds after the command, and the value 0..1."""

POINTS = 40
"""Points of a drawn curve: straight lines between so many look round on paper."""


@dataclass(frozen=True, slots=True)
class Course:
    """A value over time: before its first point it is the first value, after its last the last."""

    points: tuple[Point, ...]

    def at(self, seconds: float) -> float:
        """The value at an instant after the command."""
        after = bisect_right(self.points, seconds, key=lambda point: point[0])
        if after == 0:
            return self.points[0][1]
        if after == len(self.points):
            return self.points[-1][1]
        (t0, v0), (t1, v1) = self.points[after - 1], self.points[after]
        return v0 + (v1 - v0) * (seconds - t0) / (t1 - t0)

    @property
    def goal(self) -> float:
        """The value farthest from the first one: where a pulse or a change goes to."""
        first = self.points[0][1]
        return max((value for _, value in self.points), key=lambda value: abs(value - first))

    @property
    def end_s(self) -> float:
        """When it has run its course."""
        return self.points[-1][0]

    def landing(self, land: Landing) -> float:
        """When it starts to change, is half-way to its goal, or reaches it; 0 if it stays."""
        first, goal = self.points[0][1], self.goal
        if goal == first:
            return 0.0
        if land == "starts":
            return self._leaves(first)
        return self._reaches((first + goal) / 2.0 if land == "half-way" else goal)

    def _leaves(self, first: float) -> float:
        left = next(i for i, (_, value) in enumerate(self.points) if value != first)
        return self.points[left - 1][0]

    def _reaches(self, wanted: float) -> float:
        for (t0, v0), (t1, v1) in zip(self.points, self.points[1:], strict=False):
            if v0 != v1 and min(v0, v1) <= wanted <= max(v0, v1):
                return t0 + (t1 - t0) * (wanted - v0) / (v1 - v0)
        raise AssertionError("a goal is one of the values")


def still(value: float) -> Course:
    """The course of what does not change."""
    return Course(((0.0, value),))


def ramp(first: float, goal: float, *, after_s: float = 0.0, takes_s: float = 0.0) -> Course:
    """Nothing for a while, then evenly from one value to another."""
    if first == goal:
        return still(first)
    return course_of([(0.0, first), (after_s, first), (after_s + takes_s, goal)])


def pulse(
    *, after_s: float, rises_s: float, stays_s: float, falls_s: float, first: float = 0.0
) -> Course:
    """Up to 1 and back to 0."""
    up = after_s + rises_s
    down = max(up, after_s + stays_s)
    return course_of(
        [(0.0, first), (after_s, first), (up, 1.0), (down, 1.0), (down + falls_s, 0.0)]
    )


def course_of(points: Iterable[Point]) -> Course:
    """A course through points in order; of equal ones only one is kept."""
    kept: list[Point] = []
    for point in points:
        if kept and point == kept[-1]:
            continue
        kept.append(point)
    return Course(tuple(kept))


SETTLES = 3.0
"""Time constants until 95 % of a step: 1 - exp(-3); called its end, for eye and ear."""

LEAST_S = 1e-9
"""A lag below a span's own nanosecond is none."""


def follow(wanted: Course, settles_s: float) -> Course:
    """What lags behind a wanted course by a first-order law, v' = (wanted - v) / tau.

    ``settles_s`` is three time constants: the time to 95 % of a step, where the course is said to
    be at its goal. Exact at each point for a wanted course made of ramps.
    """
    if settles_s < LEAST_S or len(wanted.points) == 1:
        return wanted
    tau = settles_s / SETTLES
    first, goal = wanted.points[0][1], wanted.points[-1][1]
    end = wanted.end_s + settles_s
    began = next((t for (t, v), (_, w) in _pairs(wanted) if v != w), 0.0)
    out: list[Point] = [(0.0, first), (began, first)]
    value, now = first, began
    step = (end - began) / POINTS
    for index in range(1, POINTS + 1):
        then = began + index * step
        value = _lagged(wanted, value, now, then, tau)
        now = then
        out.append((then, value))
    # The 5 % that never quite come are spread over the way, so that the goal is reached.
    stretch = (goal - first) / (value - first) if value != first else 1.0
    return course_of((t, first + (v - first) * stretch) for t, v in out)


def _pairs(course: Course) -> Iterable[tuple[Point, Point]]:
    return zip(course.points, course.points[1:], strict=False)


def _lagged(wanted: Course, value: float, now: float, then: float, tau: float) -> float:
    """First-order response over one step in which the wanted value is a ramp from a to b."""
    dt = then - now
    a, b = wanted.at(now), wanted.at(then)
    slope = (b - a) / dt
    fade = exp(-dt / tau)
    return b - slope * tau + (value - a + slope * tau) * fade
