"""Marks as they come in: tone by tone to numbered words.

In: tones in time's order. Out: each mark once, as soon as nothing can be added to it. How a word
is checked and mended is `track.words`, the same as for files.
"""

from __future__ import annotations

from collections import deque

from thundersheet.plan.schedule.code import DIGITS, MARK_TONES
from thundersheet.track.words import MOST_SPEED, SLACK, Framing, HeardTone, ReadWord, read_words

REMEMBERED = 4
"""Marks back that a mended one may be confirmed by."""


class MarksReader:
    """The tones of the last marks."""

    def __init__(self, framing: Framing) -> None:
        self._framing = framing
        self._row: deque[HeardTone] = deque()
        self._said_s = float("-inf")
        word_s = (DIGITS + SLACK) * framing.pitch_s * (1 + MOST_SPEED)
        self._complete_s = word_s
        self._memory_s = (REMEMBERED * framing.spacing_s) * (1 + MOST_SPEED) + word_s

    def take(self, tone: HeardTone) -> tuple[ReadWord, ...]:
        """The words that are complete with this tone."""
        self._row.append(tone)
        while self._row[0].onset_s < tone.onset_s - self._memory_s:
            self._row.popleft()
        return self.settle(tone.onset_s)

    def settle(self, now_s: float) -> tuple[ReadWord, ...]:
        """The words that are complete at this instant, all tones begun before it being known."""
        out = []
        for word in read_words(self._row, self._framing):
            if word.onset_s > self._said_s and self._complete(word, now_s):
                out.append(word)
                self._said_s = word.onset_s
        return tuple(out)

    def _complete(self, word: ReadWord, now_s: float) -> bool:
        whole = word.state == "whole" and len(word.tones) == MARK_TONES
        return whole or now_s > word.onset_s + self._complete_s
