"""Which heard tone is which written one: two rows of symbols with times, laid on one line.

In come the tones as written and as heard; out go the straight line heard = offset + slope *
written that most of them lie on, and the pairs. Tones may be missing, wrong or strange, the file
cut, shifted, or run up to 6 % fast or slow. It judges nothing: `prove` does.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_SLOPE = 0.06
"""Film against video is 4.2 %, a semitone 5.9 %."""
COARSE_S = 0.03
"""Width of the first search: well under the pitch of tones, well over a codec's smearing."""
MOST_ANCHORS = 4000
SEED = 20_26


@dataclass(frozen=True, slots=True)
class Line:
    """heard = offset + slope * written, in seconds."""

    offset_s: float
    slope: float
    slope_sd: float
    """Standard error of the slope."""
    tones: int
    """How many lie on it."""

    def heard(self, written_s: Floats) -> Floats:
        """Where written instants are heard."""
        return self.offset_s + self.slope * written_s


def lay(
    written: Sequence[tuple[float, str]],
    heard: Sequence[tuple[float, str]],
    guesses: Sequence[float] = (1.0,),
) -> Line | None:
    """The line that the most tones of the same symbol lie on; None when fewer than three agree.

    `guesses` are slopes worth trying, as from the tones' pitch. Where several lines carry alike,
    the one nearest to (0, 1) is taken.
    """
    anchors = _anchors(written, heard)
    if len(anchors) < 3:
        return None
    rough = _rough(anchors, [*guesses, *_slopes(anchors)])
    return _fine(anchors, *rough)


def pair(
    written: Sequence[tuple[float, str]],
    heard: Sequence[tuple[float, str]],
    line: Line,
    within_s: float,
) -> list[int | None]:
    """For each written tone the index of the heard tone that stands in its place, or None.

    Each heard tone is given once, to the nearest; its symbol may be another.
    """
    at = line.heard(np.array([t for t, _ in written], dtype=float))
    times = np.array([t for t, _ in heard], dtype=float)
    near = [(abs(times[j] - at[i]), i, j) for i, j in _neighbours(at, times, within_s)]
    mine: dict[int, int] = {}
    taken: set[int] = set()
    for _, i, j in sorted(near):
        if i not in mine and j not in taken:
            mine[i] = j
            taken.add(j)
    return [mine.get(i) for i in range(len(written))]


def _neighbours(at: Floats, times: Floats, within_s: float) -> list[tuple[int, int]]:
    """All (written, heard) that stand within a distance; both rows are in the order of time."""
    first = np.searchsorted(times, at - within_s)
    last = np.searchsorted(times, at + within_s, side="right")
    return [(i, j) for i, (a, b) in enumerate(zip(first, last, strict=True)) for j in range(a, b)]


def _anchors(
    written: Sequence[tuple[float, str]], heard: Sequence[tuple[float, str]]
) -> list[tuple[float, float]]:
    """Pairs of instants at which the same run of symbols starts; long runs first, then shorter.

    A run of four is rare by chance; a short show or a torn file may only leave single tones.
    """
    for length in (5, 3, 2, 1):
        runs = defaultdict(list)
        for i in range(len(written) - length + 1):
            runs["".join(s for _, s in written[i : i + length])].append(written[i][0])
        found = [
            (there, heard[j][0])
            for j in range(len(heard) - length + 1)
            for there in runs.get("".join(s for _, s in heard[j : j + length]), ())
        ]
        enough = max(3, min(len(written), len(heard)) // 4)
        if len(found) >= enough or length == 1:
            return _thinned(found)
    return []


def _thinned(found: list[tuple[float, float]]) -> list[tuple[float, float]]:
    if len(found) <= MOST_ANCHORS:
        return found
    keep = np.random.default_rng(SEED).choice(len(found), MOST_ANCHORS, replace=False)
    return [found[i] for i in sorted(keep)]


def _slopes(anchors: list[tuple[float, float]]) -> list[float]:
    """Slopes that pairs of anchors far apart suggest (a seeded sample of them)."""
    rng = np.random.default_rng(SEED)
    xy = np.array(anchors)
    i, j = rng.integers(0, len(xy), (2, 3000))
    run = xy[j, 0] - xy[i, 0]
    far = np.abs(run) > 0.25 * (np.ptp(xy[:, 0]) + 1e-9)
    slopes = (xy[j, 1] - xy[i, 1])[far] / run[far]
    near = slopes[np.abs(slopes - 1) < MOST_SLOPE]
    return [float(slope) for slope in np.unique(np.round(near, 5))][:600]


def _rough(anchors: list[tuple[float, float]], slopes: Sequence[float]) -> tuple[float, float]:
    """The (offset, slope) that the most anchors support, ties to the least offset and change."""
    xy = np.array(anchors)

    def support(slope: float) -> tuple[int, float, float, float]:
        rest = np.sort(xy[:, 1] - slope * xy[:, 0])
        inside = np.searchsorted(rest, rest + COARSE_S, side="right") - np.arange(len(rest))
        best = int(inside.max())
        starts = rest[inside == best]
        offset = float(starts[np.argmin(np.abs(starts))]) + COARSE_S / 2
        return best, -round(abs(slope - 1), 4), -abs(offset), offset

    slope = max(slopes, key=support)
    return support(slope)[3], slope


def _fine(anchors: list[tuple[float, float]], offset: float, slope: float) -> Line | None:
    """Least squares over the anchors on the line, narrowed to three robust spreads."""
    xy = np.array(anchors)
    x, y = xy[:, 0], xy[:, 1]
    keep = np.abs(y - offset - slope * x) < COARSE_S
    for _ in range(6):
        if np.count_nonzero(keep) < 3:
            return None
        slope, offset = _least_squares(x[keep], y[keep], slope)
        rest = np.abs(y - offset - slope * x)
        spread = 1.4826 * float(np.median(rest[keep]))
        keep = rest < max(3 * spread, 1e-4)
    return Line(offset, slope, _slope_sd(x[keep], y[keep], offset, slope), int(keep.sum()))


def _least_squares(x: Floats, y: Floats, slope: float) -> tuple[float, float]:
    """Slope and offset; the slope is kept where the tones stand too close to tell it."""
    middle = x.mean()
    spread = float(((x - middle) ** 2).sum())
    if spread > 1.0:
        slope = float(((x - middle) * (y - y.mean())).sum() / spread)
    return slope, float(y.mean() - slope * middle)


def _slope_sd(x: Floats, y: Floats, offset: float, slope: float) -> float:
    spread = float(((x - x.mean()) ** 2).sum())
    if len(x) < 3 or spread <= 0:
        return float("inf")
    rest = y - offset - slope * x
    return float(np.sqrt((rest**2).sum() / (len(x) - 2) / spread))
