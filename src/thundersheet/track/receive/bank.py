"""The templates of attacks: what each frequency pair looks like when it begins here or there.

In: frequencies, places, the width of the window, a ramp. Out: for every pair and place four
orthonormal rows that span ramp times sines and cosines of both frequencies, free of rumble.

All pairs are made at once, and the last banks are kept: attack and release of a file often ask
for the same one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Floats
from thundersheet.track.receive.band import REACH, taps
from thundersheet.track.receive.groups import rumble
from thundersheet.track.receive.shapes import Ramp

STEEP_S = 0.002


@dataclass(frozen=True, slots=True)
class Grid:
    """Where templates are made."""

    rate: float
    factor: int
    """The file's rate divided by this one's."""
    width: int
    """Samples of a window."""
    lead: int
    """Samples before the middle one of the places tried."""
    step: float
    places: int
    """An odd count."""

    @property
    def first(self) -> float:
        """The earliest middle of an attack, in samples from the start of the window."""
        return self.lead - self.step * (self.places // 2)

    @property
    def middles(self) -> Doubles:
        """All middles, likewise."""
        return np.asarray(self.first + self.step * np.arange(self.places))


@lru_cache(maxsize=32)
def bank(grid: Grid, hertz: tuple[tuple[float, float], ...], ramp: Ramp) -> Floats:
    """One matrix for each pair: columns are samples, four rows for each place."""
    pairs = len(hertz)
    columns = _templates(grid, np.array(hertz), ramp)
    low = rumble(grid.width, grid.rate)
    columns -= (columns @ low) @ low.T
    columns = columns.reshape(pairs, grid.places, 4, grid.width)
    gram = columns @ columns.swapaxes(2, 3)
    # A start so late that hardly a sample is left has no four directions.
    gram += np.eye(4) * (1e-9 * grid.width)
    white = _inverse_root(gram).astype(np.float32) @ columns.astype(np.float32)
    return white.reshape(pairs, grid.places * 4, grid.width)


def _templates(grid: Grid, hertz: Doubles, ramp: Ramp) -> Doubles:
    """Ramp times cosine and sine of both tones: a row for each pair, place and wave.

    A steep ramp is drawn at the file's own rate and thinned out as the file was: its spectrum
    reaches beyond the narrow stream.
    """
    steep = ramp.seconds < STEEP_S and grid.factor > 1
    factor, margin = (grid.factor, REACH) if steep else (1, 0)
    count = (grid.width + 2 * margin - 1) * factor + 1
    seconds = (np.arange(count) / factor - margin) / grid.rate
    angles = 2 * np.pi * hertz[:, :, None] * seconds
    waves = np.concatenate([np.cos(angles), np.sin(angles)], axis=1)
    # A step lies somewhere between two samples of the file; a blurred one is nowhere flat.
    blurred = replace(ramp, seconds=max(ramp.seconds, 1.5 / (grid.rate * grid.factor)))
    ramps = blurred.around(seconds - (grid.middles / grid.rate)[:, None])
    columns = (ramps[:, None, :] * waves[:, None]).reshape(-1, count)
    if not steep:
        return np.asarray(columns)
    views = np.lib.stride_tricks.sliding_window_view(columns, 2 * margin * factor + 1, axis=1)
    return np.asarray(views[:, ::factor] @ taps(factor))


def _inverse_root(gram: Doubles) -> Doubles:
    """L^-1 for each positive definite matrix L L^T of 4 x 4.

    Cholesky's steps with the right side carried along, entry by entry for all matrices at once:
    a call of LAPACK for each takes ten times as long.
    """
    left = gram.copy()
    out = np.broadcast_to(np.eye(4), gram.shape).copy()
    for k in range(4):
        scale = 1.0 / np.sqrt(left[..., k, k])[..., None]
        left[..., k, :] *= scale
        out[..., k, :] *= scale
        for row in range(k + 1, 4):
            share = left[..., k, row, None].copy()
            left[..., row, :] -= share * left[..., k, :]
            out[..., row, :] -= share * out[..., k, :]
    return out
