"""Decoding one audio track piece by piece onto the presentation timeline, memory kept flat.

`walk` opens a track; iterating gives samples x channels in int16 or float32, each piece following
the one before without a gap. Holes in the file become silence and are told as faults.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.track.media.door import KINDS, no_media, opened
from thundersheet.track.media.sound import Samples, Stream, layout_name
from thundersheet.track.media.streams import UNKNOWN, choose, list_streams
from thundersheet.track.media.timeline import Line, find_line

if TYPE_CHECKING:
    from av.audio.frame import AudioFrame
    from av.audio.stream import AudioStream
    from av.container import InputContainer
    from av.packet import Packet
    from numpy.typing import NDArray

PIECE = 1 << 15
"""Samples handed out at once: small enough for the processor's cache."""

GAP = Fraction(3, 100)
"""Time stamps further than 30 ms from the count of samples are a hole and not rounding: Matroska
rounds to 1 ms, and a lost packet of the shortest common frame (AAC at 48 kHz) is 21 ms, which is
met where it fails to decode."""

LONGEST_GAP_S = 600
"""A jump beyond ten minutes is a broken time stamp, not a pause that someone edited."""

LATEST_START_S = 86_400
"""A track that starts more than a day late has a broken time stamp."""

TOLD = 8
"""Faults told one by one; the rest are counted."""

PROMISING = frozenset({"flac", "mp4", "w64", "aiff", "caf", "au", "wv"})
"""Formats whose header knows the length; the length of others is guessed from the bit rate."""

MISSED_S = 0.1
"""Told as cut short from this on: above any coder's last frame."""

LARGEST_RATE = 768_000


