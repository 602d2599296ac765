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
from thundersheet.track.receive.columns import Column, column
from thundersheet.track.receive.crew import share

SLOW_HZ = 6000
"""The lowest rate of a narrow stream: its upper 700 Hz may alias, the 2.3 kHz below may not."""
HOP_S = 0.0025
"""Distance of the looks of the detector; a gap of 8 ms is three of them."""
REACH = 11
"""Half length of the filter, in samples of the slow stream: with Kaiser's window of shape 8
(80 dB) the change from pass to stop is then 1.4 kHz wide at 6 kHz: 2.3 to 3.7 kHz."""
ROWS = 2048
"""Rows of one matrix product: small enough for the second-level cache."""


PIECES = 8
"""A plain copy is made in so many pieces."""
QUIET = 1e-4
"""Where all peaks are lower there is nothing: -80 dBFS, where no tone is looked for."""
STRETCH = 4
"""Rows that are judged quiet or not together."""
MARGIN = 3
"""Quiet stretches kept on both sides of others, 30 ms: no fit looks farther out of a tone."""


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
        out = np.empty_like(self.samples)
        size = len(out) // PIECES + 1

        def piece(number: int) -> None:
            here = slice(number * size, (number + 1) * size)
            out[here] = self.samples[::-1][here]

        share(piece, PIECES)
        return replace(self, samples=out)


def narrow(sound: Samples | Column, rate: int) -> Narrow:
    """Low-pass and thin out one channel (1-D, float or whole numbers scaled to full scale 1)."""
    channel = sound if isinstance(sound, Column) else column(sound)
    factor = max(1, rate // SLOW_HZ)
    slow_rate = rate / factor
    hop = round(HOP_S * slow_rate)
    pad = 24 * hop
    kept = _lively(channel, hop * factor)
    out = np.zeros(2 * pad + len(kept) * hop, np.float32)
    _thin(channel, kept, factor, out[pad : len(out) - pad].reshape(-1, hop))
    return Narrow(out, slow_rate, hop, pad, factor, kept)


def _lively(channel: Column, width: int) -> Whole:
    """The rows of ``width`` samples that are not quiet, and some around them."""
    wide, quiet = STRETCH * width, QUIET / channel.step
    full, at_once = len(channel) // wide, ROWS // STRETCH
    loud = np.ones(-(-len(channel) // wide), bool)

    def piece(number: int) -> None:
        first, last = number * at_once, min((number + 1) * at_once, full)
        part = channel.stretch(first * wide, last * wide).reshape(-1, wide)
        loud[first:last] = (part.max(1) >= quiet) | (part.min(1) <= -quiet)

    share(piece, -(-full // at_once))
    total = np.cumsum(np.pad(loud, (MARGIN + 1, MARGIN)))
    near = np.flatnonzero(total[2 * MARGIN + 1 :] > total[: -2 * MARGIN - 1])
    rows = (STRETCH * near[:, None] + np.arange(STRETCH)).ravel()
    return rows[rows * width < len(channel)]


def _rows(channel: Column, numbers: Whole, width: int) -> Floats:
    """Some rows of ``width`` samples as floats; the last is filled up with silence."""
    out = np.empty((len(numbers), width), np.float32)
    starts = np.flatnonzero(np.diff(numbers, prepend=-2) != 1)
    for first, after in zip(starts, [*starts[1:], len(numbers)], strict=True):
        from_ = int(numbers[first]) * width
        part = channel.stretch(from_, min(from_ + int(after - first) * width, len(channel)))
        here = out[first:after].reshape(-1)
        here[: len(part)] = part
        here[len(part) :] = 0.0
    return out


@lru_cache(maxsize=16)
def taps(factor: int) -> Doubles:
    """The low-pass before one sample of ``factor`` is kept; odd count, middle tap at the sample."""
    half = REACH * factor
    shape = np.sinc(np.arange(-half, half + 1) / factor) * np.kaiser(2 * half + 1, 8.0)
    return np.asarray(shape / shape.sum())


def _thin(channel: Column, kept: Whole, factor: int, out: Floats) -> None:
    """Filter the kept rows by matrix products.

    Each row of ``hop * factor`` samples gives ``hop`` outputs, and adds its share to the row
    before and the row after. Where rows were left out both neighbours are quiet.
    """
    hop = out.shape[1]
    matrix = _filter_matrix(factor, hop) * np.float32(channel.step)

    def piece(number: int) -> None:
        first, last = number * ROWS, min((number + 1) * ROWS, len(kept))
        low, high = max(first - 1, 0), min(last + 1, len(kept))
        rows = _rows(channel, kept[low:high], hop * factor)
        here = out[first:last]
        if factor == 1:
            np.multiply(rows[first - low : last - low], np.float32(channel.step), out=here)
            return
        parts = rows @ matrix
        here[:] = parts[first - low : last - low, hop : 2 * hop]
        here[max(1 - first, 0) :] += parts[: last - low - 1, :hop][-(last - max(first, 1)) :]
        here[: high - first - 1] += parts[first - low + 1 :, 2 * hop : 3 * hop][: len(here)]

    share(piece, -(-len(kept) // ROWS))


def _filter_matrix(factor: int, hop: int) -> Floats:
    """Columns: what one row gives to the row after, to itself, and to the row before."""
    half, shape = REACH * factor, taps(factor)
    at = np.arange(hop * factor)[:, None]
    columns = []
    for row in (1, 0, -1):
        distance = at - (np.arange(hop) + row * hop)[None, :] * factor
        inside = np.abs(distance) <= half
        columns.append(np.where(inside, shape[np.clip(distance + half, 0, 2 * half)], 0.0))
    # Sixteen columns more or less cost the same: the product is made in steps of so many.
    columns.append(np.zeros((hop * factor, -3 * hop % 16)))
    return np.ascontiguousarray(np.concatenate(columns, axis=1), np.float32)
