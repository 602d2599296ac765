"""A beacon: a warning light that turns or flashes by itself as long as it is on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.shape import quantity
from thundersheet.base.time import Span
from thundersheet.devices._lights import SwitchedLight
from thundersheet.model.device import Light, Move

LIT = 0.2
"""Share of its period in which a beacon shines at one guest (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Beacon(SwitchedLight):
    """A beacon: it lights at once and then goes on in its own rhythm."""

    KIND: ClassVar[str] = "beacon"
    EXAMPLE: ClassVar[str] = """\
devices:
  beacons: {kind: beacon, volts: 12 V, current: 0.83 A, flashes: 1 Hz, lit share: 5 %, on: relays 2}
beats:
  - {at: 0:41.6, do: beacons on, window: soft}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><path d="M7 19v-8a5 5 0 0 1 10 0v8zM4 21h16"/>'
        '<path d="M3 8l2 1M21 8l-2 1M12 2v2M6 3l1 2M18 3l-1 2"/></g>'
    )

    flashes_hz: float = quantity(
        "frequency",
        "How often it flashes or turns.",
        default=1.0,
        low=0.01,
        high=20.0,
        example="1 Hz",
        estimated="60 a minute; common practice, no source",
    )

    def rhythm(self, lit_s: float) -> float:
        return float(lit_s * self.flashes_hz % 1.0 < LIT)

    def light(self, move: Move) -> Light:
        if move.action == "off":
            return super().light(move)
        period = Span.seconds(1.0 / self.flashes_hz)
        lit = ((Span(0), 1.0), (Span.seconds(period.s * LIT), 0.0))
        return Light(levels=lit, area=self.lit_share, red=self.red, every=period)
