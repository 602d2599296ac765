"""Where an attack lies: the likeliest instant against the template of the written ramp.

In: the stream, the frequencies, a rough place of the middle of each attack. Out: a sharp one,
with its standard deviation. A release is the attack of the stream read backwards.

For a start at u the tone is r(t - u) times sines and cosines of both frequencies, levels and
phases free. In white noise the likeliest u is the one whose four columns, made orthonormal,
take the most energy out of the window: a matrix product, a sum of squares and a maximum. All
tones of a symbol share the columns. The noise is as good as white in the narrow stream.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from thundersheet.track.receive.band import Floats
from thundersheet.track.receive.groups import Doubles, Whole, groups, ladder, rumble, windows
from thundersheet.track.symbols import rise

AFTER_S = np.array([0.004, 0.005, 0.006, 0.0075, 0.009, 0.012, 0.015, 0.02, 0.027, 0.036, 0.045])
"""How much of the tone is used: levels and phases found from more than 45 ms gain nothing."""
GUARD_S = 0.0005
"""Kept clear before the earliest start tried."""


@dataclass(frozen=True, slots=True)
class Edges:
    """Attacks in samples of a stream, and what is needed to try them."""

    middle: Doubles
    """Middle of the ramp."""
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
    ramp_s: float


ROUGH_REACH_S, ROUGH_STEP_S = 0.005, 0.0005
FINE_REACH_S, FINE_STEP_S = 0.0008, 0.0001


@dataclass(frozen=True, slots=True)
class Sharp:
    """What one search found."""

    middle: Doubles
    sd: Doubles
    """In samples, from the curvature of the likelihood; infinite where it has no top."""
    misfit: Doubles
    """Natural logarithm of what the template leaves over, per sample of the window."""


def search(samples: Floats, rate: float, edges: Edges, how: Search) -> Sharp:
    """The likeliest middle of each attack within reach of its guess."""
    count = len(edges.middle)
    out = Sharp(edges.middle.copy(), np.full(count, np.inf), np.zeros(count))
    for rows, first, width, bank, places, index in _prepared(samples, rate, edges, how):
        energy = _energy(rows, bank, len(places))
        best, top, bend = _top(energy)
        step = places[1] - places[0]
        out.middle[index] = first + places[0] + best * step
        freedom = width - bank.shape[1] / len(places) - rumble(width, rate).shape[1]
        total = np.einsum("ij,ij->i", rows, rows, dtype=np.float64)
        left = np.maximum(total - top, 1e-7 * total + 1e-15) / freedom
        out.sd[index] = step * np.sqrt(2 * left / np.maximum(bend, 1e-30))
        out.misfit[index] = np.log(left)
    return out


def _prepared(
    samples: Floats, rate: float, edges: Edges, how: Search
) -> Iterator[tuple[Floats, Whole, int, Floats, Doubles, Whole]]:
    """For each group of like tones: its windows free of rumble, where they begin, the bank and
    the middles it stands for (from the beginning of the window).
    """
    lead = int(np.ceil((how.reach_s + 0.5 * how.ramp_s + GUARD_S) * rate))
    base = np.floor(edges.middle).astype(np.int64)
    after = (edges.end - edges.middle) / rate
    spread = np.arange(-how.reach_s, how.reach_s + 1e-9, how.step_s) * rate
    for (kind, step), index in groups(edges.kind, ladder(after, AFTER_S)):
        del kind
        width = lead + round(AFTER_S[step] * rate)
        first = np.clip(base[index] - lead, 0, len(samples) - width)
        rows = windows(samples, first, width)
        low = rumble(width, rate).astype(np.float32)
        rows = rows - (rows @ low) @ low.T
        places = lead + spread
        bank = _bank(edges.hertz[index[0]], places / rate, width, rate, how.ramp_s)
        yield rows, first, width, bank, places, index


def _bank(hertz: Doubles, middles_s: Doubles, width: int, rate: float, ramp_s: float) -> Floats:
    """Four orthonormal columns for each middle, free of rumble."""
    seconds = np.arange(width) / rate
    angles = 2 * np.pi * np.outer(hertz, seconds)
    waves = np.concatenate([np.cos(angles), np.sin(angles)])
    ramps = rise(seconds - (middles_s - 0.5 * ramp_s)[:, None], ramp_s)
    columns = (ramps[:, None, :] * waves).reshape(-1, width)
    low = rumble(width, rate)
    columns -= (columns @ low) @ low.T
    columns = columns.reshape(len(middles_s), 4, width)
    gram = columns @ columns.transpose(0, 2, 1)
    # A start so late that hardly a sample is left has no four directions.
    gram += np.eye(4) * (1e-9 * width)
    white = np.linalg.solve(np.linalg.cholesky(gram), columns)
    return np.ascontiguousarray(white.reshape(-1, width).T, np.float32)


def _energy(rows: Floats, bank: Floats, places: int) -> Floats:
    """What each place of the bank takes out of each window."""
    shares = (rows @ bank).reshape(len(rows), places, 4)
    return np.einsum("ijk,ijk->ij", shares, shares)


def _top(energy: Floats) -> tuple[Doubles, Doubles, Doubles]:
    """Place (in steps, fractional), height and downward curvature of each row's maximum."""
    at = np.clip(energy.argmax(1), 1, energy.shape[1] - 2)
    row = np.arange(len(energy))
    left, mid, right = (energy[row, at + d].astype(np.float64) for d in (-1, 0, 1))
    bend = 2 * mid - left - right
    shift = np.where(bend > 0, 0.5 * (right - left) / np.maximum(bend, 1e-30), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    return at + shift, mid + 0.25 * (right - left) * shift, bend
