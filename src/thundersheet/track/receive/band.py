"""Sound at any rate becomes a narrow, slow stream that keeps all that a tone can say.

In: one channel of samples at 8 to 192 kHz. Out: ``Narrow``: float32 at 6 to 12 kHz, flat to
2.3 kHz, delayed by nothing. Touch tones end at 1633 Hz and their ramps add little beyond
2.2 kHz, so neither the symbol nor the onset loses anything; what follows costs an eighth.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Floats, Samples

SLOW_HZ = 6000
"""The lowest rate of a narrow stream: its upper 700 Hz may alias, the 2.3 kHz below may not."""
HOP_S = 0.0025
"""Distance of the looks of the detector; a gap of 8 ms is three of them."""
REACH = 11
"""Half length of the filter, in samples of the slow stream: with Kaiser's window of shape 8
(80 dB) the change from pass to stop is then 1.4 kHz wide at 6 kHz: 2.3 to 3.7 kHz."""
ROWS = 4096
"""Rows of one matrix product: small enough for the second-level cache."""


@dataclass(frozen=True, slots=True)
class Narrow:
    """One channel, slow and low-passed, with silence added before and after."""

    samples: Floats
    rate: float
    """Samples a second, exactly the file's rate divided by a whole number."""
    hop: int
    """Samples from one look to the next."""
    pad: int
    """Samples of silence before the first of the file (as many follow the last)."""
    factor: int
    """The file's rate divided by this one's."""

    def seconds(self, index: Doubles) -> Doubles:
        """The instants of sample positions, counted from the first sample of the file."""
        return (index - self.pad) / self.rate

    def backwards(self) -> Narrow:
        """The same sound from its end to its beginning."""
        return replace(self, samples=np.ascontiguousarray(self.samples[::-1]))


def narrow(samples: Samples, rate: int) -> Narrow:
    """Low-pass and thin out one channel (1-D, float or whole numbers scaled to full scale 1)."""
    factor = max(1, rate // SLOW_HZ)
    slow_rate = rate / factor
    hop = round(HOP_S * slow_rate)
    pad = 24 * hop
    count = -(-len(samples) // factor)
    out = np.zeros(pad + -(-count // hop) * hop + pad, np.float32)
    scale = _step(samples)
    if factor == 1:
        out[pad : pad + len(samples)] = samples
        out *= np.float32(scale)
    else:
        _thin(samples, factor, hop, scale, out[pad:-pad])
    return Narrow(out, slow_rate, hop, pad, factor)


def _step(samples: Samples) -> float:
    """What one step of a sample is worth: 1/32768 for 16-bit, 1 for floats."""
    size = samples.dtype.itemsize
    return 1.0 if samples.dtype.kind == "f" else 2.0 ** (1 - 8 * size)


@lru_cache(maxsize=16)
def taps(factor: int) -> Doubles:
    """The low-pass before one sample of ``factor`` is kept; odd count, middle tap at the sample."""
    half = REACH * factor
    shape = np.sinc(np.arange(-half, half + 1) / factor) * np.kaiser(2 * half + 1, 8.0)
    return np.asarray(shape / shape.sum())


def _thin(samples: Samples, factor: int, hop: int, scale: float, out: Floats) -> None:
    """Filter by matrix products.

    Each row of ``hop * factor`` samples gives ``hop`` outputs, and adds its share to the row
    before and the row after.
    """
    width = hop * factor
    matrix = _filter_matrix(factor, hop) * np.float32(scale)
    rows = out.reshape(-1, hop)
    for first in range(0, len(rows), ROWS):
        # One row more on both sides; what lies outside the file is silence.
        low, high = first - 1, min(first + ROWS, len(rows)) + 1
        block = np.zeros((high - low) * width, np.float32)
        begin, end = max(low * width, 0), min(high * width, len(samples))
        block[begin - low * width : end - low * width] = samples[begin:end]
        parts = block.reshape(-1, width) @ matrix
        here = rows[first : high - 1]
        np.add(parts[:-2, :hop], parts[1:-1, hop : 2 * hop], out=here)
        here += parts[2:, 2 * hop :]


def _filter_matrix(factor: int, hop: int) -> Floats:
    """Columns: what one row gives to the row after, to itself, and to the row before."""
    half, shape = REACH * factor, taps(factor)
    at = np.arange(hop * factor)[:, None]
    columns = []
    for row in (1, 0, -1):
        distance = at - (np.arange(hop) + row * hop)[None, :] * factor
        inside = np.abs(distance) <= half
        columns.append(np.where(inside, shape[np.clip(distance + half, 0, 2 * half)], 0.0))
    return np.ascontiguousarray(np.concatenate(columns, axis=1), np.float32)
