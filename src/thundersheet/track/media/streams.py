"""The audio tracks of an open container: what they are, and which one is meant. Reads no packet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.track.media.sound import Stream, layout_name
from thundersheet.track.media.timeline import plain_codec

if TYPE_CHECKING:
    from av.audio.stream import AudioStream
    from av.container import InputContainer

UNKNOWN = "unknown"
"""The codec of a track that no decoder here takes."""


def list_streams(container: InputContainer) -> tuple[Stream, ...]:
    """The audio tracks in file order."""
    return tuple(_stream(number, s) for number, s in enumerate(container.streams.audio))


def choose(path: Path, container: InputContainer, stream: int | None) -> int:
    """The number of the audio track to read; refuses a file without one, or a number beyond."""
    import av

    sounds = container.streams.audio
    if not sounds:
        says = "There is no sound in this file."
        raise Refusal.because(
            "MEDIA-07", says, "Give a file with an audio track.", Place(str(path))
        )
    if stream is None:
        flag = av.stream.Disposition.default
        return next((n for n, s in enumerate(sounds) if s.disposition & flag), 0)
    if not 0 <= stream < len(sounds):
        raise Refusal.because(
            "MEDIA-07", f"There is no audio track {stream + 1} in this file.",
            f"It has {len(sounds)}.", Place(str(path)),
        )  # fmt: skip
    return stream


def _stream(number: int, source: AudioStream) -> Stream:
    codec = source.codec_context
    channels = codec.channels if codec else 0
    return Stream(
        number=number, codec=plain_codec(codec.name) if codec else UNKNOWN,
        rate=(codec.sample_rate or 0) if codec else 0, channels=channels,
        layout=layout_name(channels, codec.layout.name if codec else ""),
        title=source.metadata.get("title", ""), language=source.language or "",
    )  # fmt: skip
