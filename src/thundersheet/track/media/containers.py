"""What each kind of file may hold: a table, and the refusals that come from it.

The first codec of a row is the default: the one that ordinary players of that kind of file take
and that keeps tones (measured edge error of 192 kb/s AAC: 0.10 ms; of the others: none).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place

EXPLAINS = {
    "MEDIA-14": "That kind of file, by its ending, cannot hold what was asked for: the sound's "
    "codec, its rate, or several audio tracks.",
    "MEDIA-15": "The source's own picture or sound cannot be put into that kind of file as it is, "
    "and it is never coded anew. MKV takes nearly everything; only it cannot hide a head that an "
    "edit list cuts off, which MP4 and MOV can.",
    "MEDIA-16": "After writing, the file was read back and was not what had been put in: the "
    "picture must be the source's bit for bit. It was thrown away. Pictures of transport streams "
    "are framed otherwise in other files: export or remux the source to MP4 or MKV first.",
}

AAC_RATES = (
    96_000, 88_200, 64_000, 48_000, 44_100, 32_000, 24_000, 22_050, 16_000, 12_000, 11_025, 8_000,
)  # fmt: skip
"""ISO/IEC 14496-3, table 1.18."""

LOSSY = frozenset({"aac"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Container:
    """A kind of file that can be written."""

    format: str
    """The muxer's name."""
    codecs: tuple[str, ...]
    """Sound that it may carry, the default first."""
    many: bool
    """Whether it holds several tracks."""
    picture: bool = False
    """Whether it holds moving pictures; a still cover goes wherever many tracks go."""
    subtitles: frozenset[str] = frozenset()
    """Subtitle codecs that can be copied into it."""


MOVIE_TEXT = frozenset({"mov_text"})

MATROSKA_TEXT = frozenset({
    "subrip", "srt", "ass", "ssa", "webvtt", "text", "dvd_subtitle", "dvdsub", "dvb_subtitle",
    "dvbsub", "hdmv_pgs_subtitle", "pgssub",
})  # fmt: skip


def _movie(name: str, *codecs: str) -> Container:
    return Container(format=name, codecs=codecs, many=True, picture=True, subtitles=MOVIE_TEXT)


CONTAINERS = {
    ".mp4": _movie("mp4", "aac", "alac", "flac"),
    ".m4v": _movie("mp4", "aac", "alac"),
    ".mov": _movie("mov", "pcm", "alac", "aac"),
    ".mkv": Container(
        format="matroska", codecs=("flac", "pcm", "aac"), many=True, picture=True,
        subtitles=MATROSKA_TEXT,
    ),
    ".m4a": Container(format="ipod", codecs=("aac", "alac"), many=True),
    ".wav": Container(format="wav", codecs=("pcm",), many=False),
    ".flac": Container(format="flac", codecs=("flac",), many=False),
}  # fmt: skip


def container_for(target: Path) -> Container:
    """The kind of file that the target's name asks for."""
    found = CONTAINERS.get(target.suffix.lower())
    if found is None:
        says = f"Files ending in {target.suffix or 'nothing'!r} cannot be written."
        raise Refusal.because(
            "MEDIA-14", says, f"Allowed: {', '.join(CONTAINERS)}.", Place(str(target))
        )
    return found


def codec_for(target: Path, container: Container, codec: str | None, rate: int) -> str:
    """The codec to use: the one asked for if the container and the rate allow it."""
    chosen = codec or container.codecs[0]
    if chosen not in container.codecs:
        raise Refusal.because(
            "MEDIA-14", f"Sound in {chosen!r} cannot be put in a {target.suffix} file.",
            f"Allowed there: {', '.join(container.codecs)}.", Place(str(target)),
        )  # fmt: skip
    if chosen == "aac" and rate not in AAC_RATES:
        nearest = min(AAC_RATES, key=lambda allowed: abs(allowed - rate))
        raise Refusal.because(
            "MEDIA-14", f"AAC cannot carry {rate} samples a second.",
            f"Make the cue track at {nearest}, or choose another codec.", Place(str(target)),
        )  # fmt: skip
    return chosen
