"""Muxing: the new audio track woven between the copied packets of the source.

In: a checked job, a new file and the blocks of the new track. Out: the file's bytes and what
was carried over or dropped; `proved` reads it back and refuses what is not what was written.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.track.media.copying import Stamps, Tallies, tally_file
from thundersheet.track.media.door import opened
from thundersheet.track.media.job import Job
from thundersheet.track.media.muxer import muxing, output
from thundersheet.track.media.sink import Rounding, TrackSink
from thundersheet.track.media.streams import choose
from thundersheet.track.media.timeline import find_line, picture_shift, plain_codec

if TYPE_CHECKING:
    import numpy as np
    from av.container import InputContainer, OutputContainer
    from av.stream import Stream
    from numpy.typing import NDArray

AHEAD_S = 0.5
"""How far the new sound is coded ahead of the packet that is copied."""

PIECE = 1 << 16
"""Samples coded at once."""

NOT_COPIED = frozenset({
    "encoder", "major_brand", "minor_version", "compatible_brands", "creation_time", "duration",
})  # fmt: skip
"""Words of the old file about itself, in lower case."""


@dataclass(slots=True, kw_only=True)
class Muxed:
    """What was put into the file."""

    stream: int = 0
    picture_packets: int = 0
    picture_sha256: str = ""
    sound_s: float | None = None
    dropped: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    tallies: Tallies = field(default_factory=Tallies)
    pictures: dict[int, int] = field(default_factory=dict)
    """Picture tracks: number in the source to number in the target."""
    sounds: tuple[int, ...] = ()
    """Copied audio tracks, by their number in the target."""
    new: int = 0
    """The track's number among all tracks."""


def mux(job: Job, part: Path, blocks: Iterator[NDArray[np.float32]]) -> Muxed:
    """Write the container to the new file."""
    done = Muxed()
    with (
        opened(job.source) as source,
        output(job.target, job.container.format, job.rate, part) as out,
    ):
        carried, dropped = _choose(job, source)
        done.dropped = tuple(dropped)
        shift = _shift(job.source, source)
        tracks: dict[int, Stream] = {}
        pictures = [s for s in carried if s.type == "video"]
        sounds = [s for s in carried if s.type == "audio"]
        others = [s for s in carried if s.type not in ("video", "audio")]
        _add(job, out, pictures, tracks)
        if job.how == "track":
            _add(job, out, sounds, tracks)
        sink = _add_new(job, out, done, source)
        if job.how != "track":
            _add(job, out, sounds, tracks)
        _add(job, out, others, tracks)
        _add_words(job, out, source)
        done.new = sink.stream.index
        done.stream = [s.index for s in out.streams.audio].index(done.new)
        done.pictures = {s.index: tracks[s.index].index for s in pictures}
        done.sounds = tuple(tracks[s.index].index for s in sounds)
        with muxing(job.source, job.target):
            out.start_encoding()
        for packet in _copies(job, source, carried, shift):
            now = float((packet.dts or 0) * Fraction(packet.time_base))
            _fill(job, sink, blocks, now + AHEAD_S)
            track = tracks[packet.stream_index]
            if track.index in done.sounds:  # the picture is held against the source itself
                done.tallies.add(track.index, packet)
            with muxing(job.source, job.target):
                packet.stream = track
                out.mux(packet)
        _fill(job, sink, blocks, float("inf"))
        with muxing(job.source, job.target):
            sink.close()
    return done


def flac(target: Path, part: Path, block: NDArray[np.float32], rate: int, bits: int) -> None:
    """Write samples x channels as a FLAC file."""
    with output(target, "flac", rate, part) as out, muxing(target, target):
        sink = TrackSink(out, rate, block.shape[1], "flac", Rounding(bits, None), 0, Tallies())
        for begin in range(0, len(block), PIECE):
            sink.write(block[begin : begin + PIECE])
        sink.close()


def left_out(job: Job) -> tuple[str, ...]:
    """What of the source the target does not hold."""
    with opened(job.source) as source:
        return tuple(_choose(job, source)[1])


def proved(job: Job, path: Path, muxed: Muxed) -> None:
    """Read the file back; refuse it (MEDIA-16) unless every track holds what was put in.

    The picture is held against the source itself, read once more.
    """
    back = tally_file(path, edits=False)
    if muxed.pictures:
        source = tally_file(job.source, tracks=muxed.pictures)
        for old, new in muxed.pictures.items():
            if source.of(old) != back.of(new):
                raise _unlike(job, "The picture", "another kind of file, or remux the source first")
        first = next(iter(muxed.pictures))
        muxed.picture_packets, muxed.picture_sha256 = source.of(first)
    # By the bytes alone: readers cut plain samples into packets as they like.
    if muxed.tallies.of(muxed.new)[1] != back.of(muxed.new)[1]:
        raise _unlike(job, "The new sound", "another disk")
    for track in muxed.sounds:
        if muxed.tallies.of(track)[1] != back.of(track)[1]:
            muxed.notes += (f"the copied sound of track {track} is packed differently",)


