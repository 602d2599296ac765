"""Where a track's first sample stands on the presentation timeline, and what was priming.

Reads the first packets of an open container. The demuxer applies edit lists and the skips that a
file declares; what is decided here is the zero of the file, and which formats' time stamps count.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from thundersheet.track.media.boxes import has_edit_list
from thundersheet.track.media.door import opened

if TYPE_CHECKING:
    from av.audio.stream import AudioStream
    from av.container import InputContainer
    from av.packet import Packet
    from av.stream import Stream

COUNTED = frozenset(
    (
        "mp3",
        "aac",
        "flac",
        "wav",
        "w64",
        "ogg",
        "ac3",
        "eac3",
        "aiff",
        "au",
        "caf",
        "wv",
        "dts",
        "truehd",
        "amr",
        "tta",
        "ape",
    )
)
"""Formats of sound alone: sample 0 is time zero and samples are counted. The first time stamp of
an MP3 with a LAME header is 23 ms although its sample 0 is already the right one."""

USUAL_PRIMING = {"aac": 1024, "mp3": 1105, "mp2": 481, "ac3": 256, "eac3": 256}
"""Samples by which coder and decoder delay the sound where no one declares it. AAC: one frame
(ISO/IEC 14496-3; many encoders use 2112); MP3: 576 of LAME + 529 of the decoder; MP2: the 481 of
its filter bank; AC-3: its overlap of 256. Measured on files of ffmpeg 5.1, which agree."""

LONGEST_REORDERING = Fraction(1, 4)
"""Seconds: a first picture later than this was meant to be late. H.264 reorders 16 frames at most
(ITU-T H.264, annex A.3.1), files of cameras and editors 2 to 4."""

PROBE = 64
"""Frames looked at to find a start better than a container's whole milliseconds."""

SEARCHED = 20_000
"""Packets searched for the first presented one: 7 minutes of AAC before an edit begins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """How the decoded samples of one track stand on the file's presentation timeline."""

    counted: bool
    """Samples are counted from zero; time stamps do not matter."""
    zero: Fraction
    """The time stamp, in seconds, of the timeline's zero."""
    start: Fraction
    """Of the first decoded sample, from zero; below 0: the first ones are not heard."""
    shift: Fraction
    """What to take off a packet's stamps so that a copy of it stands on the timeline."""
    priming: Fraction = Fraction(0)
    ignoring: Fraction = Fraction(0)
    unsaid: Fraction = Fraction(0)


def find_line(path: Path, container: InputContainer, number: int) -> Line:
    """Read the head of the track and say where it starts."""
    stream = container.streams.audio[number]
    # A track of a codec that is not known here has no context, whatever the types say.
    codec: object = stream.codec_context
    first = next(_filled(container.demux(stream)), None) if codec else None
    if first is None:
        return Line(counted=True, zero=Fraction(0), start=Fraction(0), shift=Fraction(0))
    rate, usual = stream.codec_context.sample_rate or 1, _usual(stream)
    said = _declared(first, rate)
    names = set(container.format.name.split(","))
    if names & COUNTED:
        return Line(
            counted=True, zero=Fraction(0), start=Fraction(0), priming=said, ignoring=said,
            unsaid=Fraction(0) if said else usual,
            shift=(first.pts or 0) * Fraction(first.time_base) + said,
        )  # fmt: skip
    if "mp4" in names:
        picture = min(_starts(container, "video"), default=None)
        return _edited_line(path, number, first, picture, usual)
    return _moved_line(path, number, container, said, usual)


def _edited_line(
    path: Path, number: int, first: Packet[AudioStream], picture: Fraction | None, usual: Fraction
) -> Line:
    """MP4 and MOV: the edit list says it all, and zero is zero."""
    ignoring = _without_edits(path, number, first)
    zero = _bare_zero(path, picture)
    start = _start(path, number, zero)
    return Line(
        counted=False, zero=zero, start=start, shift=zero,
        priming=max(ignoring + max(start, Fraction(0)), Fraction(0)), ignoring=ignoring,
        unsaid=usual if ignoring == 0 == start else Fraction(0),
    )  # fmt: skip


def _bare_zero(path: Path, picture: Fraction | None) -> Fraction:
    """Zero, but where the picture starts if no track has an edit list.

    In fragments and files of old writers everything stands later by the picture's reordering.
    """
    if not picture or picture > LONGEST_REORDERING or has_edit_list(path):
        return Fraction(0)
    return picture


