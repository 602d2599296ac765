"""Where an attack lies: the likeliest instant against the template of the written ramp.

In: the stream, the frequencies, a rough place of the middle of each attack. Out: a sharp one,
with its standard deviation. A release is the attack of the stream read backwards.

For a start at u the tone is r(t - u) times sines and cosines of both frequencies, levels and
phases free. In white noise the likeliest u is the one whose four columns, made orthonormal,
take the most energy out of the window: a matrix product, a sum of squares and a maximum. All
tones of a symbol share the columns. The noise is as good as white in the narrow stream.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Floats, Whole
from thundersheet.track.receive.band import Narrow
from thundersheet.track.receive.bank import Grid, bank
from thundersheet.track.receive.crew import share
from thundersheet.track.receive.groups import groups, ladder, median, rumble, windows
from thundersheet.track.receive.shapes import Ramp

AFTER_S = np.array([0.004, 0.005, 0.006, 0.0075, 0.009, 0.012, 0.015, 0.02])
"""How much of the tone is used: 20 ms are within 5 % of all in white noise, and what an AAC
encoder does later in a tone stays out."""
GUARD_S = 0.0005
"""Kept clear before the earliest start tried."""
FEW = 128
"""About so many tones of each piece tell how far edges scatter."""
PIECE = 1500
"""Tones worked on together."""


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
class Comb:
    """How to look: so far to both sides of the guess, in such steps, for ramps up to so long."""

    reach_s: float
    step_s: float
    widest_s: float


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


@dataclass(frozen=True, slots=True)
class Part:
    """Attacks worked on together: so many that numpy has more to do than Python."""

    index: Whole
    """Which they are, those of one kind in a row."""
    pairs: tuple[tuple[int, slice], ...]
    """A pair of frequencies by number, and which of them have it."""


@dataclass(frozen=True, slots=True)
class Sheaf:
    """Attacks that are looked for in windows of one width."""

    grid: Grid
    hertz: tuple[tuple[float, float], ...]
    parts: tuple[Part, ...]
    first: Whole
    """Where in the stream the window of each attack begins."""


@dataclass(frozen=True, slots=True)
class Windows:
    """What lies around some attacks, hum and rumble taken out."""

    rows: Floats
    total: Doubles
    """Sum of squares of each."""


def sheaves(stream: Narrow, edges: Edges, comb: Comb) -> list[Sheaf]:
    """The attacks by the width of their windows, and by kind."""
    rate, step = stream.rate, comb.step_s * stream.rate
    lead = int(np.ceil((comb.reach_s + 0.5 * comb.widest_s + GUARD_S) * rate))
    places = 2 * round(comb.reach_s / comb.step_s) + 1
    after = ladder((edges.end - edges.middle) / rate, AFTER_S)
    first = np.round(edges.middle).astype(np.int64) - lead
    out = []
    for (length,), members in groups(after):
        width = lead + round(AFTER_S[length] * rate)
        kinds = [members[kind] for _, kind in groups(edges.kind[members])]
        hertz = tuple((float(low), float(high)) for low, high in (edges.hertz[k[0]] for k in kinds))
        grid = Grid(rate, stream.factor, width, lead, step, places)
        out.append(Sheaf(grid, hertz, tuple(_parts(kinds)), first))
    return out


def _parts(kinds: list[Whole]) -> Iterator[Part]:
    """The attacks of several kinds in pieces of about equal size."""
    index = np.concatenate(kinds)
    pair = np.repeat(np.arange(len(kinds)), [len(kind) for kind in kinds])
    for at in range(0, len(index), PIECE):
        here = pair[at : at + PIECE]
        starts = [0, *(np.flatnonzero(np.diff(here)) + 1).tolist(), len(here)]
        pairs = ((int(here[a]), slice(a, b)) for a, b in pairwise(starts))
        yield Part(index[at : at + PIECE], tuple(pairs))


def cut(stream: Narrow, sheaf: Sheaf, part: int) -> Windows:
    """The windows of one part."""
    first = sheaf.first[sheaf.parts[part].index]
    return _without_rumble(windows(stream.samples, first, sheaf.grid.width), stream.rate)


def _without_rumble(rows: Floats, rate: float) -> Windows:
    """Windows less what the rumble's basis takes out of them."""
    hum = rumble(rows.shape[1], rate).astype(np.float32)
    plain = np.asarray(rows - (rows @ hum) @ hum.T, np.float32)
    return Windows(plain, np.einsum("ij,ij->i", plain, plain, dtype=np.float64))


def rough(stream: Narrow, edges: Edges, ramp: Ramp) -> tuple[Doubles, float]:
    """The likeliest middles on a coarse comb, and how far they scatter, in samples.

    The scatter is that of a few: it costs as much as the places of all.
    """
    out = Sharp(edges.middle.copy(), np.full(len(edges.middle), np.nan), np.zeros(0))
    for sheaf in sheaves(stream, edges, Comb(ROUGH_REACH_S, ROUGH_STEP_S, ramp.seconds)):
        templates = bank(sheaf.grid, sheaf.hertz, ramp)
        share(partial(_place_roughly, stream, sheaf, templates, out), len(sheaf.parts))
    return out.middle, median(out.sd[np.isfinite(out.sd)])


