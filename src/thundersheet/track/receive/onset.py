"""Where an attack lies: the likeliest instant against the template of the written ramp.

In: the stream, the frequencies, a rough place of the middle of each attack. Out: a sharp one,
with its standard deviation. A release is the attack of the stream read backwards.

For a start at u the tone is r(t - u) times sines and cosines of both frequencies, levels and
phases free. In white noise the likeliest u is the one whose four columns, made orthonormal,
take the most energy out of the window: a matrix product, a sum of squares and a maximum. All
tones of a symbol share the columns. The noise is as good as white in the narrow stream.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Floats, Whole
from thundersheet.track.receive.band import REACH, Narrow, taps
from thundersheet.track.receive.groups import groups, ladder, rumble, windows
from thundersheet.track.receive.shapes import Ramp

AFTER_S = np.array([0.004, 0.005, 0.006, 0.0075, 0.009, 0.012, 0.015, 0.02])
"""How much of the tone is used: 20 ms are within 5 % of all in white noise, and what an AAC
encoder does later in a tone stays out."""
STEEP_S = 0.002
GUARD_S = 0.0005
"""Kept clear before the earliest start tried."""


@dataclass(frozen=True, slots=True)
class Edges:
    """Attacks in samples of a stream, and what is needed to try them."""

    middle: Doubles
    """Where the ramp is half-way up."""
    end: Doubles
    """Up to where the tone may be used: the middle of the release less its half ramp."""
    hertz: Doubles
    """Both frequencies, one row a tone; tones of equal ``kind`` have equal rows."""
    kind: Whole


@dataclass(frozen=True, slots=True)
class Search:
    """How to look: so far to both sides of the guess, in such steps, for such a ramp."""

    reach_s: float
    step_s: float
    ramp: Ramp
    widest_s: float = 0.0
    """Windows are cut for a ramp of at least this: misfits of several ramps then compare."""


ROUGH_REACH_S, ROUGH_STEP_S = 0.005, 0.0005
FINE_REACH_S, FINE_STEP_S = (0.0008, 0.0030), 0.0001
FINEST_S = (0.0002, 0.00002)
"""Only for steep ramps: the likelihood of a smooth one is a parabola over the fine steps."""


@dataclass(frozen=True, slots=True)
class Sharp:
    """What one search found."""

    middle: Doubles
    sd: Doubles
    """In samples, from the curvature of the likelihood; infinite where it has no top."""
    clear: Doubles
    """Power of the fitted tone against what the template leaves over, a little before the attack
    included: music swells where a written tone starts."""
    misfit: Doubles
    """Minus the logarithm of the likelihood, noise unknown and summed over all places tried: the
    best place alone would favour steep templates, which find noise to fit."""


def search(stream: Narrow, edges: Edges, how: Search) -> Sharp:
    """The likeliest middle of each attack within reach of its guess."""
    count, rate = len(edges.middle), stream.rate
    out = Sharp(edges.middle.copy(), np.full(count, np.inf), np.zeros(count), np.zeros(count))
    lead = int(np.ceil((how.reach_s + 0.5 * max(how.ramp.seconds, how.widest_s) + GUARD_S) * rate))
    places = lead + np.arange(-how.reach_s, how.reach_s + 1e-9, how.step_s) * rate
    after = ladder((edges.end - edges.middle) / rate, AFTER_S)
    first = np.round(edges.middle).astype(np.int64) - lead
    for (_, length), index in groups(edges.kind, after):
        width = lead + round(AFTER_S[length] * rate)
        rows = _without_rumble(windows(stream.samples, first[index], width), rate)
        bank = _bank(stream, edges.hertz[index[0]], places, width, how.ramp)
        best, sd, clear, misfit = _likeliest(rows, bank, len(places), rate)
        out.middle[index] = first[index] + places[0] + best * how.step_s * rate
        out.sd[index] = sd * how.step_s * rate
        out.clear[index] = clear / (width - lead)
        out.misfit[index] = misfit
    return out


def _likeliest(
    rows: Floats, bank: Floats, places: int, rate: float
) -> tuple[Doubles, Doubles, Doubles, Doubles]:
    """The best place and its spread in steps, energy taken against power left, the misfit."""
    energy = _energy(rows, bank, places)
    best, top, bend = _top(energy)
    half = 0.5 * rows.shape[1]
    left = _left(rows, top[:, None], rate)[:, 0]
    sd = np.sqrt(2 * left / np.maximum(bend, 1e-30))
    # A peak narrower than a step is summed by Laplace's rule: its height times its width.
    narrow = -half * np.log(left) + np.log(sd * np.sqrt(2 * np.pi) / places)
    wide = _summed(_left(rows, energy, rate), rows.shape[1])
    return best, sd, top / left, -np.where(sd < 0.7, narrow, wide)


def _summed(left: Doubles, width: int) -> Doubles:
    """The logarithm of the mean over places of left^(-width/2), one a row."""
    exponent = -0.5 * width * np.log(left)
    most = exponent.max(1)
    return np.asarray(most + np.log(np.mean(np.exp(exponent - most[:, None]), axis=1)))


def _without_rumble(rows: Floats, rate: float) -> Floats:
    """Windows less what the rumble's basis takes out of them."""
    low = rumble(rows.shape[1], rate).astype(np.float32)
    return np.asarray(rows - (rows @ low) @ low.T, np.float32)


