"""A pump for a drip, trickle or jet of water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from thundersheet.base.shape import span
from thundersheet.base.time import Span
from thundersheet.devices._course import SETTLES
from thundersheet.devices._running import Running
from thundersheet.devices._steps import Lag, lagged, toward
from thundersheet.model.device import Landing, Move, Seen, Setting, Wire


@dataclass(frozen=True, slots=True)
class Flowing:
    """A pump's state in a rehearsal."""

    filled: float = 0.0
    """Share of its hose that holds water."""
    water: Lag = Lag()
    on: float = 0.0
    volts: float = 1.0


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

    def begins(self, setting: Setting) -> Any:  # noqa: ARG002
        return Flowing()

    def step(
        self,
        state: Any,
        wires: tuple[Wire, ...],
        volts: float,
        dt_s: float,
        setting: Setting,  # noqa: ARG002
    ) -> Any:
        """The hose fills, then water comes; it runs empty again as fast as it filled."""
        found: Flowing = state
        on, pace = wires[0].value, max(self.flows_after.s, 1e-9)
        if not on:
            filled = toward(found.filled, 0.0, dt_s / pace)
            return Flowing(filled, self._water(found.water, 0.0, volts, dt_s), on, volts)
        rate = max(volts, 0.0) / pace
        fills_s = (1.0 - found.filled) / rate if rate else float("inf")
        if dt_s < fills_s:
            water = self._water(found.water, 0.0, volts, dt_s)
            return Flowing(found.filled + rate * dt_s, water, on, volts)
        water = found.water
        if fills_s > 0.0:
            water = self._water(water, 0.0, volts, fills_s)
        return Flowing(1.0, self._water(water, 1.0, volts, dt_s - fills_s), on, volts)

    def _water(self, water: Lag, wanted: float, volts: float, dt_s: float) -> Lag:
        tau = self.full_after.s / SETTLES
        return lagged(water, Wire.at(wanted), self.gain(volts), tau, volts, dt_s)

    def seen(self, state: Any) -> Seen:
        found: Flowing = state
        running = Lag(value=found.filled, told=found.on, volts=found.volts)
        return Seen(found.water.value, self.draws(running))

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:
        return super().has_landed(move, land, first.water, now.water)
