"""How much too fast the file runs, from what all its tones agree on.

In: the fits. Out: one speed for the file with its standard deviation, and the offset of each of
the eight frequencies from it (a sender whose 770 Hz is 0.3 % low keeps that for the whole file).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Whole
from thundersheet.track.receive.fit import Fits, nominal
from thundersheet.track.receive.groups import median
from thundersheet.track.receive.looks import TONES_HZ

OWN = 0.0002
"""Least offset of one frequency that is taken for the sender's doing."""


@dataclass(frozen=True, slots=True)
class Speed:
    """What the tones of a file agree on."""

    share: float
    """0.01 is 1 % too fast."""
    sd: float
    offsets: Doubles
    """Of each of the eight frequencies from ``share``; 0 where nothing is sure."""

    def hertz(self, symbol: Whole) -> Doubles:
        """The frequencies at which the file should carry these symbols, one row each."""
        share = 1 + self.share + self.offsets
        columns = np.stack([symbol // 4, 4 + symbol % 4], axis=1)
        return np.asarray((TONES_HZ * share)[columns])


def rough_speed(speed: Doubles, power: Doubles) -> float:
    """The middle of the candidates' speeds, the loud counting more."""
    return weighted_median(speed, np.sqrt(power)) if len(speed) else 0.0


def file_speed(fits: Fits, symbol: Whole) -> Speed:
    """The speed on which the fits agree.

    A weighted mean of those within three spreads of the median: the median is deaf to strays,
    the mean is sharper. The spread is measured, not assumed: coded sound is no white noise.
    """
    if not len(symbol):
        return Speed(0.0, 0.0, np.zeros(8))
    speed, sd = fits.speeds(symbol), fits.hertz_sd / nominal(symbol) + 1e-9
    offsets = _offsets(speed, sd, symbol)
    columns = np.stack([symbol // 4, 4 + symbol % 4], axis=1)
    share, spread = _agreed((speed - offsets[columns]).ravel(), sd.ravel())
    return Speed(share, spread, offsets)


def _agreed(values: Doubles, sd: Doubles) -> tuple[float, float]:
    """A mean deaf to strays, and its standard deviation."""
    sd = np.maximum(sd, median(sd) * 0.3)
    weight = sd**-2
    middle = weighted_median(values, weight)
    scaled = np.abs(values - middle) / sd
    limit = 3.0 * max(1.0, 1.4826 * median(scaled))
    keep = scaled <= limit
    total = float(np.sum(weight[keep]))
    mean = float(np.sum(weight[keep] * values[keep]) / total)
    excess = float(np.sum(weight[keep] * (values[keep] - mean) ** 2)) / max(keep.sum() - 1, 1)
    return mean, float((max(excess, 1.0) / total) ** 0.5)


def _offsets(speed: Doubles, sd: Doubles, symbol: Whole) -> Doubles:
    """Each frequency's own offset, where at least three tones say so beyond doubt."""
    columns = np.stack([symbol // 4, 4 + symbol % 4], axis=1).ravel()
    values, spread = speed.ravel(), sd.ravel()
    means, sds = np.full(8, np.nan), np.full(8, np.inf)
    for frequency in range(8):
        mine = columns == frequency
        if mine.sum() >= 3:
            means[frequency], sds[frequency] = _agreed(values[mine], spread[mine])
    known = np.isfinite(means)
    if not known.any():
        return np.zeros(8)
    apart = means - median(means[known])
    sure = known & (np.abs(apart) > OWN) & (np.abs(apart) > 5 * sds)
    return np.where(sure, apart, 0.0)


def weighted_median(values: Doubles, weight: Doubles) -> float:
    """The value with half of the weight on each side."""
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(total, 0.5 * total[-1])])
