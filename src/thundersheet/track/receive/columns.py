"""One channel of a sound, handed out in stretches that lie side by side in memory.

In: samples of any kind numpy knows, one channel or a table of them. Out: ``Column``. Taking every
second 16-bit sample costs more than all arithmetic on it, so stereo of 16 bits is read in pairs.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from thundersheet.track.receive.arrays import Samples


@dataclass(frozen=True, slots=True)
class Column:
    """A channel; times ``step`` its samples are fractions of full scale."""

    samples: Samples
    """One-dimensional: the channel, or pairs of 16-bit samples read as numbers of 32 bits."""
    step: float
    """What one step of a sample is worth: 1/32768 for 16-bit, 1 for floats."""
    half: int | None = None
    """Of pairs, which half is meant: 0 the lower, 1 the upper."""

    def __len__(self) -> int:
        return len(self.samples)

    def stretch(self, first: int, last: int) -> Samples:
        """Samples ``first`` to ``last``, side by side; of pairs the half that is meant alone."""
        part = self.samples[first:last]
        if self.half is None:
            return part if part.flags.c_contiguous else part.copy()
        if self.half:
            return np.bitwise_and(part, np.int32(-65536))
        return np.left_shift(part, np.int32(16))


def column(samples: Samples) -> Column:
    """The whole of a one-dimensional sound."""
    size = samples.dtype.itemsize
    return Column(samples, 1.0 if samples.dtype.kind == "f" else 2.0 ** (1 - 8 * size))


def columns(table: Samples) -> list[Column]:
    """Each channel of a table of samples by channels."""
    pairs = table.shape[1] == 2 and table.dtype == np.dtype(np.int16) and sys.byteorder == "little"
    if pairs and table.flags.c_contiguous and table.ctypes.data % 4 == 0:
        wide = table.view(np.int32)[:, 0]
        return [Column(wide, 2.0**-31, half) for half in (0, 1)]
    return [column(table[:, n]) for n in range(table.shape[1])]