def _place_roughly(
    stream: Narrow, sheaf: Sheaf, templates: Floats, out: Sharp, number: int
) -> None:
    """Search in some windows, rumble and all, and ask a few of them for their spread."""
    part, grid = sheaf.parts[number], sheaf.grid
    first = sheaf.first[part.index]
    rows = windows(stream.samples, first, grid.width)
    best, top, bend = _top(_energy(rows, part, templates, grid.places))
    out.middle[part.index] = first + grid.first + best * grid.step
    some = slice(None, None, 1 + len(first) // FEW)
    left = _left(_without_rumble(rows[some], grid.rate).total, top[some], grid)
    out.sd[part.index[some]] = grid.step * np.sqrt(2 * left / np.maximum(bend[some], 1e-30))


def search(stream: Narrow, edges: Edges, ramp: Ramp, reach_s: float, step_s: float) -> Sharp:
    """The likeliest middle of each attack within reach of its guess."""
    count = len(edges.middle)
    out = Sharp(edges.middle.copy(), np.full(count, np.inf), np.zeros(count))
    for sheaf in sheaves(stream, edges, Comb(reach_s, step_s, ramp.seconds)):
        templates = bank(sheaf.grid, sheaf.hertz, ramp)
        share(partial(_place, stream, sheaf, templates, out), len(sheaf.parts))
    return out


def _place(stream: Narrow, sheaf: Sheaf, templates: Floats, out: Sharp, number: int) -> None:
    """Search in some windows and write down what is found at their index."""
    part, grid, around = sheaf.parts[number], sheaf.grid, cut(stream, sheaf, number)
    best, top, bend = _top(_energy(around.rows, part, templates, grid.places))
    left = _left(around.total, top, grid)
    sd = np.sqrt(2 * left / np.maximum(bend, 1e-30))
    out.middle[part.index] = sheaf.first[part.index] + grid.first + best * grid.step
    out.sd[part.index] = sd * grid.step
    out.clear[part.index] = top / left / (grid.width - grid.lead)


def misfits(stream: Narrow, edges: Edges, comb: Comb) -> Callable[[Ramp], float]:
    """Minus the logarithm of the likelihood of a ramp, noise unknown, over all attacks.

    Summed over all places tried: the best place alone would favour steep templates, which find
    noise to fit.
    """
    tried = sheaves(stream, edges, comb)
    around = [[cut(stream, sheaf, part) for part in range(len(sheaf.parts))] for sheaf in tried]
    totals = [np.concatenate([part.total for part in parts]) for parts in around]

    def misfit(ramp: Ramp) -> float:
        whole = 0.0
        for sheaf, parts, total in zip(tried, around, totals, strict=True):
            templates, grid = bank(sheaf.grid, sheaf.hertz, ramp), sheaf.grid
            energies = [
                _energy(part.rows, which, templates, grid.places)
                for part, which in zip(parts, sheaf.parts, strict=True)
            ]
            whole += float(np.sum(_misfit(total, np.concatenate(energies), grid)))
        return whole

    return misfit


def _misfit(total: Doubles, energy: Floats, grid: Grid) -> Doubles:
    """The misfit of each window."""
    _, top, bend = _top(energy)
    left = _left(total, top, grid)
    sd = np.sqrt(2 * left / np.maximum(bend, 1e-30))
    # A peak narrower than a step is summed by Laplace's rule: its height times its width.
    narrow = -0.5 * grid.width * np.log(left) + np.log(sd * np.sqrt(2 * np.pi) / grid.places)
    wide = _summed(_left(total[:, None], energy, grid), grid.width)
    return np.asarray(-np.where(sd < 0.7, narrow, wide))


def _summed(left: Doubles, width: int) -> Doubles:
    """The logarithm of the mean over places of left^(-width/2), one a row."""
    exponent = -0.5 * width * np.log(left)
    most = exponent.max(1)
    return np.asarray(most + np.log(np.mean(np.exp(exponent - most[:, None]), axis=1)))


def _left(total: Doubles, taken: Doubles | Floats, grid: Grid) -> Doubles:
    """Mean square of what templates leave over, by degrees of freedom."""
    # Single precision ends at 1e-7 of the tone; digital silence has no logarithm.
    left = np.maximum(total - taken, 1e-7 * total + 1e-15)
    return np.asarray(left / (grid.width - 4 - rumble(grid.width, grid.rate).shape[1]))


def _energy(rows: Floats, part: Part, templates: Floats, places: int) -> Floats:
    """What each place of the templates takes out of each window."""
    shares = np.empty((len(rows), 4 * places), np.float32)
    for pair, here in part.pairs:
        np.matmul(rows[here], templates[pair].T, out=shares[here])
    fours = shares.reshape(len(rows), places, 4)
    return np.asarray(np.einsum("ijk,ijk->ij", fours, fours))


def _top(energy: Floats) -> tuple[Doubles, Doubles, Doubles]:
    """Place (in steps, fractional), height and downward curvature of each row's maximum."""
    at = np.clip(energy.argmax(1), 1, energy.shape[1] - 2)
    row = np.arange(len(energy))
    left, mid, right = (energy[row, at + d].astype(np.float64) for d in (-1, 0, 1))
    bend = 2 * mid - left - right
    shift = np.where(bend > 0, 0.5 * (right - left) / np.maximum(bend, 1e-30), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    return at + shift, mid + 0.25 * (right - left) * shift, bend
