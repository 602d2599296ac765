"""Folding a programme to one channel, and shaping samples for a coder.

Pure numbers: blocks of samples in, one channel out. The weights are those of ITU-R BS.775-3,
table 2 (mono), times 0.7071, so that what stood in both channels of a stereo pair keeps its level.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

CENTRE, SIDE, SURROUND = 2**-0.5, 0.5, 2**-1.5

WEIGHTS = {
    "FL": SIDE, "FR": SIDE, "FC": CENTRE, "SL": SURROUND, "SR": SURROUND, "BL": SURROUND,
    "BR": SURROUND, "BC": SURROUND, "FLC": SIDE, "FRC": SIDE, "DL": SIDE, "DR": SIDE, "LFE": 0.0,
    "LFE2": 0.0,
}  # fmt: skip
"""By speaker. The bass effects channel is left out, as BS.775 allows: others hold the sound too."""


def weights(speakers: Sequence[str]) -> NDArray[np.float32]:
    """How much of each channel the fold takes; equal parts where the speakers are not known."""
    count = len(speakers)
    if count == 1:
        return np.ones(1, np.float32)
    known = [WEIGHTS.get(name) for name in speakers]
    if None in known or not any(known):
        return np.full(count, 1 / count, np.float32)
    return np.array(known, np.float32)


def fold(block: NDArray[Any], by: NDArray[np.float32]) -> NDArray[np.float32]:
    """One channel of a block of samples x channels, with full scale 1."""
    scale = np.float32(1 / 32768) if block.dtype == np.int16 else np.float32(1)
    mono: NDArray[np.float32] = block.astype(np.float32) @ (by * scale)
    return mono


def quantised(
    block: NDArray[np.float32], bits: int, dither: NDArray[np.float32] | None = None
) -> NDArray[np.int32]:
    """Whole numbers of so many bits, clipped at full scale.

    `dither` (in steps of the last bit) is added before rounding.
    """
    full = float(1 << (bits - 1))
    scaled = block.astype(np.float64) * full
    if dither is not None:
        scaled += dither
    return np.clip(np.rint(scaled), -full, full - 1).astype(np.int32)


def triangular(rng: np.random.Generator, count: int) -> NDArray[np.float32]:
    """Dither with a triangular density of two steps: the error no longer follows the sound.

    Lipshitz, Wannamaker and Vanderkooy, J. Audio Eng. Soc. 40 (1992), p. 355.
    """
    return (rng.random(count, np.float32) - rng.random(count, np.float32)).astype(np.float32)
