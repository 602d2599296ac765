"""From looks to events: a digit goes down when enough looks agree, and up when they miss it.

In: one look a hop. Out: DOWN with the tone's age, and UP. Shared by the plain loop and its twin;
it knows no sample.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from thundersheet.track.live import tables as t
from thundersheet.track.live.age import age

Past = Callable[[], tuple[Sequence[Sequence[int]], Sequence[int]]]
"""The powers Q of the last looks and the energies of the last four hops, newest last; asked for
only when a digit may go down."""


@dataclass(frozen=True, slots=True)
class Event:
    """A digit goes down or up."""

    kind: Literal["down", "up"]
    digit: int
    """4 x row + column of the keypad."""
    hop: int
    """At the end of this hop, counted from 0."""
    age: int = 0
    """DOWN: eighths of a sample from the middle of the attack to the end of the hop."""
    low: int = 0
    high: int = 0
    """DOWN: the powers Q of both tones."""


class Ladder:
    """The state between hops: the candidate, the active digit, and three small counters."""

    def __init__(self) -> None:
        self.candidate = t.NONE
        self.active = t.NONE
        self._count = 0
        self._blank = 0
        self._miss = 0

    @property
    def idle(self) -> bool:
        """Whether a hop without a digit changes nothing."""
        return self.active == t.NONE and self.candidate == t.NONE

    def step(self, hop: int, raw: int, best: int, holds: bool, past: Past) -> list[Event]:
        """The events of one hop: UP before DOWN where both are due."""
        self._consider(raw)
        out = []
        if self.active != t.NONE:
            self._miss = 0 if holds and best == self.active else self._miss + 1
            other = self._count >= t.PLENTY and self.candidate != self.active
            if self._miss >= t.MISSES or other:
                out.append(Event("up", self.active, hop))
                self.active = t.NONE
        if self.active == t.NONE and self._count >= t.ENOUGH:
            out += self._down(hop, raw, *past())
        return out

    def _consider(self, raw: int) -> None:
        if raw == t.NONE:
            self._blank += 1
            if self._blank >= t.BLANKS:
                self.candidate, self._count, self._blank = t.NONE, 0, 0
            return
        self._blank = 0
        if raw == self.candidate:
            self._count = min(self._count + 1, t.PLENTY)
        else:
            self.candidate, self._count = raw, 1

    def _down(
        self, hop: int, raw: int, q: Sequence[Sequence[int]], e: Sequence[int]
    ) -> list[Event]:
        """DOWN, if the looks suffice or the tone is old enough and still sounds.

        Never without an attack not long ago.
        """
        if raw == t.NONE:
            return []
        old = age(q, raw)
        # A tone of 23 ms that has just ended still passes the test; its last hop is empty.
        sounds = 12 * e[-1] >= e[-4] + 2 * e[-3] + 2 * e[-2] + e[-1]
        early = old >= t.OLD and sounds
        if old > t.YOUNG or (self._count < t.PLENTY and not early):
            return []
        self.active, self._miss = raw, 0
        return [Event("down", raw, hop, old, q[-1][raw >> 2], q[-1][4 + (raw & 3)])]
