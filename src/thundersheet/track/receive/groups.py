"""Tones of one kind worked on together: same frequencies, same width, one matrix product.

In: arrays of keys and positions. Out: indices by key, windows cut from the stream, and the
basis of hum and rumble that every fit carries along. It knows nothing of symbols.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Floats, Whole

RUMBLE_HZ = 130.0
"""Hum of 50 and 60 Hz with its first overtone, DC, and what a loudspeaker does below."""


def groups(*keys: Whole) -> Iterator[tuple[tuple[int, ...], Whole]]:
    """Each combination of keys that occurs, with the indices at which it does."""
    if not len(keys[0]):
        return
    order = np.lexsort(keys)
    table = np.stack([key[order] for key in keys])
    starts = np.flatnonzero(np.any(np.diff(table, axis=1), axis=0)) + 1
    for index in np.split(order, starts):
        yield tuple(int(key[index[0]]) for key in keys), index


def windows(samples: Floats, first: Whole, width: int) -> Floats:
    """One row a window; where a window would leave the stream it is moved inside."""
    views = np.lib.stride_tricks.sliding_window_view(samples, width)
    rows: Floats = views[np.clip(first, 0, len(views) - 1)]
    return rows


@lru_cache(maxsize=256)
def rumble(width: int, rate: float) -> Doubles:
    """An orthonormal basis (columns) of what lies below ``RUMBLE_HZ`` over ``width`` samples."""
    seconds = (np.arange(width) - (width - 1) / 2) / rate
    # Twice as close as one over the width: nothing below the end slips between two lines.
    count = int(np.ceil(RUMBLE_HZ * 2 * width / rate)) + 1
    angles = 2 * np.pi * np.outer(seconds, np.linspace(0.0, RUMBLE_HZ, count))
    lines = np.hstack([np.cos(angles), np.sin(angles)])
    left, sizes, _ = np.linalg.svd(lines, full_matrices=False)
    return np.asarray(left[:, sizes > 1e-3 * sizes[0]])


def ladder(lengths: Doubles, steps: Doubles) -> Whole:
    """The number of the largest of ``steps`` that fits each length; 0 if none does."""
    return np.maximum(np.searchsorted(steps, lengths, side="right") - 1, 0)


def median(values: Doubles | Floats) -> float:
    """The middle value, as numpy's own, which first loads 30 ms of masked arrays."""
    half = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, half)[half])
    near = np.partition(values, (half - 1, half))
    return float(0.5 * (near[half - 1] + near[half]))
