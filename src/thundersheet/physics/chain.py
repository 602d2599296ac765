"""The flow law of an exact chain for the fine steps: smooth pieces between the law's own corners.

In come the parts of a chain, out goes a row for `kernel.psi`, a hundred million times finer than
`gas.chain_table` and some hundred times slower to make. It is made only for strokes by jerks.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise
from math import sqrt

from thundersheet.physics.gas import LAMINAR, Restriction, behind, flow_function
from thundersheet.physics.kernel import PIECE_PARTS, PIECES

Parts = tuple[Restriction, ...]
NEAR = 1e-6
"""Corners nearer to each other than that, in sqrt(1 - ratio), are one."""


@lru_cache(maxsize=64)
def fine_table(parts: Parts) -> tuple[float, ...]:
    """C psi over sqrt(1 - ratio) by cubics, piece by piece, as `kernel.psi` reads it.

    How many pieces; their ends; of each so many values, every one with its slope.
    """
    most = _most(parts)
    flows = sorted(_corner(parts, i, most) for i in range(len(parts)))
    ends = [0.0]
    for corner in (*flows, most):
        x = _root_of_drop(parts, corner)
        if x > ends[-1] + NEAR and len(ends) < PIECES:
            ends.append(x)
    last = _root_of_drop(parts, most)
    if ends[-1] < last:
        ends.append(last)
    head = [float(len(ends) - 1), *ends, *[last] * (PIECES + 1 - len(ends))]
    pieces = [each for low, high in pairwise(ends) for each in _piece(parts, low, high, most)]
    rest = PIECES - (len(ends) - 1)
    return (*head, *pieces, *[most, 0.0] * ((PIECE_PARTS + 1) * rest))


def _piece(parts: Parts, low: float, high: float, most: float) -> list[float]:
    """Values and slopes, these per part of the piece, from ``low`` to ``high``."""
    count = PIECE_PARTS
    width = (high - low) / count
    f = [_flow(parts, low + i * width, most) for i in range(count + 1)]
    if low <= 0.0:
        f[0] = 0.0
    slopes = [(f[i - 2] - 8 * f[i - 1] + 8 * f[i + 1] - f[i + 2]) / 12 for i in range(2, count - 1)]
    first = (-25 * f[0] + 48 * f[1] - 36 * f[2] + 16 * f[3] - 3 * f[4]) / 12
    second = (-3 * f[0] - 10 * f[1] + 18 * f[2] - 6 * f[3] + f[4]) / 12
    f.reverse()
    last = (25 * f[0] - 48 * f[1] + 36 * f[2] - 16 * f[3] + 3 * f[4]) / 12
    last_but_one = (3 * f[0] + 10 * f[1] - 18 * f[2] + 6 * f[3] - f[4]) / 12
    f.reverse()
    rates = [first, second, *slopes, last_but_one, last]
    return [each for pair in zip(f, rates, strict=True) for each in pair]


def _bisected(low: float, high: float, enough: Callable[[float], bool]) -> float:
    """Where ``enough`` turns from true to false, to the last digit."""
    for _ in range(200):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        if enough(middle):
            low = middle
        else:
            high = middle
    return low


def _most(parts: Parts) -> float:
    """The flow at which a part is choked: no more passes."""
    widest = min(part.c_m3_s_pa for part in parts)
    return _bisected(0.0, 2.0 * widest, lambda flow: behind(parts, flow) >= 0.0)


def _flow(parts: Parts, x: float, most: float) -> float:
    """The flow at which the ratio is 1 - x^2."""
    return _bisected(0.0, most, lambda flow: 1.0 - behind(parts, flow) <= x * x)


def _root_of_drop(parts: Parts, flow: float) -> float:
    return sqrt(1.0 - max(behind(parts, flow), 0.0))


def _corner(parts: Parts, i: int, most: float) -> float:
    """The flow at which part ``i`` leaves the line of the law near equal pressures."""
    part = parts[i]
    knee = flow_function(LAMINAR, part.b, part.m) * part.c_m3_s_pa

    def on_line(flow: float) -> bool:
        return flow < knee * behind(parts[:i], flow)

    return _bisected(0.0, most, on_line)
