"""Both ends of each tone, sharp, with the ramps as said or as found.

In: candidates with fits. Out: start, stop and their spread in samples of the stream. First a
coarse comb places each edge by half a millisecond, then the ramps are found, then a fine comb;
at last both ends of tones of one length stand by each other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Whole
from thundersheet.track.receive.band import Narrow
from thundersheet.track.receive.bank import STEEP_S
from thundersheet.track.receive.detect import Candidates
from thundersheet.track.receive.fit import Fits
from thundersheet.track.receive.groups import median
from thundersheet.track.receive.lengths import drawn_together
from thundersheet.track.receive.onset import (
    FINE_STEP_S,
    FINEST_S,
    Edges,
    Sharp,
    rough,
    search,
)
from thundersheet.track.receive.ramps import (
    SAID_SPREAD_S,
    SPREAD_S,
    USUAL,
    Belief,
    find_ramp,
    reach,
)
from thundersheet.track.receive.shapes import Ramp
from thundersheet.track.receive.speed import Speed

OWN_SPEED = 0.002
"""Width of a bin of tones that are off the file's speed."""


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
    said = Belief(USUAL, SPREAD_S) if ramp_s is None else Belief(Ramp(ramp_s), SAID_SPREAD_S)
    attack, spread_s = _rough(stream, Edges(found.start, found.stop, hertz, kind), said.likely)
    release, _ = _rough(
        backwards, Edges(last - found.stop, last - found.start, hertz, kind), said.likely
    )
    rising = find_ramp(stream, _facing(attack, release, last, rate), fits, said, spread_s)
    mirror = said if ramp_s is not None else replace(said, likely=rising, seen=True)
    falling = find_ramp(backwards, _facing(release, attack, last, rate), fits, mirror, spread_s)
    start = _fine(stream, _facing(attack, release, last, rate, falling), rising, spread_s)
    stop = _fine(backwards, _facing(release, attack, last, rate, rising), falling, spread_s)
    onset, sd, end = drawn_together(
        start.middle - rising.before_half_s * rate,
        start.sd,
        last - stop.middle + falling.before_half_s * rate,
        stop.sd,
        rate,
    )
    return Ends(onset, sd, end, np.minimum(start.clear, stop.clear), rising.seconds)


def _facing(one: Edges, other: Edges, last: int, rate: float, ramp: Ramp | None = None) -> Edges:
    """One kind of edges, using the tone up to where the other ramp begins.

    With that ramp unknown, 30 % of the tone or 5 ms are left to it.
    """
    middle = last - other.middle
    if ramp is None:
        clear = np.minimum(0.005 * rate, 0.3 * (middle - one.middle))
        return replace(one, end=middle - clear)
    inner_s = ramp.seconds - ramp.before_half_s
    return replace(one, end=middle - (inner_s + 0.0007) * rate)


def _kinds(found: Candidates, fits: Fits, speed: Speed) -> tuple[Whole, Doubles]:
    """Tones that share their frequencies: by symbol, and by bin if off the file's speed."""
    should = speed.hertz(found.symbol)
    sd = fits.hertz_sd / should + 1e-6
    off = (fits.hertz / should - 1.0).mean(axis=1)
    sure = np.abs(off) > np.maximum(5 * np.hypot(sd[:, 0], sd[:, 1]) / 2, 0.4 * OWN_SPEED)
    bins = np.where(sure, np.round(off / OWN_SPEED), 0.0).astype(np.int64)
    return found.symbol + 16 * (bins - bins.min()), should * (1 + bins * OWN_SPEED)[:, None]


def _rough(stream: Narrow, edges: Edges, ramp: Ramp) -> tuple[Edges, float]:
    """Edges moved to the likeliest place on a coarse comb, and how far they scatter, in seconds."""
    edges = replace(edges, end=edges.end - (0.5 * ramp.seconds + 0.0005) * stream.rate)
    middle, spread = rough(stream, edges, ramp)
    return replace(edges, middle=middle), spread / stream.rate


def _fine(stream: Narrow, edges: Edges, ramp: Ramp, spread_s: float) -> Sharp:
    """The likeliest middles on a fine comb and, for steep ramps in little noise, a finer one."""
    sharp = search(stream, edges, ramp, reach(spread_s), FINE_STEP_S)
    if ramp.seconds > STEEP_S or median(sharp.sd) > FINE_STEP_S * stream.rate:
        return sharp
    return search(stream, replace(edges, middle=sharp.middle), ramp, *FINEST_S)
