"""Which of the measured tones to believe: each by its edges, the doubtful by the others.

In: fits and ends of what passed ``judge``. Out: a mask. A written tone fits the template of its
attack and its release; in 100 minutes of music and speech nothing of 16 ms or more did so by
over 7 dB, nothing shorter by over 10 dB. In noise and after a coarse encoder true tones do no
better, but there are many of them and they agree in speed, level, twist and length.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Mask, Whole
from thundersheet.track.receive.fit import Fits
from thundersheet.track.receive.groups import median
from thundersheet.track.receive.speed import Speed
from thundersheet.track.symbols import SYMBOLS

SURE_DB = ((0.016, 11.5), (0.035, 8.5), (np.inf, 6.5))
"""Up to a length in seconds, the clearness of edges that needs no other witness."""
LONE_S, LONE_DB = 0.038, 5.0
"""A lone tone in noise is believed from this length, and so much over the weakest, on."""
MAJORITY = 0.6
"""Share of the doubtful that must agree before they are believed together."""
WITNESSES = 0.15
"""Share of sure tones among those that agree with them: music has one in fifty."""
SHORT_S = 0.030
"""Shorter ones are no witnesses for each other: a string plucked again and again has them."""
WITHOUT_DB = 3.0
"""Without sure tones the doubtful must be so much over the weakest."""
QUIETER_DB = 9.0
"""A tone so much under the others of its file is an echo or a leak, unless they scatter."""
PERFECT_DB = 15.0
"""But not if its edges are so clear."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What is known of each candidate, in order of time."""

    symbol: Whole
    onset_s: Doubles
    length_s: Doubles
    level_db: Doubles
    twist_db: Doubles
    clear_db: Doubles
    """Clearness of the worse edge."""
    off: Doubles
    """Of the tone's speed from the file's."""
    apart: Doubles
    """Of the two frequencies' speeds from each other."""
    room: Doubles
    """What noise may do to either: three standard deviations."""


def measured(
    symbol: Whole, onset_s: Doubles, length_s: Doubles, clear: Doubles, fits: Fits, speed: Speed
) -> Measured:
    """Gather what the steps before have found."""
    own = fits.hertz / speed.hertz(symbol) - 1.0
    sd = fits.hertz_sd / fits.hertz
    return Measured(
        symbol,
        onset_s,
        length_s,
        10 * np.log10(2 * fits.signal),
        20 * np.log10(fits.amplitude[:, 1] / fits.amplitude[:, 0]),
        10 * np.log10(np.maximum(clear, 1e-9)),
        own.mean(axis=1),
        own[:, 1] - own[:, 0],
        3 * np.hypot(sd[:, 0], sd[:, 1]),
    )


def trusted(tones: Measured, weakest_db: float) -> Mask:
    """The sure ones, and the doubtful over ``weakest_db`` if they agree with the rest."""
    if not len(tones.symbol):
        return np.zeros(0, bool)
    sure = tones.clear_db > _needed_db(tones.length_s)
    sure &= ~_echoes(tones)
    in_tune = np.abs(tones.apart) < 0.006 + tones.room
    lone = (tones.length_s > LONE_S) & (tones.clear_db > weakest_db + LONE_DB) & in_tune
    some = int(sure.sum()) >= 3
    core = sure if some else tones.length_s > SHORT_S
    agree = _agree(tones, core) if core.any() else sure
    if some:
        agree &= tones.clear_db > weakest_db
        believed = sure.sum() >= WITNESSES * agree.sum()
    else:
        agree &= in_tune & (tones.clear_db > weakest_db + WITHOUT_DB)
        believed = core.sum() >= 5 and agree[core].mean() >= MAJORITY
    if not believed:
        return (sure | lone) & ~_echoes(tones)
    return (sure | agree) & ~_echoes(tones) & ~_too_quiet(tones, core)


def _needed_db(length_s: Doubles) -> Doubles:
    needed = np.full(len(length_s), SURE_DB[-1][1])
    for limit_s, clear_db in SURE_DB[-2::-1]:
        needed[length_s < limit_s] = clear_db
    return needed


def _agree(tones: Measured, core: Mask) -> Mask:
    """Which are like the middle of the core ones, in all that a file's tones share."""
    level, twist, length = (
        median(values[core]) for values in (tones.level_db, tones.twist_db, tones.length_s)
    )
    return (
        (np.abs(tones.off) < 0.006 + np.minimum(tones.room, 0.02))
        & (np.abs(tones.level_db - level) < QUIETER_DB)
        & (np.abs(tones.twist_db - twist) < QUIETER_DB)
        & (np.abs(np.log2(tones.length_s / length)) < 1.0)
    )


def _too_quiet(tones: Measured, core: Mask) -> Mask:
    level = tones.level_db[core]
    middle = median(level)
    scatter = 1.4826 * median(np.abs(level - middle))
    quiet = tones.level_db < middle - max(QUIETER_DB, 4 * scatter)
    return quiet & (tones.clear_db < PERFECT_DB)


def _echoes(tones: Measured) -> Mask:
    """Those that follow a stronger tone of the same symbol as an echo does.

    Quieter by 5 dB at once, 40 dB more a second later: slower than any room that one would
    play cues in (60 dB in 0.6 s are 100 dB a second).
    """
    echo = np.zeros(len(tones.symbol), bool)
    for symbol in range(len(SYMBOLS)):
        mine = np.flatnonzero(tones.symbol == symbol)
        for back in range(1, min(9, len(mine))):
            later, earlier = mine[back:], mine[:-back]
            since = tones.onset_s[later] - tones.onset_s[earlier] - tones.length_s[earlier]
            drop = tones.level_db[earlier] - tones.level_db[later]
            echo[later] |= (since < 0.4) & (drop > 5.0 + 40.0 * np.maximum(since, 0.0))
    return echo
