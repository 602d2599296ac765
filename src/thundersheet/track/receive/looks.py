"""The narrow stream looked at every 2.5 ms: how much of each touch-tone frequency is there.

In: ``Narrow``. Out: ``Looks``: per look the power of the eight frequencies and of the whole
band. It decides nothing; ``detect`` does.

A look is a least-squares fit over 15 ms weighted by Hann's window. Hum, DC and rumble (below
about 200 Hz) are fitted beside and taken off, so they do not leak into 697 Hz.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Floats, Whole
from thundersheet.track.receive.band import Narrow
from thundersheet.track.symbols import HIGH_HZ, LOW_HZ

SPAN = 6
"""Hops in one look: 15 ms parts 697 from 770 Hz even when all is 3 % fast, and a gap of 8 ms
still shows as a dip of 13 dB."""
TONES_HZ = np.array(LOW_HZ + HIGH_HZ)
LOW_END_HZ = 200.0
ROWS = 4096


@dataclass(frozen=True, slots=True)
class Looks:
    """What was seen, one row a look; look ``k`` is centred ``k`` hops after the stream's start."""

    waves: Floats
    """Complex amplitude of each frequency as cosines (columns 0-7) and sines (8-15), phase
    counted from the centre of the look."""
    powers: Floats
    """One row a frequency, one column a look: half the squared amplitude of each frequency."""
    whole: Floats
    """Mean square of the band from 200 Hz up, same weighting."""


def look(stream: Narrow) -> Looks:
    """All looks of the stream."""
    hop, width = stream.hop, SPAN * stream.hop
    matrix, lows = _look_matrix(stream.rate, hop)
    views = np.lib.stride_tricks.sliding_window_view(stream.samples, width)[::hop]
    waves = np.empty((len(views), 16), np.float32)
    whole = _weighted_power(stream.samples, hop, len(views))
    for first in range(0, len(views), ROWS):
        here = slice(first, first + ROWS)
        product = np.ascontiguousarray(views[here]) @ matrix
        waves[here] = product[:, :16]
        rumble = product[:, 16 : 16 + lows]
        whole[here] -= np.einsum("ij,ij->i", rumble, rumble)
    powers = np.square(waves[:, :8].T)
    powers += np.square(waves[:, 8:].T)
    powers *= 0.5
    return Looks(waves, powers, np.maximum(whole, 0.0))


def centre(stream: Narrow, index: Whole) -> Doubles:
    """The stream position of the middle of looks."""
    return np.asarray(index * stream.hop + (SPAN * stream.hop - 1) / 2, np.float64)


def _weighted_power(samples: Floats, hop: int, count: int) -> Floats:
    """The Hann-weighted mean square under each look."""
    window = np.hanning(SPAN * hop + 2)[1:-1]
    pieces = (window / window.sum()).reshape(SPAN, hop).T.astype(np.float32)
    blocks = samples[: len(samples) // hop * hop].reshape(-1, hop)
    parts = (blocks * blocks) @ pieces
    total = parts[:count, 0].copy()
    for i in range(1, SPAN):
        total += parts[i : i + count, i]
    return np.asarray(total, np.float32)


@lru_cache(maxsize=16)
def _look_matrix(rate: float, hop: int) -> tuple[Floats, int]:
    """Columns giving cosine and sine amplitudes, then an orthonormal basis of the rumble."""
    width = SPAN * hop
    seconds = (np.arange(width) - (width - 1) / 2) / rate
    weight = np.hanning(width + 2)[1:-1]
    root = np.sqrt(weight / weight.sum())
    angles = 2 * np.pi * np.outer(seconds, TONES_HZ)
    tones = np.hstack([np.cos(angles), np.sin(angles)]) * root[:, None]
    low_angles = 2 * np.pi * np.outer(seconds, np.arange(0, LOW_END_HZ + 1, 50.0))
    lows = np.hstack([np.cos(low_angles), np.sin(low_angles)]) * root[:, None]
    left, sizes, _ = np.linalg.svd(lows, full_matrices=False)
    rumble = left[:, sizes > 1e-3 * sizes[0]]
    tones -= rumble @ (rumble.T @ tones)
    tones /= np.einsum("ij,ij->j", tones, tones)
    matrix = np.hstack([tones, rumble]) * root[:, None]
    return np.ascontiguousarray(matrix, np.float32), rumble.shape[1]
