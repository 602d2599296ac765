"""A gear motor: a carousel, a turning lamp, a winding rope, with or without a home switch."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, floor, pi
from typing import Any, ClassVar

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.shape import flag, quantity, span
from thundersheet.base.time import Span
from thundersheet.devices._course import Course, Point, course_of, ramp, still
from thundersheet.devices._running import Running
from thundersheet.devices._steps import MOVED, TOUCH, Lag, toward, way_done
from thundersheet.model.device import (
    Action,
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

EXPLAINS = {
    "TURN-01": "Only a motor with a home switch can stop at home by itself.",
}


@dataclass(frozen=True, slots=True)
class Turning:
    """A motor's state: its speed's course, and where its shaft was at the command."""

    speed: Course
    """Share of full speed."""
    turns: float
    """At the command; whole numbers are home."""
    full_hz: float

    def turns_at(self, seconds: float) -> float:
        """Where the shaft is: the speed's course summed up, which is made of straight lines."""
        edges = [t for t, _ in self.speed.points if 0.0 < t < seconds]
        total, now = 0.0, 0.0
        for then in [*edges, seconds]:
            total += (then - now) * (self.speed.at(now) + self.speed.at(then)) / 2.0
            now = then
        return self.turns + total * self.full_hz


@dataclass(frozen=True, slots=True)
class Shaft:
    """A motor's state in a rehearsal."""

    speed: float = 0.0
    """Share of full speed."""
    turns: float = 0.0
    """Since the beginning; whole numbers are home."""
    on: float = 0.0
    volts: float = 1.0


