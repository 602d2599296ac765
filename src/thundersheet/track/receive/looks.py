"""The narrow stream looked at every 2.5 ms: how much of each touch-tone frequency is there.

In: ``Narrow``. Out: ``Looks``: per look the power of the eight frequencies and of the whole
band. It decides nothing; ``detect`` does.

A look is a least-squares fit over 15 ms weighted by Hann's window. Hum, DC and rumble (below
about 200 Hz) are fitted beside and taken off, so they do not leak into 697 Hz.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Floats, Mask, Small, Whole
from thundersheet.track.receive.band import Narrow
from thundersheet.track.receive.crew import share
from thundersheet.track.symbols import HIGH_HZ, LOW_HZ

SPAN = 6
"""Hops in one look: 15 ms parts 697 from 770 Hz even when all is 3 % fast, and a gap of 8 ms
still shows as a dip of 13 dB."""
Seen = TypeVar("Seen", Floats, Small, Mask, Whole)
TONES_HZ = np.array(LOW_HZ + HIGH_HZ)
LOW_END_HZ = 200.0
ROWS = 512
"""Looks that follow each other worked on together, six times: they stay in the cache."""


@dataclass(frozen=True, slots=True)
class Looks:
    """What was seen; look ``k`` is centred ``k`` hops after the stream's start.

    Every sixth look begins where another ended: such looks are a plain table of the stream, and
    are kept together.
    """

    waves: Floats
    """Real (rows 0-7) and imaginary parts (8-15) of each frequency's amplitude, one column a
    look; phase counted from the centre of the look."""
    powers: Floats
    """One row a frequency, one column a look: half the squared amplitude of each frequency."""
    whole: Floats
    """Mean square of the band from 200 Hz up, same weighting; in order of time."""

    column: Whole
    """Where each look stands in ``waves`` and ``powers``."""

    def in_time(self, row: Seen) -> Seen:
        """One value a look, put in order of time."""
        return _in_time(row, len(self.whole))


def look(stream: Narrow) -> Looks:
    """All looks of the stream."""
    hop, width = stream.hop, SPAN * stream.hop
    matrix, weight = _look_matrix(stream.rate, hop), _weight(hop)
    count = (len(stream.samples) - width) // hop + 1
    rows = -(-count // SPAN)
    waves, powers = np.zeros((16, SPAN, rows), np.float32), np.zeros((8, SPAN, rows), np.float32)
    whole = np.zeros((SPAN, rows), np.float32)

    def piece(number: int) -> None:
        first = number * ROWS
        sound = stream.samples[first * width : (first + ROWS + 1) * width]
        square = np.square(sound)
        for late in range(SPAN):
            fit = min(ROWS, (len(sound) - late * hop) // width)
            here, at = slice(first, first + fit), slice(late * hop, late * hop + fit * width)
            seen = matrix @ sound[at].reshape(fit, width).T
            waves[:, late, here] = seen[:16]
            np.square(seen, out=seen)
            np.add(seen[:8], seen[8:16], out=powers[:, late, here])
            left = square[at].reshape(fit, width) @ weight - seen[16:].sum(0)
            np.maximum(left, 0.0, out=whole[late, here])
        powers[:, :, first : first + ROWS] *= 0.5

    share(piece, -(-rows // ROWS))
    column = _in_time(np.arange(SPAN * rows), count)
    return Looks(
        waves.reshape(16, -1), powers.reshape(8, -1), _in_time(whole.ravel(), count), column
    )


def _in_time(row: Seen, count: int) -> Seen:
    ordered: Seen = row.reshape(SPAN, -1).T.reshape(-1)[:count]
    return ordered


def centre(stream: Narrow, index: Whole) -> Doubles:
    """The stream position of the middle of looks."""
    return np.asarray(index * stream.hop + (SPAN * stream.hop - 1) / 2, np.float64)


@lru_cache(maxsize=16)
def _weight(hop: int) -> Floats:
    """Hann's window over one look; its sum is 1."""
    window = np.hanning(SPAN * hop + 2)[1:-1]
    return np.asarray(window / window.sum(), np.float32)


@lru_cache(maxsize=16)
def _look_matrix(rate: float, hop: int) -> Floats:
    """Rows giving real parts, then imaginary ones, then an orthonormal basis of the rumble."""
    width = SPAN * hop
    seconds = (np.arange(width) - (width - 1) / 2) / rate
    root = np.sqrt(_weight(hop).astype(np.float64))
    angles = 2 * np.pi * np.outer(seconds, TONES_HZ)
    tones = np.hstack([np.cos(angles), -np.sin(angles)]) * root[:, None]
    low_angles = 2 * np.pi * np.outer(seconds, np.arange(0, LOW_END_HZ + 1, 50.0))
    lows = np.hstack([np.cos(low_angles), np.sin(low_angles)]) * root[:, None]
    left, sizes, _ = np.linalg.svd(lows, full_matrices=False)
    rumble = left[:, sizes > 1e-3 * sizes[0]]
    tones -= rumble @ (rumble.T @ tones)
    tones /= np.einsum("ij,ij->j", tones, tones)
    matrix = np.hstack([tones, rumble]) * root[:, None]
    return np.ascontiguousarray(matrix.T, np.float32)
