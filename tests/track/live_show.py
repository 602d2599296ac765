"""Marks as they sound: at other speeds, damaged, and through the night's receiver."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from cue_track import MARKS, show

from thundersheet.plan.schedule import Schedule
from thundersheet.track.encode import encode
from thundersheet.track.live.clock import MarksClock
from thundersheet.track.live.hear import Ear, LiveTone
from thundersheet.track.live.marks import MarksReader
from thundersheet.track.live.thin import sixteen_bits
from thundersheet.track.words import Framing, ReadWord

RATE = 48_000
PIECE = 960
"""20 ms, as a sound server hands them out."""


def marks(length_s: float = 20) -> Schedule:
    return show(MARKS, length_s)


def played(schedule: Schedule, speed: float = 1.0, late_s: float = 0.0) -> np.ndarray:
    """The track at a speed: written at rate / speed and read at rate, so exact."""
    fine = round(RATE / speed)
    track = encode(schedule, fine)
    return np.concatenate([np.zeros(round(late_s * RATE), np.float32), track])


def true_speed(speed: float) -> float:
    return RATE / round(RATE / speed)


@dataclass
class Listener:
    """Ear, reader and clock, fed piece by piece as on the night."""

    schedule: Schedule
    rate: int = RATE

    def __post_init__(self) -> None:
        self.framing = Framing.of(self.schedule)
        self.tones: list[LiveTone] = []
        self.words: list[ReadWord] = []
        self.clock = MarksClock(self.framing)
        self.ahead: list[tuple[float, float]] = []
        """After each mark: the next mark's written onset, and when it is expected."""

    def hear(self, sound: np.ndarray) -> Listener:
        ear, reader = Ear(self.rate, self.schedule.style.ramp), MarksReader(self.framing)
        whole = sixteen_bits(np.asarray(sound, np.float32))
        for start in range(0, len(whole), PIECE):
            for tone in ear.push(whole[start : start + PIECE]).begun:
                self.tones.append(tone)
                for word in reader.take(tone):
                    self._take(word)
        return self

    def _take(self, word: ReadWord) -> None:
        self.words.append(word)
        self.clock.take(word)
        if word.number is None or self.clock.marks < 3:
            return
        following = self.framing.written_s(word.number + 1, 0)
        expected = self.clock.heard(following)
        assert expected is not None
        self.ahead.append((following, expected))

    def errors_ms(self, speed: float = 1.0, late_s: float = 0.0) -> np.ndarray:
        """Of every expectation from three marks on, a mark ahead."""
        return np.array(
            [1000 * (at - late_s - written / speed) for written, at in self.ahead] or [np.nan]
        )

    def rms_ms(self, speed: float = 1.0, late_s: float = 0.0) -> float:
        return float(np.sqrt(np.mean(self.errors_ms(speed, late_s) ** 2)))
