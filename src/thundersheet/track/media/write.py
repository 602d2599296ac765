"""Writing the cue track into a copy of the programme's file.

In: the source file and the control samples from time zero. Out: a new file whose picture is the
source's bit for bit, proved by hash after writing. The source is never touched, and a target is
there whole or not at all.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.track.media.containers import LOSSY, codec_for, container_for
from thundersheet.track.media.door import check_readable, opened
from thundersheet.track.media.job import How, Job, Keep, Side
from thundersheet.track.media.mux import Muxed, flac, left_out, mux, proved
from thundersheet.track.media.place import check_target, new_file
from thundersheet.track.media.programme import CANCELS_DB, PIECE, Measured, folded, measure
from thundersheet.track.media.sink import Rounding, WavSink
from thundersheet.track.media.wavout import WavWriter

if TYPE_CHECKING:
    from numpy.typing import NDArray

LOSSY_CEILING = 10 ** (-1 / 20)
"""-1 dBFS: a decoder of coded sound overshoots the samples that went in (EBU R 128, -1 dBTP)."""

HEEDED_S = 0.05
"""Lengths that differ by less are told as equal: coders fill up their last frame, of 21 ms in AAC
at 48 kHz and of 43 ms at 24 kHz."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What was written and what had to be given up."""

    path: Path
    container: str
    codec: str
    rate: int
    stream: int
    """The audio track that carries the cue track, counted from 0."""
    channel: int
    """The channel in it, counted from 0."""
    fold_gain_db: float | None
    """What the programme was turned by on top of the fold's weights; None: it was not folded."""
    programme_s: float | None
    """None: the source has no sound."""
    control_s: float
    picture_packets: int
    """Packets of the picture, the same in source and target."""
    picture_sha256: str
    """Of all those packets in order; empty where there is no picture."""
    dropped: tuple[str, ...]
    """What of the source is not in the target: `subtitle (subrip)`."""
    notes: tuple[str, ...]
    """Sentences for the user."""


