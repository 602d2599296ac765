"""How long the ramps of a file are, and of which shape, when nobody says: from its tones.

In: edges, and what is believed beforehand. Out: the likeliest ramp. A file is taken to have one
ramp for all its attacks and one for all its releases.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from thundersheet.track.receive.band import Narrow
from thundersheet.track.receive.fit import Fits
from thundersheet.track.receive.onset import FINE_REACH_S, FINE_STEP_S, Comb, Edges, misfits
from thundersheet.track.receive.shapes import Ramp, Shape

USUAL = Ramp(0.003)
"""The ramp assumed while none is known."""
LADDER_S = np.array([0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 9, 10, 12]) / 1000
SPREAD_S = 0.0015
"""Standard deviation of the ramps that people write: it decides only where noise hides them."""
SAID_SPREAD_S = 0.0002
"""The same when the ramp is said. Clipping makes it steeper, and the tones may say so, but only
if they say more than twice this."""
SPOKESMEN = ((96, 2), (800, 16))
"""So many tones of so many kinds are asked: in quiet, and in noise."""
NOISY_S = 0.00005
"""Noise is what lets an onset spread by more."""
SETTLED_S = 0.00003
"""A guess of the ramp so near the bottom needs no search."""
ALIKE_S = 0.000001
LIKE_COSINE = {Shape.LINEAR: 0.8, Shape.SINE: 0.95}
"""A ramp of another shape is most like a raised cosine of its length divided by this."""
PROOF = 12.0
"""By so much, in natural logarithms of likelihood, another shape must be better."""


@dataclass(frozen=True, slots=True)
class Belief:
    """What is held of a ramp before any tone is asked."""

    likely: Ramp
    sd_s: float
    seen: bool = False
    """Whether the other end of the tones was found to be so."""


def reach(spread_s: float) -> float:
    """How far a fine search goes: five times what noise does."""
    return float(np.clip(5 * spread_s, *FINE_REACH_S))


def find_ramp(stream: Narrow, edges: Edges, fits: Fits, before: Belief, spread_s: float) -> Ramp:
    """The likeliest ramp; a said one stays unless the tones plainly contradict it."""
    asked = _spokesmen(edges, fits, spread_s > NOISY_S)
    # Cut for the longest ramp, so that the misfits of all compare.
    plain = misfits(stream, asked, Comb(reach(spread_s), FINE_STEP_S, float(LADDER_S[-1])))

    @cache
    def misfit(ramp: Ramp) -> float:
        strange = (ramp.seconds - before.likely.seconds) / before.sd_s
        return plain(ramp) + 0.5 * strange**2

    shape = before.likely.shape
    best = _settled(misfit, before.likely)
    if best is None:
        rung = _downhill(lambda s: misfit(Ramp(s, shape)), before.likely.seconds)
        best = _sharpest(misfit, Ramp(float(LADDER_S[rung]), shape), _spacing(rung))
    elif before.seen:
        # One ramp for both ends, where nothing speaks for two: its templates are there already.
        return before.likely if abs(best.seconds - before.likely.seconds) < ALIKE_S else best
    if before.sd_s == SAID_SPREAD_S:
        near = abs(best.seconds - before.likely.seconds) < 2 * SAID_SPREAD_S
        return before.likely if near else best
    return best if shape is not Shape.COSINE else _other_shape(misfit, best)


def _settled(misfit: Callable[[Ramp], float], guess: Ramp) -> Ramp | None:
    """The bottom, if the guess lies at it: most files have one and the same ramp at both ends."""
    if guess.seconds <= SETTLED_S:
        return None
    near = _bottom(misfit, guess, SETTLED_S)
    return near if 0 < abs(near.seconds - guess.seconds) < 0.9 * SETTLED_S else None


def _other_shape(misfit: Callable[[Ramp], float], best: Ramp) -> Ramp:
    """The ramp, or one of another shape that the tones plainly prefer."""
    if best.seconds < LADDER_S[1]:
        return best
    for shape, like in LIKE_COSINE.items():
        guess = Ramp(best.seconds * like, shape)
        other = _bottom(misfit, guess, 0.2 * guess.seconds)
        if misfit(other) < misfit(best):
            other = _sharpest(misfit, other, 0.1 * guess.seconds)
        if misfit(other) < misfit(best) - PROOF:
            best = other
    return best


def _downhill(misfit: Callable[[float], float], from_s: float) -> int:
    """The rung of the ladder below both its neighbours, going from the nearest."""
    at = int(np.argmin(np.abs(LADDER_S - from_s)))
    while True:
        near = range(max(at - 1, 0), min(at + 2, len(LADDER_S)))
        best = min(near, key=lambda rung: misfit(float(LADDER_S[rung])))
        if best == at:
            return at
        at = best


def _spacing(rung: int) -> float:
    """Half the distance of a rung's neighbours; 0 at both ends of the ladder."""
    if rung in (0, len(LADDER_S) - 1):
        return 0.0
    return float(LADDER_S[rung + 1] - LADDER_S[rung - 1]) / 2


def _sharpest(misfit: Callable[[Ramp], float], ramp: Ramp, width_s: float) -> Ramp:
    """The bottom near a ramp, by parabolas each a quarter as wide as the one before."""
    for narrower in (1, 4, 16):
        step = min(width_s / narrower, ramp.seconds)
        if step > 0:
            ramp = _bottom(misfit, ramp, step)
    return ramp


def _bottom(misfit: Callable[[Ramp], float], ramp: Ramp, step_s: float) -> Ramp:
    """The lowest point of the parabola through three ramps ``step_s`` apart, inside them."""
    trial = [Ramp(ramp.seconds + d * step_s, ramp.shape) for d in (-1, 0, 1)]
    left, here, right = (misfit(t) for t in trial)
    curve = left - 2 * here + right
    if curve <= 0:
        return trial[int(np.argmin([left, here, right]))]
    shift = float(np.clip(0.5 * (left - right) / curve, -1, 1))
    return Ramp(ramp.seconds + shift * step_s, ramp.shape)


def _spokesmen(edges: Edges, fits: Fits, noisy: bool) -> Edges:
    """A few tones of few kinds, the clear ones of each: a kind costs more than a tone."""
    many, different = SPOKESMEN[noisy]
    clearness = fits.signal / np.maximum(fits.noise, 1e-15)
    counts = np.bincount(edges.kind)
    common = np.zeros(len(counts), bool)
    common[np.argsort(-counts, kind="stable")[:different]] = True
    likely = np.flatnonzero(common[edges.kind])
    pick = likely[np.argsort(-clearness[likely], kind="stable")[:many]]
    return Edges(edges.middle[pick], edges.end[pick], edges.hertz[pick], edges.kind[pick])
