"""A shaker: a motor with an off-centre weight under a floor, step or seat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.shape import span
from thundersheet.base.time import Span
from thundersheet.devices._running import Running


@dataclass(frozen=True, kw_only=True)
class Shaker(Running):
    """A shaker: it is felt as soon as it is nearly up to speed."""

    KIND: ClassVar[str] = "shaker"
    TIMED_BY: ClassVar[str] = "up_to_speed"
    WORKS: ClassVar[str] = "speed-up"
    EXAMPLE: ClassVar[str] = """\
devices:
  shaker: {kind: shaker, what: step trembles, volts: 24 V, current: 2.1 A, peak: 4 A, on: relays 4}
beats:
  - {at: 0:05, do: shaker on for 2 s}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><circle cx="12" cy="10" r="6"/>'
        '<path d="M12 10l4 4M3 20l3-2 3 2 3-2 3 2 3-2 3 2"/></g>'
    )

    up_to_speed: Span = span(
        "From being switched on to 95 % of its speed.",
        default=Span.ms(250),
        low=0.0,
        high=10.0,
        example="250 ms",
        estimated="small vibration motors: 100-400 ms; common practice, no source",
    )

    def rises(self) -> Span:
        return self.up_to_speed
