"""Sound at any rate becomes a narrow, slow stream that keeps all that a tone can say.

In: one channel of samples at 8 to 192 kHz. Out: ``Narrow``: float32 at 6 to 12 kHz, flat to
2.3 kHz, delayed by nothing. Touch tones end at 1633 Hz and their ramps add little beyond
2.2 kHz, so neither the symbol nor the onset loses anything; what follows costs an eighth.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Floats, Samples, Whole

SLOW_HZ = 6000
"""The lowest rate of a narrow stream: its upper 700 Hz may alias, the 2.3 kHz below may not."""
HOP_S = 0.0025
"""Distance of the looks of the detector; a gap of 8 ms is three of them."""
REACH = 11
"""Half length of the filter, in samples of the slow stream: with Kaiser's window of shape 8
(80 dB) the change from pass to stop is then 1.4 kHz wide at 6 kHz: 2.3 to 3.7 kHz."""
ROWS = 4096
"""Rows of one matrix product: small enough for the second-level cache."""


QUIET = 1e-4
"""Where all peaks are lower there is nothing: -80 dBFS, where no tone is looked for."""
STRETCH = 4
"""Rows that are judged quiet or not together."""
MARGIN = 12
"""Quiet rows kept on both sides of others, 30 ms: no fit looks farther out of a tone."""


@dataclass(frozen=True, slots=True)
class Narrow:
    """One channel, slow and low-passed, long silences left out, silence added at both ends."""

    samples: Floats
    rate: float
    """Samples a second, exactly the file's rate divided by a whole number."""
    hop: int
    """Samples from one look to the next; what is left out is whole hops."""
    pad: int
    """Samples of silence before the first of the file (as many follow the last)."""
    factor: int
    """The file's rate divided by this one's."""
    kept: Whole
    """The hops of the file that were kept, by number."""

    def seconds(self, index: Doubles) -> Doubles:
        """The instants of sample positions, counted from the first sample of the file."""
        inside = index - self.pad
        if not len(self.kept):
            return inside / self.rate
        row = np.clip(np.floor(inside / self.hop), 0, len(self.kept) - 1).astype(np.int64)
        return np.asarray((inside + (self.kept[row] - row) * self.hop) / self.rate)

    def backwards(self) -> Narrow:
        """The same sound from its end to its beginning."""
        return replace(self, samples=np.ascontiguousarray(self.samples[::-1]))


def narrow(samples: Samples, rate: int) -> Narrow:
    """Low-pass and thin out one channel (1-D, float or whole numbers scaled to full scale 1)."""
    factor = max(1, rate // SLOW_HZ)
    slow_rate = rate / factor
    hop = round(HOP_S * slow_rate)
    pad = 24 * hop
    scale = _step(samples)
    width = hop * factor
    kept = _lively(samples, width, QUIET / scale)
    out = np.zeros(2 * pad + len(kept) * hop, np.float32)
    inner = out[pad : len(out) - pad].reshape(-1, hop)
    if factor == 1:
        inner[:] = _rows(samples, kept, width)
        inner *= np.float32(scale)
    else:
        _thin(samples, kept, factor, scale, inner)
    return Narrow(out, slow_rate, hop, pad, factor, kept)


def _lively(samples: Samples, width: int, quiet: float) -> Whole:
    """The rows of ``width`` samples that are not quiet, and some around them."""
    count = -(-len(samples) // width)
    wide = STRETCH * width
    table = samples[: len(samples) // wide * wide].reshape(-1, wide)
    loud = np.ones(-(-count // STRETCH), bool)
    for first in range(0, len(table), ROWS // STRETCH):
        part = np.ascontiguousarray(table[first : first + ROWS // STRETCH])
        loud[first : first + len(part)] = (part.max(1) >= quiet) | (part.min(1) <= -quiet)
    total = np.cumsum(np.pad(np.repeat(loud, STRETCH)[:count], (MARGIN + 1, MARGIN)))
    return np.flatnonzero(total[2 * MARGIN + 1 :] > total[: -2 * MARGIN - 1])


def _rows(samples: Samples, numbers: Whole, width: int) -> Floats:
    """Some rows of ``width`` samples as floats; the last is filled up with silence."""
    whole = len(samples) // width
    table = samples[: whole * width].reshape(-1, width)
    complete = numbers[numbers < whole]
    out = np.zeros((len(numbers), width), np.float32)
    if len(complete) and complete[-1] - complete[0] == len(complete) - 1:
        out[: len(complete)] = table[complete[0] : complete[-1] + 1]
    else:
        out[: len(complete)] = table[complete]
    if len(complete) < len(numbers):
        out[-1, : len(samples) - whole * width] = samples[whole * width :]
    return out


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


def _thin(samples: Samples, kept: Whole, factor: int, scale: float, out: Floats) -> None:
    """Filter the kept rows by matrix products.

    Each row of ``hop * factor`` samples gives ``hop`` outputs, and adds its share to the row
    before and the row after. Where rows were left out both neighbours are quiet.
    """
    hop = out.shape[1]
    matrix = _filter_matrix(factor, hop) * np.float32(scale)
    for first in range(0, len(kept), ROWS):
        last = min(first + ROWS, len(kept))
        low, high = max(first - 1, 0), min(last + 1, len(kept))
        parts = _rows(samples, kept[low:high], hop * factor) @ matrix
        here = out[first:last]
        here[:] = parts[first - low : last - low, hop : 2 * hop]
        here[max(1 - first, 0) :] += parts[: last - low - 1, :hop][-(last - max(first, 1)) :]
        here[: high - first - 1] += parts[first - low + 1 :, 2 * hop :][: len(here)]


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
