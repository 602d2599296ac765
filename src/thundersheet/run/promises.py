"""The night's promises, held against what the outputs really do. Asked after every step.

In: what truly happened (a world's, not what the controller believes) and the board as it is. Out:
nothing, or ``Broken`` with the seed that shows it again. Shares no code with gate, states, engine.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from thundersheet.base.time import Span, Time
from thundersheet.run.setup import Setup

SAFE_WITHIN = Span.ms(100)
"""Outputs are safe so soon after a stop, a door, a lost supply, a dead process, a lost board."""
TICK_LATE = Span.ms(5)
"""The latest that a simulated tick comes after it was due."""


class Broken(Exception):
    """A promise did not hold."""

    def __init__(self, seed: int, at: Time, what: str) -> None:
        super().__init__(f"seed {seed}, at {at}: {what}")


@dataclass(slots=True)
class Truth:
    """What truly is and was, whatever the controller was told."""

    seed: int
    setup: Setup
    outputs: dict[str, float] = field(default_factory=dict)
    """As they are, electrically."""
    on_since: dict[str, Time] = field(default_factory=dict)
    off_since: dict[str, Time] = field(default_factory=dict)
    opened: bool = False
    """A person has opened since power came, or since the last stop."""
    causes: dict[str, Time] = field(default_factory=dict)
    """Why everything has to be safe, and since when; gone once a person has opened again."""
    show_ends: Time | None = None
    """When the show that plays has to be over at the latest."""
    unplugged: Time | None = None
    """When the board was cut off last; by itself it is safe SAFE_WITHIN later."""
    jog: dict[str, Time] = field(default_factory=dict)
    """Outputs that a person jogs, and when that ends at the latest."""
    jogged: set[str] = field(default_factory=set)
    tokens: list[tuple[Time, Time, Time]] = field(default_factory=list)
    """Starts by persons that have had no show yet: from when, until when they are made, and until
    when they count."""
    journal: int = 0
    """Shows counted; outlives every crash."""
    begun: int = 0
    practised: int = 0
    counted: int = 0
    steps: int = 0

    def put(self, name: str, value: float, at: Time) -> None:
        """An output changes."""
        safe = self.setup.lines[name].safe
        was, self.outputs[name] = self.outputs.get(name, safe), value
        if (was == safe) == (value == safe):
            return
        if value == safe:
            self.on_since.pop(name, None)
            self.off_since[name] = at
        else:
            self._rested(name, at)
            self.on_since[name] = at

    def _rested(self, name: str, at: Time) -> None:
        least = self.setup.lines[name].least_off
        if least and name in self.off_since and at.since(self.off_since[name]) < least:
            self.fail(at, f"{name} was off for only {at.since(self.off_since[name])}")

    def fail(self, at: Time, what: str) -> None:
        """A promise is broken."""
        raise Broken(self.seed, at, what)

    def away(self) -> list[str]:
        """Outputs of devices that do not have their safe value."""
        return [name for name in self.on_since if self.setup.lines[name].device]

    def check(self, at: Time) -> None:
        """Every promise about outputs, for the time up to an instant."""
        self.steps += 1
        for why, since in self.causes.items():
            # A show that ends of itself as the door opens keeps its air; its outputs are safe too.
            late = at.since(since) - SAFE_WITHIN
            on = self.away() if late <= Span.ms(2) else list(self.on_since)
            if late > Span(0) and on:
                self.fail(at, f"{sorted(on)} on {at.since(since)} after: {why}")
        if self.unplugged is not None and at.since(self.unplugged) <= SAFE_WITHIN:
            pass  # nobody reaches the board: its own heartbeat is under way
        elif not self.opened and not self.causes:
            self._only_jogged(at)
        elif self.opened and not self.causes:
            self._only_in_shows(at)
        for name, since in self.on_since.items():
            most = self.setup.lines[name].most_on
            if most and at.since(since) > most + TICK_LATE:
                self.fail(at, f"{name} has been on for {at.since(since)}, at most {most}")
        self._apart(at)

    def _only_jogged(self, at: Time) -> None:
        away = self.away()
        if len(away) > 1:
            self.fail(at, f"{away} on in the dark: one at a time")
        if any(self.jog.get(name, Time(-1)) < at for name in away):
            self.fail(at, f"{away} on in the dark, and nobody holds the button")
        air = self.setup.air in self.on_since
        if air and not self.jogged:
            self.fail(at, "air in the dark, and nothing was jogged without")
        if air and set(away) - self.jogged:
            self.fail(at, f"{away} jogged with air before it was without")

    def _only_in_shows(self, at: Time) -> None:
        if self.away() and (self.show_ends is None or at > self.show_ends):
            self.fail(at, f"{self.away()} on, and no show plays")

    def _apart(self, at: Time) -> None:
        """No rule `never together` is broken by outputs that are switched at once."""
        devices = {self.setup.lines[name].device for name in self.on_since}
        for rule in self.setup.rules:
            named = {each.move.device for each in rule.never if not each.at_home}
            if len(named & devices) > 1:
                self.fail(at, f"{sorted(named & devices)} are away together")

    def forget(self, at: Time) -> None:
        """What waited is no start once this is heard of; what is still pressed may become one."""
        heard = at + SAFE_WITHIN
        self.tokens = [
            (begun, made, until if made > at else min(until, heard))
            for begun, made, until in self.tokens
        ]

    def starts(self, at: Time) -> None:
        """A show starts: some person asked for it, and it is the only one for that asking."""
        due = [each for each in self.tokens if each[0] <= at <= each[2]]
        if not due:
            self.fail(at, "a show began that nobody started")
        self.tokens.remove(due[0])
        heard_of = [since for since in self.causes.values() if at.since(since) > SAFE_WITHIN]
        if heard_of or not (self.opened or self.causes):
            self.fail(at, "a show began before a person opened")
        if self.show_ends is not None:
            self.fail(at, "a show began within a show")

    def counts(self, at: Time, total: int) -> None:
        """Every show has one count, over every crash."""
        if self.begun - self.practised != self.counted or total != self.counted:
            self.fail(at, f"{self.begun} shows, {self.counted} counted, {total} said")