def write_control(
    source: Path | str,
    target: Path | str,
    control: NDArray[np.float32],
    rate: int,
    *,
    how: How = "channel",
    side: Side = "right",
    keep_programme: Keep | None = None,
    codec: str | None = None,
    bits: Literal[16, 24] = 16,
    bit_rate: int = 192_000,
    replace: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Written:
    """Write a copy of the source in which the control samples are heard from time zero on.

    `channel`: the first audio track is stereo, the tones on `side`, the programme folded to the
    other; with `own track` the source's audio tracks follow untouched. `track`: the source's
    audio tracks stay untouched and the tones get a mono track of their own, the last. `alone`:
    the tones are the only sound. The file's kind follows the target's name; `codec` None takes
    its usual one.
    """
    source, target = Path(source), Path(target)
    _check_control(control)
    check_readable(source)
    check_target(target, (source,), replace)
    container = container_for(target)
    job = Job(
        source=source, target=target, control=control, rate=rate, how=how, side=side,
        keep_own=how == "track" or keep_programme == "own track", container=container,
        codec=codec_for(target, container, codec, rate), bits=bits, bit_rate=bit_rate,
    )  # fmt: skip
    _check_tracks(job, keep_programme)
    tell = progress or (lambda _: None)
    programme = _measured(job)
    gain = _gain(job, programme)
    with new_file(target, sources=(source,), replace=replace) as file:
        if container.many or container.format == "flac":
            muxed = mux(job, Path(file.name), _blocks(job, programme, gain, tell))
            proved(job, Path(file.name), muxed)
        else:
            writer = WavWriter(file, rate, job.channels, bits)
            sink = WavSink(writer, Rounding(bits, job.programme_channel))
            for block in _blocks(job, programme, gain, tell):
                sink.write(block)
            sink.close()
            muxed = Muxed(dropped=left_out(job))
    tell(1.0)
    return _written(job, programme, gain, muxed)


def _check_control(control: NDArray[np.float32]) -> None:
    if control.ndim != 1 or not len(control):
        raise ValueError("the control samples must be one channel and not empty")
    if not np.isfinite(control).all() or np.abs(control).max() > 1:
        raise ValueError("the control samples must be finite and within full scale")


def _check_tracks(job: Job, keep: Keep | None) -> None:
    place = Place(str(job.target))
    if job.how == "track" and keep == "fold":
        raise Refusal.because(
            "MEDIA-14", "A cue track on its own track leaves the programme as it is.",
            "Leave out the fold, or put the cue track on a channel.", place,
        )  # fmt: skip
    if job.keep_own and not job.container.many:
        raise Refusal.because(
            "MEDIA-14", f"A {job.target.suffix} file holds one audio track only.",
            "Write MP4, MOV or MKV, or put the cue track on a channel.", place,
        )  # fmt: skip


def _measured(job: Job) -> Measured | None:
    """The pass over the programme; None where the source has no sound or it is not folded."""
    if job.how != "channel" or not _has_sound(job.source):
        return None
    return measure(job.source, job.rate)


def _has_sound(path: Path) -> bool:
    with opened(path) as container:
        return bool(container.streams.audio)


def _gain(job: Job, programme: Measured | None) -> float:
    """1, or less where the fold would clip."""
    ceiling = LOSSY_CEILING if job.codec in LOSSY else 1.0
    return min(1.0, ceiling / programme.peak) if programme and programme.peak else 1.0


def _blocks(
    job: Job, programme: Measured | None, gain: float, tell: Callable[[float], None]
) -> Iterator[NDArray[np.float32]]:
    """The new track in pieces, samples x channels, until both programme and tones have ended."""
    control, at = job.control, 0
    total = max(len(control), programme.samples if programme else 0)
    if programme is not None:
        for piece in folded(job.source, job.rate, gain):
            yield _joined(job, piece, at)
            at += len(piece)
            tell(0.9 * min(1.0, at / total))
    while at < len(control):
        count = min(PIECE, len(control) - at)
        yield _joined(job, np.zeros(count, np.float32), at)
        at += count
        tell(0.9 * at / total)


def _joined(job: Job, programme: NDArray[np.float32], at: int) -> NDArray[np.float32]:
    block = np.zeros((len(programme), job.channels), np.float32)
    tones = job.control[at : at + len(programme)]
    block[: len(tones), job.control_channel] = tones
    if job.programme_channel is not None:
        block[:, job.programme_channel] = programme
    return block


def _written(job: Job, programme: Measured | None, gain: float, muxed: Muxed) -> Written:
    control_s = len(job.control) / job.rate
    return Written(
        path=job.target, container=job.container.format, codec=job.codec, rate=job.rate,
        stream=muxed.stream, channel=job.control_channel,
        fold_gain_db=20 * math.log10(gain) if programme else None,
        programme_s=programme.samples / job.rate if programme else muxed.sound_s,
        control_s=control_s, picture_packets=muxed.picture_packets,
        picture_sha256=muxed.picture_sha256, dropped=muxed.dropped,
        notes=(*_notes(job, programme, gain, control_s), *muxed.notes),
    )  # fmt: skip


def _notes(job: Job, programme: Measured | None, gain: float, control_s: float) -> Iterator[str]:
    if job.codec == "aac" and job.container.format == "matroska":
        yield "many players let the first 21 ms of AAC in MKV be heard: FLAC or PCM has none there"
    if job.how == "channel" and programme is None:
        yield "the source has no sound: the other channel is silent"
    if programme is None:
        return
    if programme.layout != "mono":
        yield f"the programme ({programme.layout}) is folded to one channel after ITU-R BS.775"
    if gain < 1:
        yield f"the programme is {-20 * math.log10(gain):.1f} dB softer, or its fold would clip"
    if programme.cancelled_db > CANCELS_DB:
        yield (
            "the programme's channels cancel each other when folded:"
            f" {programme.cancelled_db:.0f} dB are lost"
        )
    if programme.rate != job.rate:
        yield f"the programme is resampled from {programme.rate} to {job.rate} samples a second"
    over_s = programme.samples / job.rate - control_s
    if over_s > HEEDED_S:
        yield f"the cue track ends {over_s:.3f} s before the programme's sound"
    elif over_s < -HEEDED_S:
        yield f"the programme's sound ends {-over_s:.3f} s before the cue track"
    yield from (f"in the programme: {fault}" for fault in programme.faults)


def write_sound(
    path: Path | str,
    samples: NDArray[np.float32],
    rate: int,
    *,
    bits: Literal[16, 24] = 16,
    replace: bool = False,
) -> None:
    """Write samples (one channel, or samples x channels) to a WAV or FLAC file.

    Rounded to the nearest step without dither: cue tones are far above the last bit, and silence
    between them stays digital silence.
    """
    path = Path(path)
    block = samples[:, None] if samples.ndim == 1 else samples
    container = container_for(path)
    if container.many or block.shape[1] > 2:
        raise Refusal.because(
            "MEDIA-14", "Plain sound of one or two channels is written to WAV or FLAC.",
            "Allowed: .wav, .flac.", Place(str(path)),
        )  # fmt: skip
    with new_file(path, replace=replace) as file:
        if container.format == "wav":
            sink = WavSink(WavWriter(file, rate, block.shape[1], bits), Rounding(bits, None))
            for begin in range(0, len(block), PIECE):
                sink.write(block[begin : begin + PIECE])
            sink.close()
        else:
            flac(path, Path(file.name), block, rate, bits)
