"""The inside of each tone fitted: both frequencies, both amplitudes, and what is left over.

In: the stream and the candidates. Out: ``Fits``, arrays with one entry a candidate. Ramps are
left out of the fit; where they are is the business of ``onset``.

x(t) = sum over the two tones of a cos wt + b sin wt + t (c cos wt + d sin wt), plus rumble, by
least squares with a weight that fades towards the ends. A frequency that is off by v radians a
second gives c = v b, d = -v a (first order in v t), so v = (c b - d a) / (a^2 + b^2).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Floats, Mask, Whole
from thundersheet.track.receive.band import Narrow
from thundersheet.track.receive.detect import Candidates
from thundersheet.track.receive.groups import groups, ladder, rumble, windows
from thundersheet.track.receive.looks import TONES_HZ

LENGTHS_S: Doubles = 0.006 * 1.2 ** np.arange(21.0)
"""Lengths of the fit: 6 to 230 ms. The longest that fits between the ramps is taken."""
EDGE_S = 0.0025
"""Left out at both ends of a tone: half a ramp of 3 ms and the error of the rough edge."""
BIN = 0.0008
"""Width of a bin of speeds that share one basis; the fit itself finds what is left."""
WIDE = 0.004
"""A first guess of a tone's speed this near the file's is taken for the file's."""


@dataclass(frozen=True, slots=True)
class Fits:
    """What the fits found; columns 0 and 1 are the low and the high tone."""

    hertz: Doubles
    hertz_sd: Doubles
    """From what was left over, as if that were white noise."""
    amplitude: Doubles
    noise: Doubles
    """Mean square of what the tones and the rumble leave over."""
    signal: Doubles
    """Mean square of both tones together."""

    def speeds(self, symbol: Whole) -> Doubles:
        """How much too fast each tone is, as a share."""
        return self.hertz / nominal(symbol) - 1.0

    def only(self, which: Mask) -> Fits:
        """Those that a mask or an index picks."""
        return Fits(**{f.name: getattr(self, f.name)[which] for f in fields(self)})


def nominal(symbol: Whole) -> Doubles:
    """The frequencies of symbols by number, one row each."""
    return TONES_HZ[np.stack([symbol // 4, 4 + symbol % 4], axis=1)]


def fit(stream: Narrow, found: Candidates, speed: Doubles) -> Fits:
    """Fit each candidate, starting from the speed given for it."""
    count = len(found)
    wide, narrow = (count, 2), (count,)
    out = Fits(*map(np.zeros, (wide, wide, wide, narrow, narrow)))
    _fit_some(stream, found, _bins(speed), np.arange(count), out)
    return out


def refit(
    stream: Narrow, found: Candidates, fits: Fits, before: Doubles, speed: Doubles
) -> Fits | None:
    """Fit those again whose speed is now another than before; None if there are none."""
    was, now = _bins(before), _bins(speed)
    moved = np.flatnonzero(was != now)
    if not len(moved):
        return None
    out = Fits(**{f.name: getattr(fits, f.name).copy() for f in fields(fits)})
    _fit_some(stream, found, now, moved, out)
    return out


def _bins(speed: Doubles) -> Whole:
    return np.round(speed / BIN).astype(np.int64)


def _fit_some(stream: Narrow, found: Candidates, bins: Whole, some: Whole, out: Fits) -> None:
    """Fit some of the candidates and write down the results."""
    inside = (found.stop - found.start) / stream.rate - 2 * EDGE_S
    lengths = ladder(inside, LENGTHS_S)
    middle = 0.5 * (found.start + found.stop)
    for (symbol, bin_, step), part in groups(found.symbol[some], bins[some], lengths[some]):
        index, width = some[part], round(LENGTHS_S[step] * stream.rate)
        first = np.round(middle[index] - (width - 1) / 2).astype(np.int64)
        _fit_group(windows(stream.samples, first, width), stream.rate, symbol, bin_, index, out)


def _fit_group(rows: Floats, rate: float, symbol: int, bin_: int, index: Whole, out: Fits) -> None:
    """Fit the windows of one group and write down the results at ``index``."""
    solve, spread, basis, freedom = _design(symbol, bin_, rows.shape[1], rate)
    shares = rows @ solve
    weight = _fade(rows.shape[1])
    left = (rows - shares @ basis) * weight
    noise = np.einsum("ij,ij->i", left, left, dtype=np.float64) / freedom
    shares = shares.astype(np.float64)
    base = nominal(np.array([symbol]))[0] * (1 + bin_ * BIN)
    for tone in (0, 1):
        a, b, c, d = shares[:, 4 * tone : 4 * tone + 4].T
        square = np.maximum(a * a + b * b, 1e-30)
        off = (c * b - d * a) / square / (2 * np.pi)
        out.hertz[index, tone] = base[tone] + np.clip(off, -60.0, 60.0)
        out.hertz_sd[index, tone] = np.sqrt(noise * spread[tone] / square) / (2 * np.pi)
        out.amplitude[index, tone] = np.sqrt(square)
    out.noise[index] = noise
    out.signal[index] = 0.5 * np.sum(out.amplitude[index] ** 2, axis=1)


@lru_cache(maxsize=512)
def _design(
    symbol: int, bin_: int, width: int, rate: float
) -> tuple[Floats, tuple[float, float], Floats, float]:
    """How to fit one kind of window.

    The solving matrix, the variance of the slope terms for unit noise, the basis, and the
    weighted count of degrees of freedom.
    """
    seconds = (np.arange(width) - (width - 1) / 2) / rate
    columns = []
    for hertz in nominal(np.array([symbol]))[0] * (1 + bin_ * BIN):
        angle = 2 * np.pi * hertz * seconds
        wave = [np.cos(angle), np.sin(angle)]
        columns += wave + [seconds * w for w in wave]
    design = np.hstack([np.stack(columns, axis=1), rumble(width, rate)])
    weight = _fade(width)[:, None]
    solve = (np.linalg.pinv(design * weight, rcond=1e-6) * weight.T).T
    spread = np.sum(solve**2, axis=0)
    slopes = (float(spread[[2, 3]].mean()), float(spread[[6, 7]].mean()))
    hat = np.sum((design @ solve.T).diagonal() * weight[:, 0] ** 2)
    freedom = max(float(np.sum(weight**2) - hat), 1.0)
    return (
        np.ascontiguousarray(solve, np.float32),
        slopes,
        np.ascontiguousarray(design.T, np.float32),
        freedom,
    )


@lru_cache(maxsize=64)
def _fade(width: int) -> Floats:
    """Weight of each sample: flat, falling to nothing over the outer quarters.

    A ramp that reaches into the fit then does little.
    """
    edge = np.minimum(np.arange(width), np.arange(width)[::-1]) + 0.5
    fall = np.clip(edge / (0.25 * width), 0.0, 1.0)
    return np.asarray(np.sin(0.5 * np.pi * fall), np.float32)
