"""Events become tones with instants on the input's own line.

In: 16-bit samples at their rate. Out: each tone twice: when it is known, some 30 ms after its
onset, and when it has ended. Floats begin here: what a board does with its events is counted in
samples.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

from thundersheet.base.time import Span
from thundersheet.model.show import CueTrack
from thundersheet.track.live import tables as t
from thundersheet.track.live.ladder import Event
from thundersheet.track.live.swift import SwiftReceiver
from thundersheet.track.live.thin import Samples, Thin, delay_s
from thundersheet.track.symbols import SYMBOLS, level_and_twist

GAIN = 127 * t.HOP / 2 / 256 * 6 / 4
"""|z| over the amplitude of a tone: sine ROM, hop, shifts and weights."""
RAMP = CueTrack().ramp
"""As tones are written unless the book says otherwise."""
LINGERS_S = 0.0302
"""UP comes so long after the middle of the release, measured: mean over all digits at 50/50,
standard deviation 1.1 ms."""


@dataclass(frozen=True, slots=True)
class LiveTone:
    """A tone as far as it is known."""

    symbol: str
    onset_s: float
    """First instant of its attack."""
    length_s: float
    """So far; of an ended tone, to about 2 ms, from first to last instant."""
    known_s: float
    """When the receiver could say so: all sound up to here had come in."""
    level_dbfs: float
    twist_db: float


@dataclass(frozen=True, slots=True)
class News:
    """What a piece of sound brought."""

    begun: tuple[LiveTone, ...]
    ended: tuple[LiveTone, ...]


class Ear:
    """One channel, as it comes in."""

    def __init__(self, rate: int, ramp: Span = RAMP, start_s: float = 0.0) -> None:
        self._rate = rate
        self._thin = Thin(rate)
        self._receiver = SwiftReceiver()
        self._half_ramp_s = ramp.s / 2
        self._start_s = start_s
        self._delay_s = delay_s(rate)
        self._last: LiveTone | None = None

    def push(self, samples: Samples) -> News:
        """Tones that are known now, and tones that have ended."""
        begun, ended = [], []
        for event in self._receiver.push(self._thin.push(samples)):
            if event.kind == "down":
                self._last = self._tone(event)
                begun.append(self._last)
            elif self._last is not None:
                ended.append(self._over(self._last, event))
                self._last = None
        return News(tuple(begun), tuple(ended))

    def flush(self) -> News:
        """The end of the sound: silence is put behind it so that a last tone can end."""
        return self.push([0] * (self._rate // 10))

    def _tone(self, event: Event) -> LiveTone:
        heard_s = self._start_s + (event.hop + 1) * t.HOP / t.RATE
        onset_s = heard_s - event.age / 8 / t.RATE - self._delay_s - self._half_ramp_s
        sizes = (sqrt(32 * q) / GAIN / (t.LARGEST + 1) for q in (event.low, event.high))
        level, twist = level_and_twist(*sizes)
        length_s = heard_s - self._delay_s - onset_s
        return LiveTone(SYMBOLS[event.digit], onset_s, length_s, heard_s, level, twist)

    def _over(self, tone: LiveTone, event: Event) -> LiveTone:
        end_s = self._start_s + (event.hop + 1) * t.HOP / t.RATE - self._delay_s
        end_s += self._half_ramp_s - LINGERS_S
        return replace(tone, length_s=max(end_s - tone.onset_s, tone.length_s))
