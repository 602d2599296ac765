"""A few small pictures out of a file, for the report on paper: `frames`.

Seeks to each instant, decodes, turns as the file asks, makes it small and packs it as JPEG.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.track.media.door import check_readable, opened
from thundersheet.track.media.streams import choose
from thundersheet.track.media.timeline import find_line, picture_shift

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

QUALITY = "4"
"""Of the JPEG coder: 2 is the best, 31 the worst."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thumbnail:
    """A small picture of one instant."""

    at_s: float
    """When it is first shown; up to a frame before the instant asked for."""
    width: int
    height: int
    jpeg: bytes


def frames(path: Path | str, times: Iterable[float], *, width: int = 160) -> tuple[Thumbnail, ...]:
    """The pictures shown at the given seconds, in that order; beyond the end, the last one.

    Refuses a file without moving pictures (MEDIA-09).
    """
    path = Path(path)
    check_readable(path)
    with opened(path) as container:
        shift = _shift(path, container)
        return tuple(_at(path, container, time, shift, width) for time in times)


def _shift(path: Path, container: InputContainer) -> Fraction:
    if not container.streams.video:
        raise Refusal.because(
            "MEDIA-09",
            "There is no picture in this file.",
            "Give the video file.",
            Place(str(path)),
        )
    if not container.streams.audio:
        return picture_shift(path, container)
    with opened(path) as again:
        return find_line(path, again, choose(path, again, None)).shift


def _at(
    path: Path, container: InputContainer, time: float, shift: Fraction, width: int
) -> Thumbnail:
    import av

    stream = container.streams.video[0]
    tick = Fraction(stream.time_base or 1)
    wanted = Fraction(time).limit_denominator(1_000_000) + shift
    container.seek(max(0, int(wanted / tick)), stream=stream, backward=True)
    best: VideoFrame | None = None
    try:
        for frame in container.decode(stream):
            if best is not None and frame.pts is not None and frame.pts * tick > wanted:
                break
            best = frame
    except av.error.FFmpegError:
        pass  # a damaged tail: the last good picture stands
    if best is None:
        says = f"No picture could be decoded at {time:.3f} s."
        raise Refusal.because("MEDIA-06", says, "Export it again.", Place(str(path)))
    pixels = _small(best, width)
    shown = float((best.pts or 0) * tick - shift)
    return Thumbnail(at_s=shown, width=pixels.shape[1], height=pixels.shape[0], jpeg=_jpeg(pixels))


def _small(frame: VideoFrame, width: int) -> NDArray[np.uint8]:
    """RGB pixels, upright, about so wide."""
    turned = int(getattr(frame, "rotation", 0) or 0) % 360
    wide, high = (frame.width, frame.height) if turned % 180 == 0 else (frame.height, frame.width)
    size = (_even(width), _even(width * high / wide))
    if turned % 180:
        size = size[::-1]
    rgb = frame.reformat(width=size[0], height=size[1], format="rgb24").to_ndarray()
    # libavutil's display rotation counts anticlockwise, as rot90 does.
    return np.ascontiguousarray(np.rot90(rgb, turned // 90))


def _even(value: float) -> int:
    """JPEG with halved colour wants even sides."""
    return max(2, 2 * round(value / 2))


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    import av

    frame: Any = av.VideoFrame.from_ndarray(pixels, format="rgb24").reformat(format="yuvj420p")
    coder: Any = av.CodecContext.create("mjpeg", "w")
    coder.width, coder.height, coder.pix_fmt = pixels.shape[1], pixels.shape[0], "yuvj420p"
    coder.time_base = Fraction(1, 25)
    coder.options = {"qmin": QUALITY, "qmax": QUALITY}
    frame.pts = 0
    return b"".join(bytes(packet) for packet in (*coder.encode(frame), *coder.encode(None)))