@dataclass(frozen=True, kw_only=True)
class GearMotor(Running):
    """A motor that runs at one speed, with a ramp at both ends."""

    KIND: ClassVar[str] = "gear motor"
    TIMED_BY: ClassVar[str] = "ramp"
    WORKS: ClassVar[str] = "speed-up"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(name="on", doc="Runs.", lands=("full", "starts", "half-way")),
        Action(name="off", doc="Stops where it is.", lands=("arrives", "starts")),
        Action(
            name="home",
            doc="Runs on to its home switch and stops there (needs `home switch: yes`).",
            lands=("arrives", "starts"),
        ),
    )
    EXAMPLE: ClassVar[str] = """\
devices:
  carousel:
    kind: gear motor
    volts: 24 V
    current: 0.5 A
    speed: 4 rpm
    ramp: 400 ms
    home switch: yes
    on: main 15
beats:
  - {at: 0:16, do: carousel on}
  - {at: 1:09, do: carousel home, window: loose}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><circle cx="12" cy="12" r="9"/>'
        '<path d="M7.5 16V8l4.5 5 4.5-5v8"/></g>'
    )

    speed_rad_s: float = quantity(
        "angular speed", "Its speed behind the gear, loaded.", low=0.001, high=1000.0,
        example="6 rpm", key="speed",
    )  # fmt: skip
    ramp: Span = span(
        "From standing to full speed, and back.", default=Span.ms(300), low=0.0, high=60.0,
        example="400 ms", estimated="small gear motors; common practice, no source",
    )  # fmt: skip
    home_switch: bool = flag("Whether a switch tells when it is at home.", default=False)

    def rises(self) -> Span:
        return self.ramp

    def course(self, move: Move, first: float) -> Course:
        goal = float(move.action == "on")
        return ramp(first, goal, takes_s=abs(goal - first) * self.ramp.s)

    def at_rest(self, setting: Setting) -> Any:  # noqa: ARG002
        return Turning(still(0.0), 0.0, self._full_hz)

    @property
    def _full_hz(self) -> float:
        return self.speed_rad_s / (2.0 * pi)

    def lead(
        self, move: Move, land: Landing, before: Any, since: Span | None, setting: Setting
    ) -> Lead:
        found: Turning = before
        at = found.speed.end_s if since is None else since.s
        turns = found.turns_at(at)
        if move.action == "home":
            return self._homing(land, found.speed.at(at), turns)
        lead = super().lead(move, land, found.speed, Span.seconds(at), setting)
        return replace(lead, state=Turning(lead.state, turns, self._full_hz))

    def _homing(self, land: Landing, first: float, turns: float) -> Lead:
        """To the next home: up to speed, on, and down so that it stands there.

        The ramp down covers half a ramp's time of full speed; what is left is run at full speed.
        """
        ramp_s, full = self.ramp.s, self._full_hz
        up_s = (1.0 - first) * ramp_s
        ramps = full * (up_s * (1.0 + first) + ramp_s) / 2.0
        left = ceil(turns + ramps - 1e-9) - turns
        run_s = (left - ramps) / full
        points: list[Point] = [(0.0, first), (up_s, 1.0), (up_s + run_s, 1.0)]
        points.append((up_s + run_s + ramp_s, 0.0))
        course = course_of(points)
        lands = Span.seconds(course.end_s if land == "arrives" else 0.0)
        # Where home is when the command comes is only as sure as the speed.
        doubt = Span.seconds(lands.s * (0.1 if self.origin.wrote("speed_rad_s") else 0.3))
        return Lead(
            parts=(Part(name="to home", span=lands),),
            early=doubt,
            late=doubt,
            basis="estimated",
            rest=Span.seconds(course.end_s),
            hold=Span.seconds(up_s + run_s),
            state=Turning(course, turns, full),
            curve=course.points,
            bands={"speed": doubt} if doubt else {},
        )

    def begins(self, setting: Setting) -> Any:  # noqa: ARG002
        return Shaft()

    def step(
        self,
        state: Any,
        wires: tuple[Wire, ...],
        volts: float,
        dt_s: float,
        setting: Setting,  # noqa: ARG002
    ) -> Any:
        """Its speed goes evenly to what its voltage gives; the shaft turns by what that covers."""
        found: Shaft = state
        on = wires[0].value
        wanted = on * max(volts, 0.0)
        pace = max(self.ramp.s, 1e-9)
        speed = toward(found.speed, wanted, dt_s / pace)
        ramp_s = min(dt_s, abs(wanted - found.speed) * pace)
        covers = ramp_s * (found.speed + speed) / 2.0 + (dt_s - ramp_s) * speed
        return Shaft(speed, found.turns + covers * self._full_hz, on, volts)

    def seen(self, state: Any) -> Seen:
        found: Shaft = state
        return Seen(found.speed, self.draws(Lag(found.speed, found.on, volts=found.volts)))

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:
        if move.action == "home":
            ran = now.turns - first.turns > MOVED
            return ran and (land == "starts" or now.speed <= TOUCH)
        done = way_done(first.speed, now.speed, self.aim(move))
        if land == "starts":
            return done == 1.0 or abs(now.speed - first.speed) > MOVED
        return done >= (0.5 if land == "half-way" else 1.0 - TOUCH)

    def off_home(self, state: Any) -> float:
        """By what share of a turn it stands beside its home."""
        found: Shaft = state
        return abs(found.turns - floor(found.turns + 0.5))

    def commands(self, move: Move) -> tuple[Command, ...]:
        # How long it runs home is found by the lead, from where the shaft is by then.
        return (Command(output=self.wire(), value=float(move.action != "off")),)

    def loads(self, move: Move) -> tuple[Load, ...]:
        if move.action != "home":
            return super().loads(move)
        longest = Span.seconds(1.0 / self._full_hz) + self.ramp + self.ramp
        return (Load(volts=self.volts_v, amps=self.current_a, stop=longest),)

    def objections(self, move: Move) -> tuple[Finding, ...]:
        if move.action == "home" and not self.home_switch:
            return (_no_switch(self),)
        return super().objections(move)


def _no_switch(device: GearMotor) -> Finding:
    return Finding(
        code="TURN-01",
        grade="refuse",
        says=f"{device.name} has no home switch, so it cannot tell where home is.",
        allowed="Fit one and write `home switch: yes`.",
        cures=(
            Cure(do="Fit a cam and a switch at home", cost="a switch and an input"),
            Cure(do=f"Write `{device.name} off` instead", cost="it stops anywhere"),
        ),
        about=(device.name,),
    )
