"""Both ends of each tone, sharp; and how long the ramps of the file are when nobody says.

In: candidates with fits. Out: start, stop and their spread in samples of the stream. A file is
taken to have one ramp for all its attacks and one for all its releases.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Whole
from thundersheet.track.receive.band import Narrow
from thundersheet.track.receive.detect import Candidates
from thundersheet.track.receive.fit import Fits
from thundersheet.track.receive.onset import (
    FINE_REACH_S,
    FINE_STEP_S,
    FINEST_S,
    ROUGH_REACH_S,
    ROUGH_STEP_S,
    STEEP_S,
    Edges,
    Search,
    Sharp,
    search,
)
from thundersheet.track.receive.speed import Speed

USUAL_S = 0.003
"""The ramp assumed while none is known."""
LADDER_S = np.array([0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 9, 10, 12]) / 1000
SPREAD_S = 0.0025
"""Standard deviation of the ramps that people write: it decides only where noise hides them."""
SAID_SPREAD_S = 0.00005
"""The same when the ramp is said: clipping makes it steeper, and the tones may say so."""
SPOKESMEN = ((96, 4), (800, 16))
"""So many tones of so many kinds are asked how long their ramp is: in quiet, and in noise."""
NOISY_S = 0.00005
"""Noise is what lets an onset spread by more."""
OWN_SPEED = 0.002
"""Width of a bin of tones that are off the file's speed."""


@dataclass(frozen=True, slots=True)
class Belief:
    """What is held of a ramp before any tone is asked."""

    likely_s: float
    sd_s: float


@dataclass(frozen=True, slots=True)
class Ends:
    """Start and stop of each tone, in samples of the stream, ramps included."""

    start: Doubles
    start_sd: Doubles
    stop: Doubles
    clear: Doubles
    """Power of the tone against what its attack or its release leaves over, the worse of both."""
    ramp_s: float


def ends(stream: Narrow, found: Candidates, fits: Fits, speed: Speed, ramp_s: float | None) -> Ends:
    """Find both ends of every candidate; ``ramp_s``: the ramp as said, None if nobody says."""
    if not len(found):
        none = np.zeros(0)
        return Ends(none, none, none, none, ramp_s or 0.0)
    rate, last = stream.rate, len(stream.samples) - 1
    backwards = stream.backwards()
    kind, hertz = _kinds(found, fits, speed)
    usual = USUAL_S if ramp_s is None else ramp_s
    attack, spread_s = _rough(stream, Edges(found.start, found.stop, hertz, kind), usual)
    release, _ = _rough(backwards, Edges(last - found.stop, last - found.start, hertz, kind), usual)
    before = Belief(USUAL_S, SPREAD_S) if ramp_s is None else Belief(ramp_s, SAID_SPREAD_S)
    rise_s = find_ramp(stream, _facing(attack, release, last, rate), fits, before, spread_s)
    after = replace(before, likely_s=rise_s) if ramp_s is None else before
    fall_s = find_ramp(backwards, _facing(release, attack, last, rate), fits, after, spread_s)
    start = _fine(stream, _facing(attack, release, last, rate, fall_s), rise_s, spread_s)
    stop = _fine(backwards, _facing(release, attack, last, rate, rise_s), fall_s, spread_s)
    return Ends(
        start.middle - 0.5 * rise_s * rate,
        start.sd,
        last - stop.middle + 0.5 * fall_s * rate,
        np.minimum(start.clear, stop.clear),
        rise_s,
    )


def _facing(one: Edges, other: Edges, last: int, rate: float, ramp_s: float | None = None) -> Edges:
    """One kind of edges, using the tone up to where the other ramp begins.

    With that ramp unknown, 30 % of the tone or 5 ms are left to it.
    """
    middle = last - other.middle
    if ramp_s is None:
        clear = np.minimum(0.005 * rate, 0.3 * (middle - one.middle))
        return replace(one, end=middle - clear)
    return replace(one, end=middle - (0.5 * ramp_s + 0.0007) * rate)


