"""A media player: it carries the programme (leader) or runs with one that does (follower)."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Any, ClassVar

from thundersheet.base.finding import Finding
from thundersheet.base.shape import choice, span, text
from thundersheet.base.time import Span
from thundersheet.devices._answers import Simple
from thundersheet.devices._course import Course, pulse
from thundersheet.model.device import Action, Command, Landing, Move, Output, Seen, Setting, Wire

EXPLAINS = {
    "PLAYER-01": "A beat starts this player, but no terminal leads to its start input. A leader "
    "starts with the show, a follower with its leader; write `on` only for one that a cue starts.",
}


@dataclass(frozen=True, slots=True)
class Playing:
    """A player's state in a rehearsal."""

    media_s: float = -inf
    """Where in its file it is; negative: it will be at the start in so long; -inf: it waits."""
    starts: int = 0
    """How often it has begun."""
    pressed: bool = False


@dataclass(frozen=True, kw_only=True)
class MediaPlayer(Simple):
    """A player of sound and picture. The leader's sound is the show's clock."""

    KIND: ClassVar[str] = "media player"
    TIMED_BY: ClassVar[str] = "starts_after"
    WAITS: ClassVar[str] = "player"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(name="start", doc="Starts it by a pulse on its start input.", lands=("starts",)),
    )
    EXAMPLE: ClassVar[str] = """\
devices:
  second-player: {kind: media player, role: follower, starts after: 250 ms, on: main 12}
beats:
  - {at: 0:10, do: second-player start, window: soft}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><path d="M2 5h20v14H2zM9 8.5l7 3.5-7 3.5z"/></g>'
    )

    role: str = choice(
        "A leader carries the programme and the cue track; a follower runs in step with it.",
        ("leader", "follower"),
        default="leader",
    )
    screen: str = text("The screen it feeds.", default="", names="screen", example="sea-window")
    lag: Span = span(
        "By how much its picture comes late of its sound before any screen; not the screen's own "
        "lag, which stands with the screen and must not be counted twice.",
        default=Span(0),
        low=0.0,
        high=2.0,
        example="20 ms",
    )
    starts_after: Span = span(
        "From the pulse on its start input to its first sound or picture.",
        default=Span.ms(250),
        low=0.0,
        high=30.0,
        example="250 ms",
        estimated="differs much from player to player; common practice, no source",
    )
    press: Span = span(
        "How long its start input is held.", default=Span.ms(100), low=0.001, high=10.0,
        example="100 ms", estimated="longer than usual debouncing; common practice, no source",
    )  # fmt: skip

    def course(self, move: Move, first: float) -> Course:  # noqa: ARG002
        end = max(self.press.s, self.starts_after.s)
        return pulse(after_s=self.starts_after.s, rises_s=0.0, stays_s=end, falls_s=0.0)

    def begins(self, setting: Setting) -> Any:  # noqa: ARG002
        # Without a start input it begins with the show.
        return Playing() if self.on else Playing(0.0, 1)

    def step(
        self,
        state: Any,
        wires: tuple[Wire, ...],
        volts: float,  # noqa: ARG002
        dt_s: float,
        setting: Setting,  # noqa: ARG002
    ) -> Any:
        """A press starts it from the beginning, and so does the next one."""
        found: Playing = state
        pressed = bool(wires) and wires[0].value >= 0.5
        media = -self.starts_after.s if pressed and not found.pressed else found.media_s
        began = media < 0.0 <= media + dt_s
        # A press with no delay to it begins at once.
        began = began or (pressed and not found.pressed and media == 0.0)
        return Playing(media + dt_s, found.starts + began, pressed)

    def seen(self, state: Any) -> Seen:
        found: Playing = state
        return Seen(float(found.media_s >= 0.0))

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:  # noqa: ARG002
        return bool(now.starts > first.starts - (first.media_s == 0.0 and first.pressed))

    def outputs(self) -> tuple[Output, ...]:
        return (Output(name="on", terminal=self.on, drives="switch"),) if self.on else ()

    def commands(self, move: Move) -> tuple[Command, ...]:  # noqa: ARG002
        return (Command(output=self.on, value=1.0, hold=self.press),) if self.on else ()

    def least_gap(self, earlier: Move, later: Move) -> Span:  # noqa: ARG002
        return self.press

    def objections(self, move: Move) -> tuple[Finding, ...]:  # noqa: ARG002
        if self.on:
            return ()
        return (
            Finding(
                code="PLAYER-01",
                grade="refuse",
                says=f"{self.name} has no terminal on its start input.",
                allowed="Write `on: main 12`, or leave the beat out: a player of this role starts "
                "with the show.",
                about=(self.name,),
            ),
        )
