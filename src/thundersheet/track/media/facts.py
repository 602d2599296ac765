"""What a media file is, for reports: `describe`.

Reads headers and packets, and decodes one picture at most. Refuses what is no media.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import islice, pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thundersheet.track.media.door import check_readable, no_media, opened
from thundersheet.track.media.sound import Facts, Picture
from thundersheet.track.media.streams import choose, list_streams
from thundersheet.track.media.timeline import Line, find_line, picture_shift, plain_codec

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.stream import VideoStream

UNEQUAL = Fraction(3, 1000)
"""Distances between frames that differ by more than this are meant to: Matroska rounds to 1 ms."""

LOOKED_AT = 200_000
"""Packets of the picture that are looked at: more than an hour at 50 frames a second."""


def describe(path: Path | str) -> Facts:
    """The facts of a media file on its presentation timeline; refuses what is no media."""
    path = Path(path)
    check_readable(path)
    with opened(path) as container:
        sounds = list_streams(container)
        line = find_line(path, container, choose(path, container, None)) if sounds else None
    with opened(path) as container:
        shift = line.shift if line else picture_shift(path, container)
        video = next((s for s in container.streams.video if not _is_cover(s)), None)
        picture = _picture(path, container, video, shift) if video else None
        if not sounds and picture is None:
            raise no_media(path)
        return Facts(
            container=container.format.name, length_s=_length(container, shift, picture),
            picture=picture, sounds=sounds,
            sound_start_s=max(0.0, float(line.start)) if line else 0.0,
            priming_s=float(line.priming) if line else 0.0,
            unsaid_priming_s=float(line.unsaid) if line else 0.0,
            edits=_edits(container, line, picture),
            others=tuple(_other(s) for s in container.streams if s.type not in ("audio", "video")),
        )  # fmt: skip


def _is_cover(stream: VideoStream) -> bool:
    import av

    return bool(stream.disposition & av.stream.Disposition.attached_pic)


def _picture(
    path: Path, container: InputContainer, stream: VideoStream, shift: Fraction
) -> Picture:
    """From the stamps of the packets that are shown."""
    tick = Fraction(stream.time_base or 1)
    shown: list[int] = []
    reordered = False
    for packet in islice(container.demux(stream), LOOKED_AT):
        if not packet.size or packet.pts is None:
            continue
        reordered = reordered or (bool(shown) and packet.pts < shown[-1])
        shown.append(packet.pts)
    times = [t for t in (pts * tick - shift for pts in sorted(shown)) if t >= 0]
    steps = [b - a for a, b in pairwise(times)]
    usual = sorted(steps)[len(steps) // 2] if steps else Fraction(0)
    span = times[-1] - times[0] if times else Fraction(0)
    codec = stream.codec_context
    return Picture(
        codec=plain_codec(codec.name) if codec else "unknown",
        width=codec.width if codec else 0, height=codec.height if codec else 0,
        frames_per_s=float(len(steps) / span) if span else float(stream.average_rate or 0),
        variable=any(abs(step - usual) > UNEQUAL for step in steps), b_frames=reordered,
        start_s=float(times[0]) if times else 0.0, frames=len(times),
        length_s=float(span + usual), turned_deg=_turned(path, stream.index),
    )  # fmt: skip


def _turned(path: Path, index: int) -> int:
    """Degrees that the picture is to be turned, from its first frame."""
    import av

    with opened(path) as again:
        try:
            frame = next(again.decode(again.streams[index]), None)
        except av.error.FFmpegError:
            return 0
        return int(getattr(frame, "rotation", 0) or 0)


def _length(container: InputContainer, shift: Fraction, picture: Picture | None) -> float:
    ends = [
        (stream.start_time or 0) * Fraction(stream.time_base) - shift
        + stream.duration * Fraction(stream.time_base)
        for stream in (*container.streams.audio, *container.streams.video)
        if stream.duration and stream.time_base
    ]  # fmt: skip
    whole = float(container.duration or 0) / 1e6
    seen = picture.start_s + picture.length_s if picture else 0.0
    return max(float(max(ends, default=Fraction(0))) or whole, seen)


def _edits(
    container: InputContainer, line: Line | None, picture: Picture | None
) -> tuple[str, ...]:
    if "mp4" not in container.format.name:
        return ()
    found = []
    if line and line.priming:
        found.append(f"the sound's first {float(line.priming) * 1000:.1f} ms are not to be heard")
    if line and line.start > 0:
        found.append(f"the sound starts {float(line.start):.3f} s late")
    if picture and picture.start_s > 0:
        found.append(f"the picture starts {picture.start_s:.3f} s late")
    return tuple(found)


def _other(stream: Any) -> str:
    codec = getattr(stream, "codec_context", None)
    return f"{stream.type} ({codec.name})" if codec else str(stream.type)
