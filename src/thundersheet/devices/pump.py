"""A pump for a drip, trickle or jet of water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.shape import span
from thundersheet.base.time import Span
from thundersheet.devices._running import Running


@dataclass(frozen=True, kw_only=True)
class Pump(Running):
    """A pump: it starts, fills its hose, and then water comes."""

    KIND: ClassVar[str] = "pump"
    TIMED_BY: ClassVar[str] = "flows_after"
    WAITS: ClassVar[str] = "filling"
    WORKS: ClassVar[str] = "flow"
    EXAMPLE: ClassVar[str] = """\
devices:
  drip: {kind: pump, volts: 12 V, current: 0.5 A, flows after: 0.8 s, on: main 11}
beats:
  - {at: 0:05, do: drip on for 4 s}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><circle cx="12" cy="12" r="8"/>'
        '<path d="M12 20v3M12 1v3" /><path d="M8 8h8l-4-4z" fill="currentColor"/></g>'
    )

    flows_after: Span = span(
        "From being switched on until water comes out.",
        default=Span.ms(800),
        low=0.0,
        high=60.0,
        example="800 ms",
        estimated="a metre of hose kept full; common practice, no source",
    )
    full_after: Span = span(
        "From the first water to the full flow.",
        default=Span.ms(200),
        low=0.0,
        high=60.0,
        example="200 ms",
        estimated="common practice, no source",
    )

    def waits(self) -> Span:
        return self.flows_after

    def rises(self) -> Span:
        return self.full_after
