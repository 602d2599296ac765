"""A plain relay or contactor: closes a contact for something that the book does not model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from thundersheet.base.shape import quantity, span
from thundersheet.base.time import Span
from thundersheet.devices._course import Course, pulse, ramp
from thundersheet.devices._steps import toward
from thundersheet.devices._switched import Switched
from thundersheet.model.device import Landing, Move, Seen, Setting, Wire

PULLS = 0.75
"""Share of its voltage at which a relay surely pulls (IEC 61810-1 asks for 80 %; makers give 70 to
75 % at 20 C)."""
DROPS = 0.1
"""Share at which it lets go: makers give 5 to 10 % and more."""


@dataclass(frozen=True, slots=True)
class Contact:
    """A relay's state in a rehearsal."""

    way: float = 0.0
    """Of its armature, 0 open to 1 pulled."""
    closed: bool = False
    pulling: bool = False
    amps: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Relay(Switched):
    """A relay: its contact closes a little after its coil gets current."""

    KIND: ClassVar[str] = "relay"
    TIMED_BY: ClassVar[str] = "closes_after"
    WAITS: ClassVar[str] = "relay"
    WORKS: ClassVar[str] = "contact"
    EXAMPLE: ClassVar[str] = """\
devices:
  old-radio: {kind: relay, what: the old radio wakes up, volts: 24 V, current: 40 mA, on: main 10}
beats:
  - {at: 0:05, do: old-radio on}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><path d="M3 8h18v8H3zM8 8l8 8M12 3v5M12 16v5"/></g>'
    )

    volts_v: float = quantity(
        "voltage", "Voltage of its coil.", default=24.0, low=0.5, high=400.0, example="24 V",
        key="volts", estimated="the usual control voltage; common practice, no source",
    )  # fmt: skip
    current_a: float = quantity(
        "current", "Current of its coil.", default=0.04, low=0.0, high=5.0, example="40 mA",
        key="current", estimated="a 1 W coil; common practice, no source",
    )  # fmt: skip
    closes_after: Span = span(
        "From the coil's current until the contact is closed.",
        default=Span.ms(8),
        low=0.0,
        high=1.0,
        example="8 ms",
        estimated="small relays: 5-15 ms; common practice, no source",
    )

    def rises(self) -> Span:
        return self.closes_after

    def course(self, move: Move, first: float) -> Course:
        after = self.closes_after.s
        if move.hold is not None:
            return pulse(first=first, after_s=after, rises_s=0.0, stays_s=move.hold.s, falls_s=0.0)
        return ramp(first, float(move.action == "on"), after_s=after)

    def begins(self, setting: Setting) -> Any:  # noqa: ARG002
        return Contact()

    def step(
        self,
        state: Any,
        wires: tuple[Wire, ...],
        volts: float,
        dt_s: float,
        setting: Setting,  # noqa: ARG002
    ) -> Any:
        """The armature runs over; the contact changes when it has come to the other end."""
        found: Contact = state
        on = wires[0].value >= 0.5
        pulling = on and volts >= (DROPS if found.pulling else PULLS)
        by = dt_s / max(self.closes_after.s, 1e-9)
        way = toward(found.way, float(pulling), by)
        # Half a nanosecond of a step's rounding must not keep it from its end.
        way = float(pulling) if abs(way - float(pulling)) < 1e-9 else way
        closed = pulling if way == float(pulling) else found.closed
        return Contact(way, closed, pulling, self.current_a * volts if on else 0.0)

    def seen(self, state: Any) -> Seen:
        found: Contact = state
        return Seen(float(found.closed), found.amps)

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:  # noqa: ARG002
        return bool(now.closed == (move.action == "on"))
