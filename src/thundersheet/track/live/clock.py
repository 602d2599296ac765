"""The show clock that marks set: what the media plays now, and when something will be played.

In: marks as they were read. Out: a clock between the written and the heard line. It runs on by
itself when marks are lost, and believes a jump only when two marks agree on it.
"""

from __future__ import annotations

from collections import deque

from thundersheet.track.follow import REMEMBERED, Clock, set_clock
from thundersheet.track.words import MOST_SPEED, Framing, ReadWord

JUMP_S = 0.02
"""A mark so far from where the clock expects it is a jump of the media, or false. Belts and
sound cards that drift within 6.5 % stay under it from mark to mark."""


class MarksClock:
    """Free until the first numbered mark."""

    def __init__(self, framing: Framing) -> None:
        self._framing = framing
        self._words: deque[ReadWord] = deque(maxlen=REMEMBERED)
        self._doubted: ReadWord | None = None
        self.clock: Clock | None = None
        """heard = offset + rate x written; None: not in step."""

    def take(self, word: ReadWord) -> None:
        """Set the clock by one more mark; torn ones say nothing."""
        if word.number is None:
            return
        if self._words and not self._agree(self._words[-1], word):
            if self._doubted is None or not self._agree(self._doubted, word):
                self._doubted = word
                return
            self._words.clear()
            self._words.append(self._doubted)
        self._doubted = None
        self._words.append(word)
        self.clock = set_clock(tuple(self._words), self._framing)

    def _agree(self, before: ReadWord, word: ReadWord) -> bool:
        """Whether two marks can stand in one playing: their order, and the time between them."""
        written = self._written(word) - self._written(before)
        rate = self.clock.rate if self.clock is not None and len(self._words) > 1 else 1.0
        slack = JUMP_S + abs(written) * (JUMP_S if rate != 1.0 else MOST_SPEED)
        return written > 0 and abs(word.onset_s - before.onset_s - rate * written) <= slack

    def _written(self, word: ReadWord) -> float:
        return self._framing.written_s(word.number or 0, 0)

    @property
    def marks(self) -> int:
        """Marks that the clock is set by."""
        return len(self._words)

    def heard(self, written_s: float) -> float | None:
        """When something written there will be heard; None: not in step."""
        return None if self.clock is None else self.clock.heard(written_s)

    def written(self, heard_s: float) -> float | None:
        """What is played at this instant; None: not in step."""
        return None if self.clock is None else (heard_s - self.clock.offset_s) / self.clock.rate
