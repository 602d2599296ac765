"""The controller put together: what happens goes in, what is to be done comes out.

In: events with their instants. Out: sends, counts and sentences in order. No clock, thread, file
or output: those that have them call `tell` when something happened and when `wakes` has come.
"""

from __future__ import annotations

from collections.abc import Iterator

from thundersheet.base.time import Time
from thundersheet.run.engine import Engine
from thundersheet.run.events import (
    Air,
    Begin,
    Effect,
    Event,
    Jog,
    MakeSafe,
    Over,
    PowerUp,
    Shift,
)
from thundersheet.run.now import Now
from thundersheet.run.setup import Setup
from thundersheet.run.states import step, wakes


class Controller:
    """One prop's controller from power-up until power is lost."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.now = Now()
        self.engine = Engine(setup)

    def tell(self, event: Event) -> tuple[Effect, ...]:
        """What is to be done now that something happened, or that time has passed."""
        if isinstance(event, PowerUp):
            self.engine = Engine(self.setup)
        self.now, effects = step(self.setup, self.now, event)
        # First what the board has let go of by itself: it is off, however late we come.
        done: list[Effect] = list(self.engine.let_go(self.now))
        done += [more for effect in effects for more in self._carried_out(effect)]
        if isinstance(event, Jog):
            done += self._jogged(event)
        done += self.engine.play(self.now)
        done += self.engine.rest(self.now)
        return tuple(done)

    def wakes(self) -> Time | None:
        """When it has to be told that time has passed; None: when something happens."""
        due = (wakes(self.setup, self.now), self.engine.wakes())
        return min((at for at in due if at is not None), default=None)

    def _carried_out(self, effect: Effect) -> Iterator[Effect]:
        at = self.now.at
        if isinstance(effect, MakeSafe):
            yield from self.engine.make_safe(at)
        elif isinstance(effect, Air):
            yield from self.engine.air(self.now, effect.on)
        elif isinstance(effect, Begin):
            self.engine.begin(effect.variant, effect.at)
            yield effect
        elif isinstance(effect, Shift):
            self.engine.shift(effect.began)
        elif isinstance(effect, Over):
            self.engine.end()
            yield effect
        else:
            yield effect

    def _jogged(self, event: Jog) -> Iterator[Effect]:
        allowed, effects = self.engine.jog(self.now, event)
        if allowed and not self.now.air:
            self.now = self.now.but(jogged=self.now.jogged | {event.output})
        yield from effects
