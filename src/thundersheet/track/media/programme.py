"""The programme of a file as one channel at the rate of the cue track, from time zero, in pieces.

`measure` goes through it once for what must be known beforehand; `folded` yields the pieces.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from thundersheet.track.media.decode import walk
from thundersheet.track.media.fold import fold, weights

if TYPE_CHECKING:
    from numpy.typing import NDArray

PIECE = 1 << 16
"""Samples of silence laid at once."""

CANCELS_DB = 9.0
"""A fold this far below what its channels hold together means that they cancel each other; two
unlike channels of equal power lose 3 dB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What one pass over the programme found."""

    peak: float
    """Of the fold at gain 1."""
    samples: int
    """Its length at the cue track's rate, from zero."""
    rate: int
    layout: str
    cancelled_db: float
    """How far the fold lies below the power of its weighted channels: over CANCELS_DB, most of
    the sound is lost in the sum."""
    faults: tuple[str, ...]


def measure(path: Path, rate: int) -> Measured:
    """Go through the programme once."""
    peak, count = 0.0, 0
    with _Fold(path, rate) as mono:
        for piece in mono:
            count += len(piece)
            if len(piece):
                peak = max(peak, float(np.abs(piece).max()))
        lost = 10 * np.log10(mono.apart / mono.together) if mono.together and mono.apart else 0.0
        lost = 99.0 if mono.apart and not mono.together else float(lost)
        return Measured(
            peak=peak, samples=count, rate=mono.track.rate, layout=mono.track.layout,
            cancelled_db=lost, faults=mono.track.told(),
        )  # fmt: skip


def folded(path: Path, rate: int, gain: float) -> Iterator[NDArray[np.float32]]:
    """The programme folded to one channel, from time zero, at a rate."""
    with _Fold(path, rate) as mono:
        for piece in mono:
            yield piece * np.float32(gain)


class _Fold:
    """One pass over the programme, folded and resampled."""

    def __init__(self, path: Path, rate: int) -> None:
        self.rate = rate
        self.opening = walk(path)
        self.together = self.apart = 0.0
        """Power of the fold, and the sum of its channels' weighted powers."""

    def __enter__(self) -> _Fold:
        self.track = self.opening.__enter__()
        return self

    def __exit__(self, *why: object) -> None:
        self.opening.__exit__(None, None, None)

    def __iter__(self) -> Iterator[NDArray[np.float32]]:
        pieces = self._at_own_rate()
        first = next(pieces, None)  # the track knows its rate from here on
        if first is None:
            return
        if self.track.rate == self.rate:
            yield first
            yield from pieces
        else:
            yield from resampled(first, pieces, self.track.rate, self.rate)

    def _at_own_rate(self) -> Iterator[NDArray[np.float32]]:
        by = None
        for piece in self.track:
            if by is None:
                by = weights(self.track.speakers)
                for begin in range(0, self.track.start, PIECE):
                    yield np.zeros(min(PIECE, self.track.start - begin), np.float32)
            mono = fold(piece, by)
            self.together += float(mono @ mono)
            for number, weight in enumerate(by):
                part = fold(piece[:, number : number + 1], by[number : number + 1])
                self.apart += float(part @ part) if weight else 0.0
            yield mono


def resampled(
    first: NDArray[np.float32], pieces: Iterator[NDArray[np.float32]], source: int, target: int
) -> Iterator[NDArray[np.float32]]:
    """The same sound at another rate, sample 0 still at sample 0 (libswresample is centred)."""
    import av
    from av.audio.resampler import AudioResampler

    worker, at = AudioResampler(format="flt", layout="mono", rate=target), 0
    for piece in (p for group in ((first,), pieces) for p in group):
        if not len(piece):
            continue
        frame = av.AudioFrame.from_ndarray(piece[None], format="flt", layout="mono")
        frame.sample_rate, frame.pts, at = source, at, at + len(piece)
        for out in worker.resample(frame):
            yield out.to_ndarray()[0]
    for out in worker.resample(None):
        yield out.to_ndarray()[0]