def _moved_line(
    path: Path, number: int, container: InputContainer, said: Fraction, usual: Fraction
) -> Line:
    """Matroska, transport streams and others without edit lists."""
    zero, explained = _moved_zero(container, said)
    start = _start(path, number, zero)
    silent = not said and not explained and start == 0
    return Line(
        counted=False, zero=zero, start=start, shift=zero,
        priming=said or max(Fraction(0), -start), ignoring=said,
        unsaid=usual if silent else Fraction(0),
    )  # fmt: skip


def _moved_zero(container: InputContainer, said: Fraction) -> tuple[Fraction, bool]:
    """The file's zero, and whether it was found by the priming of a track.

    Writers that may not use negative stamps and cannot declare the priming move everything later
    by it instead: then zero is where the picture starts, which is what the export began with.
    """
    rounds = "matroska" in container.format.name
    starts = [*_starts(container, "video"), *_starts(container, "audio")]
    floor = Fraction(0) if rounds else min(starts, default=Fraction(0))
    if said:
        return floor, False
    usuals = [_usual(s) for s in container.streams.audio if _start_of(s) == floor]
    for moved in (start - floor for start in starts if start > floor):
        if any(usual and abs(moved - usual) <= Fraction(3, 2000) for usual in usuals):
            return floor + moved, True
    return floor, False


def picture_shift(path: Path, container: InputContainer) -> Fraction:
    """What to take off the stamps of a file that has no sound."""
    if "mp4" in container.format.name:
        return _bare_zero(path, min(_starts(container, "video"), default=None))
    return _moved_zero(container, Fraction(0))[0]


def _usual(stream: AudioStream) -> Fraction:
    codec: Any = stream.codec_context
    if codec is None or not codec.sample_rate:
        return Fraction(0)
    return Fraction(USUAL_PRIMING.get(plain_codec(codec.name), 0), codec.sample_rate)


def plain_codec(name: str) -> str:
    """The codec's own name where a decoder carries another: `mp3float`."""
    return {"mp3float": "mp3", "mp2float": "mp2", "libopus": "opus"}.get(name, name)


def _filled(packets: Iterator[Packet[AudioStream]]) -> Iterator[Packet[AudioStream]]:
    return (packet for packet in packets if packet.size)


def _declared(first: Packet[AudioStream], rate: int) -> Fraction:
    """The samples that the container tells the decoder to drop at the start."""
    if first.has_sidedata("skip_samples"):
        # AV_PKT_DATA_SKIP_SAMPLES: the first 32 bits, low byte first, count samples.
        skip = bytes(first.get_sidedata("skip_samples"))[:4]
        if count := int.from_bytes(skip, "little"):
            return Fraction(count, rate)
    if first.pts is not None and first.pts < 0:
        return -first.pts * Fraction(first.time_base)
    return Fraction(0)


def _starts(container: InputContainer, kind: Literal["video", "audio"]) -> list[Fraction]:
    """The first time stamps of the tracks of a kind, where they have one."""
    streams = container.streams.video if kind == "video" else container.streams.audio
    return [start for stream in streams if (start := _start_of(stream)) is not None]


def _start_of(stream: Stream) -> Fraction | None:
    if stream.start_time is None or stream.time_base is None:
        return None
    return stream.start_time * Fraction(stream.time_base)


def _start(path: Path, number: int, zero: Fraction) -> Fraction:
    """The time of the first decoded sample, better than the container's rounding.

    Each stamp, rounded to a tick, leaves an interval of one tick for the start; frames fall at
    different phases of the tick, so the intervals' common part is narrow.
    """
    low, high, counted = Fraction(-(10**9)), Fraction(10**9), 0
    with opened(path) as container:
        stream = container.streams.audio[number]
        for frame in islice(container.decode(stream), PROBE):
            if frame.pts is None or frame.time_base is None:
                continue
            if frame.pts == 0 == zero == counted:
                return Fraction(0)
            tick, rate = Fraction(frame.time_base), Fraction(frame.sample_rate)
            start = frame.pts * tick - zero - counted / rate
            if tick * rate <= 1:  # as fine as the samples: nothing to gain
                return start
            if start - tick / 2 > high or start + tick / 2 < low:
                break  # a gap, or stamps that do not fit a steady rate
            low, high = max(low, start - tick / 2), min(high, start + tick / 2)
            counted += frame.samples
    return (low + high) / 2 if low > -(10**9) else Fraction(0)


def _without_edits(path: Path, number: int, first: Packet[AudioStream]) -> Fraction:
    """How much later the first presented packet stands for a player that ignores edit lists."""
    with opened(path, ignore_editlist="1") as container:
        packets = _filled(container.demux(container.streams.audio[number]))
        for packet in islice(packets, SEARCHED):
            if packet.pos == first.pos and packet.pts is not None and first.pts is not None:
                return (packet.pts - first.pts) * Fraction(first.time_base)
    return Fraction(0)
