"""Both ends of each tone, sharp; and how long the ramps of the file are when nobody says.

In: candidates with fits. Out: start, stop and their spread in samples of the stream. A file is
taken to have one ramp for all its attacks and one for all its releases.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thundersheet.track.receive.band import Floats, Narrow
from thundersheet.track.receive.detect import Candidates
from thundersheet.track.receive.fit import Fits
from thundersheet.track.receive.groups import Doubles, Whole
from thundersheet.track.receive.onset import (
    FINE_REACH_S,
    FINE_STEP_S,
    ROUGH_REACH_S,
    ROUGH_STEP_S,
    Edges,
    Search,
    search,
)
from thundersheet.track.receive.speed import Speed

USUAL_S = 0.003
"""The ramp assumed while none is known."""
LADDER_S = np.array([0.0, 0.001, 0.002, 0.003, 0.004, 0.005, 0.007, 0.010])
SAMPLE = 48
"""So many tones are asked how long their ramp is."""
OWN_SPEED = 0.002
"""Width of a bin of tones that are off the file's speed."""


@dataclass(frozen=True, slots=True)
class Ends:
    """Start and stop of each tone, in samples of the stream, ramps included."""

    start: Doubles
    start_sd: Doubles
    stop: Doubles
    ramp_s: float


def ends(stream: Narrow, found: Candidates, fits: Fits, speed: Speed, ramp_s: float | None) -> Ends:
    """Find both ends of every candidate; ``ramp_s`` None: find the ramp too."""
    rate = stream.rate
    last = len(stream.samples) - 1
    backwards = np.ascontiguousarray(stream.samples[::-1])
    kind, hertz = _kinds(found, fits, speed)
    slack = 0.002 * rate
    attack = Edges(found.start, found.stop - slack, hertz, kind)
    release = Edges(last - found.stop, last - found.start - slack, hertz, kind)
    attack = _rough(stream.samples, rate, attack)
    release = _rough(backwards, rate, release)
    clear = 0.5 * (USUAL_S if ramp_s is None else ramp_s) * rate + 0.0007 * rate
    attack, release = (
        replace(attack, end=last - release.middle - clear),
        replace(release, end=last - attack.middle - clear),
    )
    rise_s, start, sd = _fine(stream.samples, rate, attack, fits, ramp_s)
    fall_s, stop, _ = _fine(backwards, rate, release, fits, ramp_s)
    return Ends(start - 0.5 * rise_s * rate, sd, last - stop + 0.5 * fall_s * rate, rise_s)


def _kinds(found: Candidates, fits: Fits, speed: Speed) -> tuple[Whole, Doubles]:
    """Tones that share their frequencies: by symbol, and by bin if off the file's speed."""
    should = speed.hertz(found.symbol)
    sd = fits.hertz_sd / should + 1e-6
    off = np.average(fits.hertz / should - 1.0, axis=1)
    sure = np.abs(off) > np.maximum(5 * np.hypot(sd[:, 0], sd[:, 1]) / 2, 0.4 * OWN_SPEED)
    bins = np.where(sure, np.round(off / OWN_SPEED), 0.0).astype(np.int64)
    return found.symbol + 16 * (bins - bins.min()), should * (1 + bins * OWN_SPEED)[:, None]


def _rough(samples: Floats, rate: float, edges: Edges) -> Edges:
    """Edges moved to the likeliest place on a coarse comb."""
    how = Search(ROUGH_REACH_S, ROUGH_STEP_S, USUAL_S)
    return replace(edges, middle=search(samples, rate, edges, how).middle)


def _fine(
    samples: Floats, rate: float, edges: Edges, fits: Fits, ramp_s: float | None
) -> tuple[float, Doubles, Doubles]:
    """The ramp, the middles and their spread."""
    if ramp_s is None:
        ramp_s = find_ramp(samples, rate, edges, fits)
    sharp = search(samples, rate, edges, Search(FINE_REACH_S, FINE_STEP_S, ramp_s))
    return ramp_s, sharp.middle, sharp.sd


def find_ramp(samples: Floats, rate: float, edges: Edges, fits: Fits) -> float:
    """The ramp that fits best: the least of the summed misfit, between three points."""
    asked = _spokesmen(edges, fits)
    misfits = [_misfit(samples, rate, asked, ramp) for ramp in LADDER_S]
    best = int(np.argmin(misfits))
    here = np.clip(np.arange(3) + best - 1, 0, len(LADDER_S) - 1)
    if len(set(here)) < 3:
        return float(LADDER_S[best])
    curve = np.polyfit(LADDER_S[here], np.array(misfits)[here], 2)
    return float(np.clip(-curve[1] / (2 * curve[0]), LADDER_S[here[0]], LADDER_S[here[2]]))


def _misfit(samples: Floats, rate: float, edges: Edges, ramp_s: float) -> float:
    how = Search(FINE_REACH_S, 2 * FINE_STEP_S, float(ramp_s))
    return float(np.mean(search(samples, rate, edges, how).misfit))


def _spokesmen(edges: Edges, fits: Fits) -> Edges:
    """A few tones of few kinds, the clear ones of each: a kind costs more than a tone."""
    clearness = fits.signal / np.maximum(fits.noise, 1e-15)
    kinds, counts = np.unique(edges.kind, return_counts=True)
    common = kinds[np.argsort(-counts, kind="stable")[:4]]
    likely = np.flatnonzero(np.isin(edges.kind, common))
    pick = likely[np.argsort(-clearness[likely], kind="stable")[:SAMPLE]]
    return Edges(edges.middle[pick], edges.end[pick], edges.hertz[pick], edges.kind[pick])
