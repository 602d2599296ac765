"""The sixteen touch-tone symbols, their frequencies, and the waveform of one written tone.

In: a symbol, a level, a length. Out: frequencies in hertz, samples as float32. It frames no
words (``words``), opens no file (``media``), and loads numpy only when a tone is written.

Frequencies: ITU-T Q.23 (11/1988), secondary source: 697, 770, 852, 941 Hz with 1209, 1336,
1477, 1633 Hz, sent within 1.8 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log10, pi
from typing import TYPE_CHECKING

from thundersheet.base.time import Span

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LOW_HZ = (697.0, 770.0, 852.0, 941.0)
HIGH_HZ = (1209.0, 1336.0, 1477.0, 1633.0)
SYMBOLS = "123A456B789C*0#D"
"""Row by row of the keypad: symbol ``4 * row + column`` is the pair ``LOW_HZ[row]``,
``HIGH_HZ[column]``."""

SENT_WITHIN = 0.018
"""Largest relative error of a sent frequency (ITU-T Q.23, secondary source)."""


def frequencies(symbol: str) -> tuple[float, float]:
    """The low and the high frequency of ``symbol`` in hertz."""
    row, column = divmod(SYMBOLS.index(symbol), 4)
    return LOW_HZ[row], HIGH_HZ[column]


@dataclass(frozen=True, slots=True)
class Voice:
    """How a tone is written: everything but which symbol and where."""

    level_dbfs: float = -12.0
    """Power of both tones together against a sine that just fills the scale. Two equal tones
    peak 3.01 dB above it, so -3.01 is the loudest that does not clip."""
    twist_db: float = 0.0
    """High tone minus low tone."""
    ramp: Span = Span(3_000_000)
    """Raised-cosine rise and fall, inside the length."""
    phases: tuple[float, float] = (-pi / 2, -pi / 2)
    """Cosine phases of the low and the high tone at the onset, in radians; the default starts
    both at zero."""


def amplitudes(level_dbfs: float, twist_db: float) -> tuple[float, float]:
    """The peak amplitudes of the low and the high tone, full scale being 1.

    a_low^2 + a_high^2 = 10^(level/10) and a_high / a_low = 10^(twist/20).
    """
    ratio = 10 ** (twist_db / 20)
    low = 10 ** (level_dbfs / 20) / (1 + ratio * ratio) ** 0.5
    return low, low * ratio


def level_and_twist(low: float, high: float) -> tuple[float, float]:
    """The level in dBFS and the twist in dB of two peak amplitudes: ``amplitudes`` undone."""
    return 10 * log10(low * low + high * high), 20 * log10(high / low)


def write_tone(
    symbol: str,
    length: Span,
    rate: int,
    voice: Voice = Voice(),
    *,
    late: float = 0.0,
) -> NDArray[np.float32]:
    """The samples of one tone at ``rate``; ``length`` counts both ramps.

    ``late`` (0 to below 1 sample) sets the onset between two samples: the tone starts so much
    after the first sample returned.
    """
    import numpy as np

    count = round(length.s * rate)
    seconds = (np.arange(count + (1 if late else 0)) - late) / rate
    total = np.zeros(len(seconds))
    levels = amplitudes(voice.level_dbfs, voice.twist_db)
    pairs = zip(frequencies(symbol), levels, voice.phases, strict=True)
    for hertz, amplitude, phase in pairs:
        total += amplitude * np.cos(2 * pi * hertz * seconds + phase)
    edge = np.minimum(seconds, length.s - seconds)
    return (total * rise(edge, voice.ramp.s)).astype(np.float32)


def rise(seconds: NDArray[np.float64], ramp_s: float) -> NDArray[np.float64]:
    """The raised-cosine attack: 0 before its first instant, 1 from ``ramp_s`` on.

    r(t) = (1 - cos(pi t / T)) / 2 for 0 <= t <= T; a step at 0 when ``ramp_s`` is 0.
    """
    import numpy as np

    if ramp_s <= 0:
        return (seconds >= 0).astype(np.float64)
    return 0.5 - 0.5 * np.cos(pi * np.clip(seconds / ramp_s, 0.0, 1.0))