def _unlike(job: Job, what: str, instead: str) -> Refusal:
    return Refusal.because(
        "MEDIA-16",
        f"{what} of {job.source} did not come through bit for bit; the new file"
        " was thrown away.",
        f"Write to {instead}.", Place(str(job.target)),
    )  # fmt: skip


def _choose(job: Job, source: InputContainer) -> tuple[list[Stream], list[str]]:
    """The tracks to copy, and the words for those that are not."""
    carried: list[Stream] = []
    dropped: list[str] = []
    for stream in source.streams:
        if _is_kept(job, stream):
            carried.append(stream)
        elif stream.type != "audio" or not _is_folded(job, source, stream):
            dropped.append(f"{stream.type} ({_codec(stream)})")
    return carried, dropped


def _is_kept(job: Job, stream: Stream) -> bool:
    import av

    if not job.container.many:
        return False
    if stream.type == "video":
        cover = bool(stream.disposition & av.stream.Disposition.attached_pic)
        return job.container.picture or cover
    if stream.type == "audio":
        return job.keep_own
    return stream.type == "subtitle" and _codec(stream) in job.container.subtitles


def _is_folded(job: Job, source: InputContainer, stream: Stream) -> bool:
    if job.how != "channel":
        return False
    return source.streams.audio[choose(job.source, source, None)].index == stream.index


def _codec(stream: Any) -> str:
    codec = getattr(stream, "codec_context", None)
    return plain_codec(codec.name) if codec else "of unknown kind"


def _shift(path: Path, source: InputContainer) -> Fraction:
    if not source.streams.audio:
        return picture_shift(path, source)
    with opened(path) as again:
        return find_line(path, again, choose(path, again, None)).shift


def _add(job: Job, out: OutputContainer, streams: list[Stream], tracks: dict[int, Stream]) -> None:
    for stream in streams:
        with muxing(job.source, job.target):
            track = out.add_stream_from_template(stream)
        track.metadata.update(_words(stream.metadata))
        track.disposition = stream.disposition
        tracks[stream.index] = track


def _add_new(job: Job, out: OutputContainer, done: Muxed, source: InputContainer) -> TrackSink:
    import av

    with muxing(job.source, job.target):
        sink = TrackSink(
            out, job.rate, job.channels, job.codec, Rounding(job.bits, job.programme_channel),
            job.bit_rate, done.tallies,
        )  # fmt: skip
    name = "programme and cue track" if job.how == "channel" else "cue track"
    sink.stream.metadata.update({"title": name, "handler_name": name})
    if job.how == "channel" and source.streams.audio and source.streams.audio[0].language:
        sink.stream.metadata["language"] = source.streams.audio[0].language
    first = job.how != "track" or not source.streams.audio
    sink.stream.disposition = av.stream.Disposition.default if first else av.stream.Disposition(0)
    return sink


def _add_words(job: Job, out: OutputContainer, source: InputContainer) -> None:
    """Title, author and the like, and the chapters."""
    out.metadata.update(_words(source.metadata))
    if job.container.many and (chapters := source.chapters()):
        out.set_chapters(chapters)


def _words(metadata: dict[str, str]) -> dict[str, str]:
    return {key: value for key, value in metadata.items() if key.lower() not in NOT_COPIED}


def _copies(
    job: Job, source: InputContainer, carried: list[Stream], shift: Fraction
) -> Iterator[Any]:
    """The packets of the carried tracks, their stamps on the target's line."""
    if not carried:
        return
    stamps = {stream.index: Stamps(shift) for stream in carried}
    for packet in source.demux(carried):
        if packet.size:
            for ready in stamps[packet.stream_index].ready(packet):
                if not _is_before(job, ready):
                    yield ready
    for left in stamps.values():
        yield from left.rest()


def _is_before(job: Job, packet: Any) -> bool:
    """Whether a packet ends before zero and must stay out of a file that has no edit list.

    Sound is left out, but for the last packet, from which a decoder gets its start. A picture
    that is hidden can only be shown, later by as much, so it is refused.
    """
    if job.container.format != "matroska" or packet.pts >= 0:
        return False
    if packet.stream.type == "video":
        says = (
            f"The edit list of {job.source} hides its first pictures, and {job.target.suffix}"
            " files cannot hide any."
        )
        allowed = "Write to MP4 or MOV, or export the programme without a cut head."
        raise Refusal.because("MEDIA-15", says, allowed, Place(str(job.target)))
    codec = packet.stream.codec_context
    frame = Fraction(codec.frame_size or 0, codec.sample_rate or 1) / Fraction(packet.time_base)
    lasts = min(packet.duration or 0, frame or math.inf)  # fragments make the first one too long
    return bool(packet.pts + lasts < 0)


def _fill(job: Job, sink: TrackSink, blocks: Iterator[NDArray[np.float32]], until_s: float) -> None:
    """Code the new sound up to an instant."""
    while sink.written < until_s * job.rate:
        block = next(blocks, None)
        if block is None:
            return
        with muxing(job.source, job.target):
            sink.write(block)
