"""Numbers to places on paper, and round numbers to name them by."""

from __future__ import annotations

import math
from dataclasses import dataclass

CLOCK_STEPS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14_400)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight scale: ``low`` is drawn at ``first``, ``high`` at ``last``."""

    low: float
    high: float
    first: float
    last: float

    def at(self, value: float) -> float:
        """Where a value is drawn; beyond the ends it stops there."""
        span = self.high - self.low
        share = (value - self.low) / span if span else 0.0
        return self.first + min(max(share, 0.0), 1.0) * (self.last - self.first)

    def round_numbers(self, most: int = 6) -> tuple[float, ...]:
        """At most so many values inside, 1, 2 or 5 times a power of ten apart."""
        step = round_step(self.high - self.low, most)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return tuple(round(index * step, 12) for index in range(first, last + 1))


def round_step(span: float, most: int) -> float:
    """The least of 1, 2 or 5 times a power of ten that goes at most ``most`` times into it."""
    least = max(span, 1e-12) / most
    power = 10.0 ** math.floor(math.log10(least))
    return next(s * power for s in (1, 2, 5, 10) if s * power >= least * (1 - 1e-9))


def clock_step(span_s: float, most: int) -> int:
    """Seconds between ticks of a clock, at most so many ticks."""
    return next((step for step in CLOCK_STEPS if span_s / step <= most), CLOCK_STEPS[-1])