def _kinds(found: Candidates, fits: Fits, speed: Speed) -> tuple[Whole, Doubles]:
    """Tones that share their frequencies: by symbol, and by bin if off the file's speed."""
    should = speed.hertz(found.symbol)
    sd = fits.hertz_sd / should + 1e-6
    off = np.average(fits.hertz / should - 1.0, axis=1)
    sure = np.abs(off) > np.maximum(5 * np.hypot(sd[:, 0], sd[:, 1]) / 2, 0.4 * OWN_SPEED)
    bins = np.where(sure, np.round(off / OWN_SPEED), 0.0).astype(np.int64)
    return found.symbol + 16 * (bins - bins.min()), should * (1 + bins * OWN_SPEED)[:, None]


def _rough(stream: Narrow, edges: Edges, ramp_s: float) -> tuple[Edges, float]:
    """Edges moved to the likeliest place on a coarse comb, and how far they scatter, in seconds."""
    edges = replace(edges, end=edges.end - (0.5 * ramp_s + 0.0005) * stream.rate)
    how = Search(ROUGH_REACH_S, ROUGH_STEP_S, ramp_s)
    sharp = search(stream, edges, how)
    return replace(edges, middle=sharp.middle), float(np.median(sharp.sd)) / stream.rate


def _reach(spread_s: float) -> float:
    """How far the fine search goes: five times what noise does."""
    return float(np.clip(5 * spread_s, *FINE_REACH_S))


def _fine(stream: Narrow, edges: Edges, ramp_s: float, spread_s: float) -> Sharp:
    """The likeliest middles on a fine comb and, for steep ramps in little noise, a finer one."""
    sharp = search(stream, edges, Search(_reach(spread_s), FINE_STEP_S, ramp_s))
    if ramp_s > STEEP_S or float(np.median(sharp.sd)) > FINE_STEP_S * stream.rate:
        return sharp
    return search(stream, replace(edges, middle=sharp.middle), Search(*FINEST_S, ramp_s))


def find_ramp(stream: Narrow, edges: Edges, fits: Fits, before: Belief, spread_s: float) -> float:
    """The likeliest ramp: downhill on the ladder from a guess, then between the rungs."""
    asked = _spokesmen(edges, fits, spread_s > NOISY_S)

    @cache
    def misfit(ramp_s: float) -> float:
        how = Search(_reach(spread_s), 2 * FINE_STEP_S, ramp_s, float(LADDER_S[-1]))
        likely = search(stream, asked, how).misfit
        return float(np.sum(likely)) + 0.5 * ((ramp_s - before.likely_s) / before.sd_s) ** 2

    return _sharpest(misfit, _downhill(misfit, int(np.argmin(np.abs(LADDER_S - before.likely_s)))))


def _downhill(misfit: Callable[[float], float], at: int) -> int:
    """The rung of the ladder below both its neighbours, going from ``at``."""
    while True:
        near = range(max(at - 1, 0), min(at + 2, len(LADDER_S)))
        best = min(near, key=lambda rung: misfit(float(LADDER_S[rung])))
        if best == at:
            return at
        at = best


def _sharpest(misfit: Callable[[float], float], rung: int) -> float:
    """The bottom between rungs, by parabolas each a quarter as wide as the one before."""
    middle = float(LADDER_S[rung])
    if rung in (0, len(LADDER_S) - 1):
        return middle
    width = float(LADDER_S[rung + 1] - LADDER_S[rung - 1]) / 2
    for narrower in (1, 4, 16):
        step = min(width / narrower, middle)
        middle = _bottom(misfit, middle, step)
    return middle


def _bottom(misfit: Callable[[float], float], middle: float, step: float) -> float:
    """The lowest point of the parabola through three points ``step`` apart, inside them."""
    left, here, right = (misfit(middle + d * step) for d in (-1, 0, 1))
    curve = left - 2 * here + right
    return (
        middle + step * float(np.clip(0.5 * (left - right) / curve, -1, 1)) if curve > 0 else middle
    )


def _spokesmen(edges: Edges, fits: Fits, noisy: bool) -> Edges:
    """A few tones of few kinds, the clear ones of each: a kind costs more than a tone."""
    many, different = SPOKESMEN[noisy]
    clearness = fits.signal / np.maximum(fits.noise, 1e-15)
    kinds, counts = np.unique(edges.kind, return_counts=True)
    common = kinds[np.argsort(-counts, kind="stable")[:different]]
    likely = np.flatnonzero(np.isin(edges.kind, common))
    pick = likely[np.argsort(-clearness[likely], kind="stable")[:many]]
    return Edges(edges.middle[pick], edges.end[pick], edges.hertz[pick], edges.kind[pick])
