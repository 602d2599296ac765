"""Mist: an atomiser or a machine that is warm, and the time until its cloud is seen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.shape import span
from thundersheet.base.time import Span
from thundersheet.devices._switched import Switched


@dataclass(frozen=True, kw_only=True)
class Mist(Switched):
    """Mist that takes seconds to be seen and seconds to clear."""

    KIND: ClassVar[str] = "mist"
    TIMED_BY: ClassVar[str] = "visible_after"
    WAITS: ClassVar[str] = "start"
    WORKS: ClassVar[str] = "cloud"
    EXAMPLE: ClassVar[str] = """\
devices:
  mist: {kind: mist, volts: 24 V, current: 1.0 A, visible after: 3 s, on: relays 5}
beats:
  - {at: 0:08, do: mist on for 6 s, window: loose}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor">'
        '<path d="M4 18h16M6 14c-3 0-3-4 0-4 0-5 7-6 8-2 5-1 6 6 2 6zM7 21h10"/></g>'
    )

    visible_after: Span = span(
        "From being switched on until guests see the cloud.",
        default=Span.seconds(3),
        low=0.0,
        high=120.0,
        example="3 s",
        estimated="a tray of atomisers; common practice, no source",
    )
    clears: Span = span(
        "From being switched off until it is gone.",
        default=Span.seconds(10),
        low=0.0,
        high=600.0,
        example="10 s",
        estimated="depends on draughts; common practice, no source",
    )

    def rises(self) -> Span:
        return self.visible_after

    def falls(self) -> Span:
        return self.clears