@dataclass(slots=True)
class Walk:
    """One pass over the samples of an audio track."""

    path: Path
    container: InputContainer
    source: AudioStream
    line: Line
    stream: Stream
    streams: tuple[Stream, ...]
    rate: int = 0
    channels: int = 0
    layout: str = ""
    speakers: tuple[str, ...] = ()
    """The name of each channel: FL, FR, FC ..."""
    start: int = 0
    """The first sample's place, in samples from zero; known after the first piece."""
    faults: list[str] = field(default_factory=list)
    more_faults: int = 0
    at: int = 0
    """The place of the next sample."""
    short: bool = True
    """Whether samples are int16; settled by the first frame."""

    def __iter__(self) -> Iterator[Samples]:
        """Pieces of about PIECE samples: a frame by itself is too small to be worth a step."""
        held: list[Samples] = []
        size = 0
        for piece in self._pieces():
            held.append(piece)
            size += len(piece)
            if size >= PIECE:
                yield _whole(held)
                held, size = [], 0
        if size:
            yield _whole(held)

    def _pieces(self) -> Iterator[Samples]:
        began = False
        for frame, packet in self._frames():
            if frame is None:
                if began:
                    yield from self._silence(self._lost(packet))
                continue
            if not began:
                self._settle(frame)
                began = True
            else:
                yield from self._silence(self._gap(frame))
            piece = self._piece(frame)
            early, self.at = min(max(0, -self.at), len(piece)), self.at + len(piece)
            if early < len(piece):
                yield piece[early:]
        self._check_length()
        if not began:
            says = f"Nothing of its {self.stream.codec} sound could be decoded."
            raise Refusal.because("MEDIA-06", says, "Export it again.", Place(str(self.path)))

    def _check_length(self) -> None:
        """Tell when the header promises more than was there."""
        source = self.source
        known = PROMISING & set(self.container.format.name.split(","))
        if not (known and self.rate and source.duration and source.time_base):
            return
        promised = float(source.duration * Fraction(source.time_base))
        missing = promised - (self.at - self.start) / self.rate
        if missing > MISSED_S:
            self.fault(f"cut short: {missing:.3f} s of sound are missing at the end")

    def fault(self, sentence: str) -> None:
        """Remember what is wrong with the file; after the first few only how many."""
        if len(self.faults) < TOLD:
            self.faults.append(sentence)
        else:
            self.more_faults += 1

    def told(self) -> tuple[str, ...]:
        """The faults, as they are shown."""
        more = (f"and {self.more_faults} more faults",) if self.more_faults else ()
        return (*self.faults, *more)

    def _frames(self) -> Iterator[tuple[AudioFrame | None, Packet[AudioStream]]]:
        """The frames of each packet, or None for a packet that does not decode."""
        import av

        packets = self.container.demux(self.source)
        while True:
            try:
                packet = next(packets)
            except StopIteration:
                return
            except av.error.FFmpegError:
                self.fault(f"cut short: the file cannot be read beyond {self._now():.3f} s")
                return
            try:
                for frame in packet.decode():
                    yield frame, packet
            except av.error.FFmpegError:
                yield None, packet

    def _settle(self, frame: AudioFrame) -> None:
        self.rate = frame.sample_rate
        self.channels = len(frame.layout.channels)
        self.layout = layout_name(self.channels, frame.layout.name)
        self.speakers = tuple(channel.name for channel in frame.layout.channels)
        self.short = frame.format.name in ("s16", "s16p")
        if not (0 < self.rate <= LARGEST_RATE and self.channels):
            raise no_media(self.path)
        self.at = 0 if self.line.counted else round(self.line.start * self.rate)
        if abs(self.at) > LATEST_START_S * self.rate:
            self.fault(f"time stamps begin at {self._now():.0f} s, which is taken as 0")
            self.at = 0
        self.start = max(0, self.at)

    def _piece(self, frame: AudioFrame) -> Samples:
        if frame.sample_rate != self.rate:
            says = (
                f"Its sound changes from {self.rate} to {frame.sample_rate} samples a"
                f" second at {self._now():.3f} s."
            )
            raise Refusal.because("MEDIA-08", says, "Export it at one rate.", Place(str(self.path)))
        channels = len(frame.layout.channels)
        data = frame.to_ndarray()
        data = data.T if frame.format.is_planar else data.reshape(-1, channels)
        piece = _as_short(data) if self.short else _as_float(data)
        if channels != self.channels:
            self.fault(f"{channels} instead of {self.channels} channels from {self._now():.3f} s")
            fitted = np.zeros((len(piece), self.channels), piece.dtype)
            both = min(channels, self.channels)
            fitted[:, :both] = piece[:, :both]
            return fitted
        return piece

    def _lost(self, packet: Packet[AudioStream]) -> int:
        """How many samples a packet that does not decode would have held."""
        count = self.source.codec_context.frame_size or 0
        if not count and packet.duration and packet.time_base:
            count = round(packet.duration * Fraction(packet.time_base) * self.rate)
        count = min(max(0, count), self.rate)
        if count:
            self.fault(f"damaged: {count / self.rate:.3f} s at {self._now():.3f} s are silence")
        return count

    def _gap(self, frame: AudioFrame) -> int:
        """How many samples are missing before this frame, by its time stamp."""
        if self.line.counted or frame.pts is None or frame.time_base is None:
            return 0
        stamp = frame.pts * Fraction(frame.time_base) - self.line.zero
        missing = stamp - Fraction(self.at, self.rate)
        if abs(missing) <= GAP:
            return 0
        if not 0 < missing <= LONGEST_GAP_S:
            self.fault(f"time stamps jump by {float(missing):.3f} s at {self._now():.3f} s")
            return 0
        if stamp > 0:
            self.fault(
                f"a hole of {float(missing):.3f} s at {self._now():.3f} s is taken as silence"
            )
        return round(missing * self.rate)

    def _silence(self, count: int) -> Iterator[Samples]:
        while count > 0:
            part = min(count, 1 << 16)
            early, self.at = min(max(0, -self.at), part), self.at + part
            count -= part
            if early == part:
                continue
            if self.short:
                yield np.zeros((part - early, self.channels), np.int16)
            else:
                yield np.zeros((part - early, self.channels), np.float32)

    def _now(self) -> float:
        return self.at / self.rate if self.rate else 0.0


@contextmanager
def walk(path: Path, stream: int | None = None) -> Iterator[Walk]:
    """Open one audio track (None: the one a player would take) for one pass over its samples."""
    with opened(path) as container:
        streams = list_streams(container)
        number = choose(path, container, stream)
        line = find_line(path, container, number)
    with opened(path) as container:
        source = container.streams.audio[number]
        if streams[number].codec == UNKNOWN:
            says = "Its sound is of a kind that cannot be decoded."
            raise Refusal.because("MEDIA-06", says, KINDS, Place(str(path)))
        yield Walk(path, container, source, line, streams[number], streams)


def _as_short(data: NDArray[Any]) -> NDArray[np.int16]:
    if data.dtype == np.int16:
        return data
    return np.round(_as_float(data) * 32767).astype(np.int16)


def _as_float(data: NDArray[Any]) -> NDArray[np.float32]:
    if data.dtype == np.uint8:
        return (data.astype(np.float32) - np.float32(128)) / np.float32(128)
    if data.dtype.kind == "i":
        return data.astype(np.float32) * np.float32(2.0 ** (1 - 8 * data.itemsize))
    return data.astype(np.float32, copy=False)


def _whole(pieces: list[Samples]) -> Samples:
    """The pieces as one; what is no number is silence, for one such value spoils every filter."""
    block = cast("Samples", np.concatenate(pieces))
    if block.dtype == np.int16 or np.isfinite(block).all():
        return block
    return np.nan_to_num(np.asarray(block, np.float32), nan=0.0, posinf=0.0, neginf=0.0)
