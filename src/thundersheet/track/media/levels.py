"""The programme's envelope to draw: least, greatest and root mean square in equal steps of time.

Works through the file piece by piece; memory does not grow with its length.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, cast

import numpy as np

from thundersheet.track.media.decode import walk
from thundersheet.track.media.door import check_readable
from thundersheet.track.media.wav import map_wav

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from thundersheet.track.media.sound import Samples

FINE = 480
"""Samples in the finest step, 10 ms at 48 kHz: steps are joined to buckets once the length is
known, which a streamed file only tells at its end."""

AT_ONCE = FINE << 9
"""Samples of a mapped WAV looked at together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """The envelope of all channels together, from time zero, with full scale 1."""

    lows: NDArray[np.float32]
    highs: NDArray[np.float32]
    rms: NDArray[np.float32]
    length_s: float
    """What all the buckets cover."""


def programme_levels(path: Path | str, buckets: int, *, stream: int | None = None) -> Levels:
    """The envelope in so many buckets; refuses what has no sound.

    A bucket is never finer than 480 samples: short files repeat steps.
    """
    if buckets < 1:
        raise ValueError("at least one bucket")
    path = Path(path)
    check_readable(path)
    steps = _Steps()
    if (sound := map_wav(path)) is not None:
        for begin in range(0, len(sound.samples), AT_ONCE):
            steps.take(sound.samples[begin : begin + AT_ONCE])
        rate, start = sound.rate, 0
    else:
        with walk(path, stream) as track:
            for piece in track:
                steps.take(piece)
            rate, start = track.rate, track.start
    return steps.joined(buckets, rate, start)


class _Steps:
    """Least, greatest and power of each FINE samples."""

    def __init__(self) -> None:
        self.lows: list[NDArray[np.float32]] = []
        self.highs: list[NDArray[np.float32]] = []
        self.powers: list[NDArray[np.float32]] = []
        self.count = 0
        self.waiting: list[Samples] = []
        self.held = 0

    def take(self, piece: Samples) -> None:
        """Look at a piece; what does not fill a step waits for the next."""
        self.waiting.append(piece)
        self.held += len(piece)
        if self.held >= 64 * FINE:
            self._look(self.held // FINE * FINE)

    def _look(self, count: int) -> None:
        block = cast("Samples", np.concatenate(self.waiting))
        done, rest = block[:count], block[count:]
        self.waiting, self.held = [rest], len(rest)
        self.count += count
        scale = np.float32(1 / 32768) if block.dtype == np.int16 else np.float32(1)
        for part in _steps_of(done):
            flat = part.reshape(part.shape[0], -1)
            self.lows.append(flat.min(1) * scale)
            self.highs.append(flat.max(1) * scale)
            wide = flat.astype(np.float32)
            self.powers.append(np.einsum("ij,ij->i", wide, wide) / wide.shape[1] * scale**2)

    def joined(self, buckets: int, rate: int, start: int) -> Levels:
        """The buckets, from time zero; a late start is silence."""
        if self.held:
            self._look(self.held)
        pad = np.zeros(round(start / FINE), np.float32)
        lows, highs, powers = (
            np.concatenate([pad, *parts]) for parts in (self.lows, self.highs, self.powers)
        )
        edges = np.arange(buckets) * len(lows) // buckets
        sizes = np.maximum(np.diff(np.append(edges, len(lows))), 1)
        return Levels(
            lows=np.minimum.reduceat(lows, edges), highs=np.maximum.reduceat(highs, edges),
            rms=np.sqrt(np.add.reduceat(powers, edges) / sizes),
            length_s=(start + self.count) / rate,
        )  # fmt: skip


def _steps_of(block: Samples) -> Iterator[Samples]:
    """The block as steps x samples x channels, and the unfilled last step by itself."""
    whole = len(block) // FINE
    if whole:
        yield block[: whole * FINE].reshape(whole, FINE, -1)
    if len(block) % FINE:
        yield block[whole * FINE :][None]
