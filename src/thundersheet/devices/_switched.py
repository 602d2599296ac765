"""What is switched on and off and takes its time to come up: fans, pumps, lamps, plain relays.

A kind says how long it rises and falls and what the parts of its lead are called.
"""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.finding import Finding
from thundersheet.base.shape import quantity
from thundersheet.base.time import Span
from thundersheet.devices._answers import Simple
from thundersheet.devices._course import Course, follow, pulse, ramp
from thundersheet.model.device import Action, Command, Load, Move

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


ON = Action(
    name="on", doc="Switches it on.", lands=("full", "starts", "half-way"), takes=frozenset({"for"})
)
OFF = Action(name="off", doc="Switches it off.", lands=("arrives", "starts", "half-way"))


@dataclass(frozen=True, kw_only=True)
class Switched(Electric):
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
