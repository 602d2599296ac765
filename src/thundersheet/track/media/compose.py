"""A new programme from pictures and sound that a program made: one MP4 file, H.264 and AAC.

In: frames and samples. Out: a file that is there whole or not at all, its first frame shown at
0:00 by every player.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from thundersheet.track.media.place import new_file

if TYPE_CHECKING:
    from av import AudioFrame
    from av.container import OutputContainer
    from numpy.typing import NDArray

SOUND_BIT_RATE = 112_000
# No frames that look ahead: the first one is shown at 0:00 by every player, edit list or not.
PICTURE_OPTIONS = {"preset": "veryfast", "crf": "30", "bf": "0", "g": "125", "threads": "2"}


def write_programme(
    path: Path,
    pictures: Iterable[NDArray[np.uint8]],
    count: int,
    frame_rate: int,
    samples: NDArray[np.float32],
    rate: int,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write `count` pictures (height x width x 3) and stereo samples (n x 2) as an MP4 file."""
    import av

    tell = progress or (lambda _share: None)
    with new_file(path, replace=True) as file, av.open(file, "w", format="mp4") as container:
        _encode(container, pictures, count, frame_rate, _blocks(samples, rate), rate, tell)


def _encode(
    container: OutputContainer,
    pictures: Iterable[NDArray[np.uint8]],
    count: int,
    frame_rate: int,
    blocks: Iterator[AudioFrame],
    rate: int,
    tell: Callable[[float], None],
) -> None:
    """Picture and sound in turns, a second of each, so that they lie side by side in the file."""
    import av

    picture = container.add_stream("libx264", rate=frame_rate, options=PICTURE_OPTIONS)
    sound = container.add_stream("aac", rate=rate, layout="stereo")
    sound.bit_rate = SOUND_BIT_RATE
    for index, pixels in enumerate(pictures):
        if index == 0:
            picture.height, picture.width = pixels.shape[:2]
            picture.pix_fmt = "yuv420p"
        image = av.VideoFrame.from_ndarray(pixels, format="rgb24")
        image.pts, image.time_base = index, Fraction(1, frame_rate)
        container.mux(picture.encode(image))
        if index % frame_rate == 0:
            block = next(blocks, None)
            if block is not None:
                container.mux(sound.encode(block))
            tell(index / count)
    for block in blocks:
        container.mux(sound.encode(block))
    container.mux(picture.encode(None))
    container.mux(sound.encode(None))
    tell(1.0)


def _blocks(samples: NDArray[np.float32], rate: int) -> Iterator[AudioFrame]:
    """The sound in frames of a second."""
    import av

    for first in range(0, len(samples), rate):
        piece = np.ascontiguousarray(samples[first : first + rate].T)
        block = av.AudioFrame.from_ndarray(piece, format="fltp", layout="stereo")
        block.sample_rate, block.pts = rate, first
        block.time_base = Fraction(1, rate)
        yield block
