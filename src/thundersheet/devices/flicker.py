"""A flickering light: oil lamp, candle, failing tube; it or its dimmer makes the flicker."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.shape import quantity
from thundersheet.base.time import Span
from thundersheet.devices._dimmed import Dimmed
from thundersheet.model.device import Light, Move


@dataclass(frozen=True, kw_only=True)
class Flicker(Dimmed):
    """A light that flickers by itself as long as it is on; cues only set its brightness."""

    KIND: ClassVar[str] = "flicker"
    EXAMPLE: ClassVar[str] = """\
devices:
  oil-lamp: {kind: flicker, volts: 24 V, current: 0.5 A, flickers: 2 Hz, depth: 30 %, on: dimmer 2}
beats:
  - {at: 0:00, do: oil-lamp on, window: loose}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor">'
        '<path d="M12 3c4 5 5 7 5 10a5 5 0 0 1-10 0c0-3 3-4 5-10zM8 22h8"/></g>'
    )

    flickers_hz: float = quantity(
        "frequency",
        "How often it dips.",
        default=2.0,
        low=0.01,
        high=100.0,
        example="2 Hz",
        estimated="slow enough to stay below three flashes a second; common practice, no source",
    )
    depth: float = quantity(
        "share",
        "How far it dips.",
        default=0.3,
        low=0.0,
        high=1.0,
        example="30 %",
        estimated="common practice, no source",
    )

    def rhythm(self, lit_s: float) -> float:
        return 1.0 if lit_s * self.flickers_hz % 1.0 < 0.5 else 1.0 - self.depth

    def light(self, move: Move) -> Light | None:
        goal = self.goal(move)
        if goal <= 0.0 or self.depth <= 0.0:
            return super().light(move)
        period = Span.seconds(1.0 / self.flickers_hz)
        dips = ((Span(0), goal), (Span.seconds(period.s / 2), goal * (1.0 - self.depth)))
        return Light(levels=dips, area=self.lit_share, red=self.red, every=period)
