"""A plain relay or contactor: closes a contact for something that the book does not model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.shape import quantity, span
from thundersheet.base.time import Span
from thundersheet.devices._course import Course, pulse, ramp
from thundersheet.devices._switched import Switched
from thundersheet.model.device import Move


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
