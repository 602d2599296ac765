"""A fan: switched, and a second or so until its wind is felt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.shape import span
from thundersheet.base.time import Span
from thundersheet.devices._running import Running


@dataclass(frozen=True, kw_only=True)
class Fan(Running):
    """A fan whose wind comes up with its speed."""

    KIND: ClassVar[str] = "fan"
    TIMED_BY: ClassVar[str] = "up_to_speed"
    WORKS: ClassVar[str] = "speed-up"
    EXAMPLE: ClassVar[str] = """\
devices:
  fan: {kind: fan, what: draught, volts: 24 V, current: 0.75 A, up to speed: 1200 ms, on: relays 3}
beats:
  - {at: 0:05, do: fan on, window: loose}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><circle cx="12" cy="12" r="9"/>'
        '<path d="M12 12c0-5 5-6 5-3s-5 3-5 3c5 0 6 5 3 5s-3-5-3-5c0 5-5 6-5 3s5-3 5-3'
        'c-5 0-6-5-3-5s3 5 3 5z"/></g>'
    )

    up_to_speed: Span = span(
        "From being switched on to 95 % of its speed.",
        default=Span.ms(1200),
        low=0.0,
        high=60.0,
        example="1200 ms",
        estimated="a 120 mm fan; common practice, no source",
    )

    def rises(self) -> Span:
        return self.up_to_speed
