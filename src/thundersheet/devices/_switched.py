"""What is switched on and off and takes its time to come up: fans, pumps, lamps, plain relays.

A kind says how long it rises and falls and what the parts of its lead are called.
"""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from typing import Any, ClassVar

from thundersheet.base.finding import Finding
from thundersheet.base.shape import quantity
from thundersheet.base.time import Span
from thundersheet.devices._answers import Simple
from thundersheet.devices._course import SETTLES, Course, follow, pulse, ramp
from thundersheet.devices._steps import LEAST, MOVED, Lag, lag_is_there, lagged, way_done
from thundersheet.model.device import Action, Command, Landing, Load, Move, Seen, Setting, Wire

EXPLAINS = {
    "MOVE-12": "The device is switched off again (`for`) before it has come up, so the beat never "
    "gets what it asks for.",
}


@dataclass(frozen=True, kw_only=True)
class Electric(Simple):
    """A device with a voltage and a current."""

    volts_v: float = quantity(
        "voltage", "Voltage it runs on.", low=0.5, high=400.0, example="24 V", key="volts"
    )
    current_a: float = quantity(
        "current", "Current while it is on.", low=0.0, high=50.0, example="0.5 A", key="current"
    )


@dataclass(frozen=True, kw_only=True)
class Follows(Electric):
    """A device whose value lags behind its one wire, as light, wind and mist do."""

    @abstractmethod
    def aim(self, move: Move) -> float:
        """The value 0..1 that a move is for."""

    @abstractmethod
    def settles(self, *, up: bool) -> Span:
        """From a step of its wire to 95 % of its own."""

    def gain(self, volts: float) -> float:  # noqa: ARG002
        """What it gets to at a share of its voltage, as a share of its full value."""
        return 1.0

    def draws(self, state: Lag) -> float:
        """What it draws in a state."""
        return self.current_a * state.told * state.volts

    def lights(self, state: Lag) -> float:  # noqa: ARG002
        """How bright it is in a state; 0 for what gives no light."""
        return 0.0

    def one_wire(self, wires: tuple[Wire, ...]) -> Wire:
        """What its outputs say together."""
        return wires[0]

    def begins(self, setting: Setting) -> Any:  # noqa: ARG002
        return Lag()

    def step(
        self,
        state: Any,
        wires: tuple[Wire, ...],
        volts: float,
        dt_s: float,
        setting: Setting,  # noqa: ARG002
    ) -> Any:
        found: Lag = state
        wire = self.one_wire(wires)
        gain = self.gain(volts)
        up = gain * wire.goal > found.value
        return lagged(found, wire, gain, self.settles(up=up).s / SETTLES, volts, dt_s)

    def seen(self, state: Any) -> Seen:
        found: Lag = state
        return Seen(found.value, self.draws(found), self.lights(found))

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:
        aim, gain = self.aim(move), self.gain(now.volts)
        if gain < LEAST and aim > first.value:
            return False
        change = now.value - first.value
        done = way_done(first.value, now.value, gain * aim)
        if land == "starts":
            return done == 1.0 or (abs(change) > MOVED and done > 0.0)
        if land == "half-way":
            return done >= 0.5
        return lag_is_there(first, now, aim, gain)


ON = Action(
    name="on", doc="Switches it on.", lands=("full", "starts", "half-way"), takes=frozenset({"for"})
)
OFF = Action(name="off", doc="Switches it off.", lands=("arrives", "starts", "half-way"))


@dataclass(frozen=True, kw_only=True)
class Switched(Follows):
    """On or off on one switching output; its value rises and falls with a lag."""

    ACTIONS: ClassVar[tuple[Action, ...]] = (ON, OFF)

    @abstractmethod
    def rises(self) -> Span:
        """From being switched on to its full value."""

    def falls(self) -> Span:
        """From being switched off to nothing."""
        return self.rises()

    def waits(self) -> Span:
        """From being switched on until anything begins."""
        return Span(0)

    def aim(self, move: Move) -> float:
        return float(move.action == "on")

    def settles(self, *, up: bool) -> Span:
        return self.rises() if up else self.falls()

    def starting_amps(self) -> float:
        """Current while it comes up."""
        return self.current_a

    def course(self, move: Move, first: float) -> Course:
        if move.action == "off":
            return follow(ramp(first, 0.0), self.falls().s)
        if move.hold is not None:
            return pulse(
                first=first,
                after_s=self.waits().s,
                rises_s=self.rises().s,
                stays_s=move.hold.s,
                falls_s=self.falls().s,
            )
        return follow(ramp(first, 1.0, after_s=self.waits().s), self.rises().s)

    def commands(self, move: Move) -> tuple[Command, ...]:
        return (Command(output=self.wire(), value=float(move.action == "on"), hold=move.hold),)

    def loads(self, move: Move) -> tuple[Load, ...]:
        if move.action == "off":
            return ()
        up = self.waits() + self.rises()
        if self.starting_amps() == self.current_a:
            return (Load(volts=self.volts_v, amps=self.current_a, stop=move.hold),)
        return (
            Load(volts=self.volts_v, amps=self.starting_amps(), stop=up),
            Load(volts=self.volts_v, amps=self.current_a, start=up, stop=move.hold),
        )

    def objections(self, move: Move) -> tuple[Finding, ...]:
        up = self.waits() + self.rises()
        if move.hold is not None and move.hold < up:
            return (too_short(self, move, up),)
        return super().objections(move)


def too_short(device: Simple, move: Move, up: Span) -> Finding:
    """An output that is let go before the device has come up."""
    return Finding(
        code="MOVE-12",
        grade="refuse",
        says=f"`{move}` lets go after {move.hold}, but {device.name} takes {up} to come up.",
        allowed=f"Give it {up} or more, or land its start only: `land: starts`.",
        about=(device.name,),
    )
