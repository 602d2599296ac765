"""Which candidates are tones: the tests that speech, music, hum and noise fail.

In: fits, looks and edges of the candidates. Out: a mask. Two sets of limits: ``OWN`` for a
channel that carries tones alone, ``SHARED`` for one on which programme runs too.

The best guard is contrast: a written tone begins and ends, so both frequencies are there inside
and at least one of them is gone just before and just after. Notes and vowels fade.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Mask
from thundersheet.track.receive.band import Narrow
from thundersheet.track.receive.detect import Candidates
from thundersheet.track.receive.fit import Fits
from thundersheet.track.receive.looks import Looks, centre
from thundersheet.track.receive.speed import Speed


@dataclass(frozen=True, slots=True)
class Limits:
    """What a tone must show."""

    clear: float
    """Least power of the tones against all else between 130 Hz and 3 kHz."""
    sure: float
    """Least of ``clear`` times the count of samples fitted: short tones must be clearer."""
    contrast: float
    """Most that may be left just outside of the power inside, of the weaker-lasting tone."""
    shortest_s: float
    off: float
    """Most that one frequency may be off the file's speed."""
    apart: float
    """Most that the two may differ in that."""
    twist: float
    """Most of the stronger against the weaker tone, in power."""
    weakest_db: float
    """Least clearness of the edges, for tones that agree with clearer ones."""


OWN = Limits(1.0, 150.0, 0.25, 0.008, 0.020, 0.030, 20.0, -3.0)
SHARED = Limits(2.0, 300.0, 0.16, 0.022, 0.015, 0.015, 10.0, 3.0)
"""Lengths and offsets after ITU-T Q.24 (secondary source: reject under 23 ms, accept 1.5 %)."""
FASTEST = 0.036
"""Largest speed error of a file: 3 %, and what the first look may be wrong."""
LOOKS_OUT = (2, 6)
"""Outside looks: 5 to 12.5 ms from the middle of the edge. A gap of 8 ms shows at 5 ms."""


def clear(fits: Fits, found: Candidates, limits: Limits) -> Mask:
    """Both tones stand out of what else there is, by power and by twist."""
    share = fits.signal / np.maximum(fits.noise, 1e-15)
    samples = found.stop - found.start
    low, high = (fits.amplitude[:, column] ** 2 for column in (0, 1))
    even = np.maximum(low, high) < limits.twist * np.minimum(low, high)
    return np.asarray((share > limits.clear) & (share * samples > limits.sure) & even)


def bounded(looks: Looks, stream: Narrow, found: Candidates, fits: Fits, limits: Limits) -> Mask:
    """At least one of the two frequencies is gone just before, and just after."""
    inside = 0.5 * fits.amplitude**2
    before = _outside(looks, stream, found, found.start, -1) / inside
    after = _outside(looks, stream, found, found.stop, 1) / inside
    return np.asarray((before.min(1) < limits.contrast) & (after.min(1) < limits.contrast))


def _outside(looks: Looks, stream: Narrow, found: Candidates, edge: Doubles, way: int) -> Doubles:
    """The least power of each of the two frequencies over the looks outside an edge."""
    first = centre(stream, np.zeros(1, np.int64))[0]
    near = (edge - first) / stream.hop
    steps = way * np.arange(LOOKS_OUT[0], LOOKS_OUT[1])
    rows = np.round(near[:, None] + steps).astype(np.int64)
    rows = looks.column[np.clip(rows, 0, len(looks.whole) - 1)]
    low = looks.powers[(found.symbol // 4)[:, None], rows]
    high = looks.powers[(4 + found.symbol % 4)[:, None], rows]
    return np.stack([low.min(1), high.min(1)], axis=1).astype(np.float64)


def in_tune(fits: Fits, found: Candidates, speed: Speed, limits: Limits) -> Mask:
    """Both frequencies are where the file's speed puts them."""
    off = fits.hertz / speed.hertz(found.symbol) - 1.0
    # Three standard deviations for what noise does, no more than 2 %: else noise is in tune.
    room = np.minimum(3 * fits.hertz_sd / fits.hertz, 0.02)
    near = np.all(np.abs(off) < limits.off + room, axis=1)
    near &= np.abs(off[:, 0] - off[:, 1]) < limits.apart + room.sum(1)
    return np.asarray(near & (abs(speed.share) < FASTEST))


def alone(start: Doubles, stop: Doubles, power: Doubles) -> Mask:
    """Of two that overlap by more than a third of the shorter, the stronger stays."""
    keep = np.ones(len(start), bool)
    if len(start) < 2:
        return keep
    overlap = np.minimum(stop[:-1], stop[1:]) - np.maximum(start[:-1], start[1:])
    length = stop - start
    shorter = np.minimum(length[:-1], length[1:])
    clash = overlap > shorter / 3
    weight = power * length
    first_wins = weight[:-1] >= weight[1:]
    keep[1:] &= ~(clash & first_wins)
    keep[:-1] &= ~(clash & ~first_wins)
    return keep
