"""A screen: nothing is switched, but its lag shifts all that has to meet its picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from thundersheet.base.shape import quantity, span
from thundersheet.base.time import Span
from thundersheet.devices._answers import Simple
from thundersheet.devices._course import Course, still
from thundersheet.model.device import Action, Command, Landing, Move, Output, Seen, Setting, Wire


@dataclass(frozen=True, kw_only=True)
class Screen(Simple):
    """A screen or projector. Beats meet it with `meets: its-name`; no beat does anything to it."""

    KIND: ClassVar[str] = "screen"
    ACTIONS: ClassVar[tuple[Action, ...]] = ()
    EXAMPLE: ClassVar[str] = """\
devices:
  sea-window: {kind: screen, what: window to the sea, lag: 45 ms, size: 40 in}
  pilots: {kind: pilot light, volts: 24 V, current: 0.12 A, on: main 9}
beats:
  - {at: 0:41.5, do: pilots on, meets: sea-window}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><path d="M2 4h20v13H2zM8 21h8M12 17v4"/></g>'
    )

    lag: Span = span(
        "From the player's signal to the picture on the glass.",
        default=Span.ms(50),
        low=0.0,
        high=2.0,
        example="45 ms",
        estimated="30-120 ms with processing, 10-30 ms in a low-delay mode; film a clap",
    )
    size_m: float | None = quantity(
        "length", "Its diagonal.", default=None, low=0.01, high=100.0, example="40 in"
    )

    def course(self, move: Move, first: float) -> Course:  # noqa: ARG002
        return still(first)

    def begins(self, setting: Setting) -> Any:  # noqa: ARG002
        """The instant of the programme whose picture is on the glass; before 0 it is dark."""
        return -self.lag.s

    def step(
        self,
        state: Any,
        wires: tuple[Wire, ...],  # noqa: ARG002
        volts: float,  # noqa: ARG002
        dt_s: float,
        setting: Setting,  # noqa: ARG002
    ) -> Any:
        return state + dt_s

    def seen(self, state: Any) -> Seen:
        # By less than a nanosecond it is there: the lag is a whole number of them.
        return Seen(float(state > -0.5e-9))

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:  # noqa: ARG002
        return True

    def outputs(self) -> tuple[Output, ...]:
        return (Output(name="on", terminal=self.on, drives="switch"),) if self.on else ()

    def commands(self, move: Move) -> tuple[Command, ...]:  # noqa: ARG002
        return ()
