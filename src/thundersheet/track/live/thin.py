"""Sound of any usual rate becomes 12 bits at 8 kHz: the receiver's front end, in whole numbers.

In: 16-bit samples in pieces of any length. Out: samples of 12 bits, later by a fixed delay. The
ratio is exact: 1/6 from 48 kHz, 80/441 from 44.1 kHz. A board that samples at 8 kHz needs none.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import gcd

import numpy as np
from numpy.typing import NDArray

from thundersheet.track.live.tables import LARGEST, RATE

Whole = NDArray[np.int64]
Samples = NDArray[np.int16] | NDArray[np.int32] | NDArray[np.int64] | Sequence[int]
TAPS_48 = 96
"""Taps at 48 kHz, 2 ms; as long at other rates."""
CUTOFF_HZ = 2600
"""With Kaiser's window of shape 6.5: 0.05 dB up to 1690 Hz, -66 dB from 4 kHz."""
SHAPE = 6.5
ONE = 32768
"""Coefficients are whole numbers; this is a gain of one."""
DOWN = 19
"""Bits that a sum is shifted by: 15 of the coefficients, 4 from 16-bit sound to 12."""


@lru_cache(maxsize=16)
def coefficients(rate: int) -> Whole:
    """One row a phase, its taps from the newest sample back.

    h(t) = 2 fc / rate sinc(2 fc t) kaiser(t), times 32768 and rounded. A board takes this table
    as it is; a test holds its bytes.
    """
    up = RATE // gcd(rate, RATE)
    count = max(1, TAPS_48 * rate // 48_000)
    place = np.arange(count * up) - (count * up - 1) / 2
    seconds = place / (rate * up)
    shape = 2 * CUTOFF_HZ / rate * np.sinc(2 * CUTOFF_HZ * seconds) * np.kaiser(count * up, SHAPE)
    return np.asarray(np.floor(shape * ONE + 0.5).astype(np.int64).reshape(count, up).T)


def delay_s(rate: int) -> float:
    """How much later all is behind this front end."""
    if rate == RATE:
        return 0.0
    table = coefficients(rate)
    return (table.size - 1) / 2 / (rate * len(table))


class Thin:
    """The front end of one rate, from piece to piece.

    y[m] = (sum over k of h[mM mod L][k] x[mM // L - k] + 2^18) >> 19, held to 12 bits, where
    L / M is 8000 over the rate; at 8 kHz y = (x + 8) >> 4. Sums need 32 bits, signed.
    """

    def __init__(self, rate: int) -> None:
        self._plain = rate == RATE
        common = gcd(rate, RATE)
        self._up, self._down = RATE // common, rate // common
        self._table = coefficients(rate)
        self._before = np.zeros(self._table.shape[1] - 1, np.int64)
        self._at = 0
        """Place of the next output on the fine line (L steps an input), from the next input."""

    def push(self, samples: Samples) -> Whole:
        """The samples at 8 kHz that these bring."""
        x = np.asarray(samples, np.int64)
        if self._plain:
            return _held((x + 8) >> 4)
        joined = np.concatenate([self._before, x])
        count = max(0, -(-(len(x) * self._up - self._at) // self._down))
        out = self._sums(joined.astype(np.float64), count)
        self._before = joined[len(x) :]
        self._at += count * self._down - len(x) * self._up
        return _held((out + (1 << DOWN - 1)) >> DOWN)

    def _sums(self, x: NDArray[np.float64], count: int) -> Whole:
        """Outputs by matrix products, one for each phase; exact: all sums are under 2^53."""
        out = np.zeros(count, np.int64)
        taps = self._table.shape[1]
        for first in range(min(self._up, count)):
            place = self._at + first * self._down
            start, phase = place // self._up, place % self._up
            mine = len(range(first, count, self._up))
            rows = np.lib.stride_tricks.sliding_window_view(x, taps)[start :: self._down][:mine]
            out[first :: self._up] = rows @ self._table[phase, ::-1].astype(np.float64)
        return out


def _held(samples: Whole) -> Whole:
    """To 12 bits."""
    return np.asarray(np.clip(samples, -LARGEST - 1, LARGEST))


def sixteen_bits(samples: NDArray[np.int16] | NDArray[np.float32]) -> Whole:
    """Sound as the media door gives it, as 16-bit samples."""
    if samples.dtype == np.int16:
        return samples.astype(np.int64)
    return np.asarray(np.clip(np.round(samples * 32768.0), -32768, 32767), np.int64)
