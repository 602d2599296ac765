"""What lamps share: how their light follows the current, and what of it guests see.

An LED follows in a millisecond or two; a filament has to get hot. Not modelled: colour, the eye.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.shape import choice, flag, span
from thundersheet.base.time import Span
from thundersheet.devices._course import Course
from thundersheet.devices._steps import Lag
from thundersheet.devices._switched import Follows, Switched
from thundersheet.model.device import Light, Move

RISES = {"led": Span.ms(2), "filament": Span.ms(150)}
"""To 95 % of the light. LED with its driver: 2 ms (common practice, no source). Filament: a mains
lamp of 100 W has settled after some 50 ms, large ones take up to a second (Museum of Electric Lamp
Technology, lamptech.co.uk, `Starting Characteristics`); thick low-voltage filaments lie between."""

BRIGHTER = 3.4
"""A filament's light goes with this power of its voltage, its current with the next one: the usual
rerating of incandescent lamps (IES Lighting Handbook, exponents 3.4 and 0.55)."""
DRAWS = 0.55
STRING = 0.75
"""Share of its voltage that a string of LEDs takes before its resistor gets any: it is dark below
(common practice, no source)."""

STEPS = 12
"""A rising or falling light is handed to the flash check in so many steps."""


@dataclass(frozen=True, kw_only=True)
class Lit(Follows):
    """A device that gives light."""

    light_from: str = choice(
        "What makes the light: an LED follows at once, a filament has to get hot.",
        ("led", "filament"),
        default="led",
        key="type",
    )
    rise: Span | None = span(
        "From its current to 95 % of its light; left out: 2 ms for an LED, 150 ms for a filament.",
        default=None,
        low=0.0,
        high=5.0,
        example="2 ms",
        estimated="LED with driver 2 ms; filament 150 ms after lamptech.co.uk",
    )
    red: bool = flag(
        "Whether its light is saturated red, which the flash check takes more strictly.",
        default=False,
    )

    def rises(self) -> Span:
        """From its current to 95 % of its light."""
        return RISES[self.light_from] if self.rise is None else self.rise

    def settles(self, *, up: bool) -> Span:  # noqa: ARG002
        return self.rises()

    def gain(self, volts: float) -> float:
        if self.light_from == "filament":
            return float(max(volts, 0.0) ** BRIGHTER)
        return max(0.0, (volts - STRING) / (1.0 - STRING))

    def draws(self, state: Lag) -> float:
        if self.light_from == "filament":
            return float(self.current_a * state.told * max(state.volts, 0.0) ** DRAWS)
        return self.current_a * state.told * self.gain(state.volts)

    def lights(self, state: Lag) -> float:
        return state.value * self.rhythm(state.lit_s)

    def rhythm(self, lit_s: float) -> float:  # noqa: ARG002
        """Share of its light that it gives so long after it was lit, by a rhythm of its own."""
        return 1.0

    def given(self, course: Course, every: Span | None = None) -> Light:
        """What guests see of a course."""
        return Light(levels=levels_of(course), area=self.lit_share, red=self.red, every=every)


@dataclass(frozen=True, kw_only=True)
class SwitchedLight(Lit, Switched):
    """Light that is on or off."""

    TIMED_BY: ClassVar[str] = "rise"
    WORKS: ClassVar[str] = "rise"

    def rises(self) -> Span:
        return Lit.rises(self)

    def light(self, move: Move) -> Light:
        return self.given(self.course(move, float(move.action == "off")))


def levels_of(course: Course) -> tuple[tuple[Span, float], ...]:
    """A course as steps: each stretch that changes becomes a few steps to its end value."""
    points = course.points
    steps: list[tuple[Span, float]] = [(Span(0), points[0][1])]
    parts = max(1, STEPS // max(1, len(points) - 1))
    for (t0, v0), (t1, v1) in itertools.pairwise(points):
        for index in range(1, parts + 1):
            share = index / parts
            steps.append((Span.seconds(t0 + (t1 - t0) * share), v0 + (v1 - v0) * share))
    return tuple(step for i, step in enumerate(steps) if i == 0 or step[1] != steps[i - 1][1])