def _left(rows: Floats, taken: Doubles | Floats, rate: float) -> Doubles:
    """Mean square of what templates leave over, by degrees of freedom."""
    width = rows.shape[1]
    total = np.einsum("ij,ij->i", rows, rows, dtype=np.float64)[:, None]
    # Single precision ends at 1e-7 of the tone; digital silence has no logarithm.
    left = np.maximum(total - taken, 1e-7 * total + 1e-15)
    return np.asarray(left / (width - 4 - rumble(width, rate).shape[1]))


def _bank(stream: Narrow, hertz: Doubles, middles: Doubles, width: int, ramp: Ramp) -> Floats:
    """Four orthonormal columns for each middle, free of rumble."""
    columns = _templates(stream, hertz, middles, width, ramp)
    low = rumble(width, stream.rate)
    columns -= (columns @ low) @ low.T
    columns = columns.reshape(len(middles), 4, width)
    gram = columns @ columns.transpose(0, 2, 1)
    # A start so late that hardly a sample is left has no four directions.
    gram += np.eye(4) * (1e-9 * width)
    white = np.linalg.inv(np.linalg.cholesky(gram)) @ columns
    return np.asarray(white.reshape(-1, width).T, np.float32)


def _templates(stream: Narrow, hertz: Doubles, middles: Doubles, width: int, ramp: Ramp) -> Doubles:
    """Ramp times cosine and sine of both tones, four rows for each middle.

    A steep ramp is drawn at the file's own rate and thinned out as the file was: its spectrum
    reaches beyond the narrow stream.
    """
    steep = ramp.seconds < STEEP_S and stream.factor > 1
    factor, margin = (stream.factor, REACH) if steep else (1, 0)
    count = (width + 2 * margin - 1) * factor + 1
    seconds = (np.arange(count) / factor - margin) / stream.rate
    angles = 2 * np.pi * np.outer(hertz, seconds)
    waves = np.concatenate([np.cos(angles), np.sin(angles)])
    # A step lies somewhere between two samples of the file; a blurred one is nowhere flat.
    blurred = replace(ramp, seconds=max(ramp.seconds, 1.5 / (stream.rate * stream.factor)))
    ramps = blurred.around(seconds - (middles / stream.rate)[:, None])
    columns = (ramps[:, None, :] * waves).reshape(-1, count)
    if not steep:
        return np.asarray(columns)
    views = np.lib.stride_tricks.sliding_window_view(columns, 2 * margin * factor + 1, axis=1)
    return np.asarray(views[:, ::factor] @ taps(factor))


def _energy(rows: Floats, bank: Floats, places: int) -> Floats:
    """What each place of the bank takes out of each window."""
    shares = (rows @ bank).reshape(len(rows), places, 4)
    return np.asarray(np.einsum("ijk,ijk->ij", shares, shares))


def _top(energy: Floats) -> tuple[Doubles, Doubles, Doubles]:
    """Place (in steps, fractional), height and downward curvature of each row's maximum."""
    at = np.clip(energy.argmax(1), 1, energy.shape[1] - 2)
    row = np.arange(len(energy))
    left, mid, right = (energy[row, at + d].astype(np.float64) for d in (-1, 0, 1))
    bend = 2 * mid - left - right
    shift = np.where(bend > 0, 0.5 * (right - left) / np.maximum(bend, 1e-30), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    return at + shift, mid + 0.25 * (right - left) * shift, bend
