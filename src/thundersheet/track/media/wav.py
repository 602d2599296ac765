"""WAV files, read in place: RIFF, RF64 and BW64 with integer or float samples.

`map_wav` gives a view into the file (int16) or converted float32; a WAV that holds a packed
codec is not for this reader (None). It opens the file once and copies nothing of 16 bits.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.track.media.sound import Samples, Sound, Stream, layout_name

if TYPE_CHECKING:
    from numpy.typing import NDArray

PCM, IEEE_FLOAT, EXTENSIBLE = 1, 3, 0xFFFE
"""wFormatTag of RFC 2361; the extensible form carries the tag in the first two bytes of a GUID."""

UNKNOWN_SIZE = (0, 0xFFFFFFFF)
"""Data sizes written by recorders that could not go back to the header."""

CONVERT_AT_ONCE = 1 << 18
"""Samples converted at a time: the pieces stay in the processor's cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WavShape:
    """Where and how the samples lie in the file."""

    rate: int
    channels: int
    bits: int
    floating: bool
    offset: int
    frames: int
    missing_s: float
    """What the header promises beyond the end of the file."""


def map_wav(path: Path) -> Sound | None:
    """The sound of a WAV file, mapped into memory; None when another reader must take it."""
    with path.open("rb") as file:
        shape = read_shape(file)
    if shape is None:
        return None
    if shape.frames == 0:
        raise Refusal.because(
            "MEDIA-07", "There is no sound in this file: its data part is empty.",
            "Export it again.", Place(str(path)),
        )  # fmt: skip
    layout = layout_name(shape.channels)
    kind = "f" if shape.floating else "u" if shape.bits == 8 else "s"
    codec = f"pcm_{kind}{shape.bits}" + ("" if shape.bits == 8 else "le")
    stream = Stream(number=0, codec=codec, rate=shape.rate, channels=shape.channels, layout=layout)
    samples, faults = _finite(_samples(path, shape))
    if shape.missing_s > 0:
        faults += (f"cut short: {shape.missing_s:.3f} s of sound are missing at the end",)
    return Sound(
        samples=samples, rate=shape.rate, channels=shape.channels, layout=layout,
        start_s=0.0, priming_s=0.0, ignoring_priming_s=0.0, codec=codec, container="wav",
        streams=(stream,), faults=faults,
    )  # fmt: skip


def read_shape(file: BinaryIO) -> WavShape | None:
    """Walk the chunks; None for what is no WAV of plain samples."""
    head = file.read(12)
    if len(head) < 12 or head[:4] not in (b"RIFF", b"RF64", b"BW64") or head[8:] != b"WAVE":
        return None
    long_size, form = 0, b""
    end = file.seek(0, 2)
    at = 12
    while at + 8 <= end:
        file.seek(at)
        name, size = struct.unpack("<4sI", file.read(8))
        if name == b"ds64":
            # EBU Tech 3306: riff size, data size and sample count as 64 bits.
            long_size = int.from_bytes(file.read(16)[8:16], "little")
        elif name == b"fmt ":
            form = file.read(min(size, 40))
        elif name == b"data":
            if size == 0xFFFFFFFF and long_size:
                size = long_size
            return _shape(form, at + 8, size, end)
        at += 8 + size + (size & 1)
    return None


def _shape(form: bytes, offset: int, size: int, end: int) -> WavShape | None:
    if len(form) < 16:
        return None
    tag, channels, rate, _, align, bits = struct.unpack("<HHIIHH", form[:16])
    if tag == EXTENSIBLE and len(form) >= 26:
        tag = struct.unpack("<H", form[24:26])[0]
    width = {(PCM, 1): 8, (PCM, 2): 16, (PCM, 3): 24, (PCM, 4): 32,
             (IEEE_FLOAT, 4): 32, (IEEE_FLOAT, 8): 64}.get(
        (tag, align // channels if channels else 0)
    )  # fmt: skip
    if width is None or not rate or align % channels or not 0 < bits <= width:
        return None
    here = end - offset
    promised = here if size in UNKNOWN_SIZE else size
    frames = min(promised, here) // align
    return WavShape(
        rate=rate, channels=channels, bits=width, floating=tag == IEEE_FLOAT, offset=offset,
        frames=frames, missing_s=max(0, promised // align - frames) / rate,
    )  # fmt: skip


def _samples(path: Path, shape: WavShape) -> Samples:
    size = (shape.frames, shape.channels)
    if shape.bits == 24:
        return _from_24_bits(path, shape)
    kinds: dict[tuple[int, bool], type[Any]] = {
        (8, False): np.uint8, (16, False): np.int16, (32, False): np.int32,
        (32, True): np.float32, (64, True): np.float64,
    }  # fmt: skip
    dtype = np.dtype(kinds[shape.bits, shape.floating]).newbyteorder("<")
    raw = np.memmap(path, dtype=dtype, mode="r", offset=shape.offset, shape=size)
    if dtype in (np.int16, np.float32):
        return raw
    if shape.bits == 8:  # 8-bit WAV is unsigned, silence at 128
        return _converted(raw, 1 / 128, -1.0)
    return _converted(raw, 1.0 if shape.floating else 2.0**-31, 0.0)


def _finite(samples: Samples) -> tuple[Samples, tuple[str, ...]]:
    """The samples, with what is no number set to zero: one such value spoils every filter."""
    if samples.dtype == np.int16:
        return samples, ()
    bad = 0
    for a in range(0, len(samples), CONVERT_AT_ONCE):
        part = samples[a : a + CONVERT_AT_ONCE]
        if not np.isfinite(part).all():
            bad += int(np.count_nonzero(~np.isfinite(part)))
    if not bad:
        return samples, ()
    mended = np.nan_to_num(np.asarray(samples, np.float32), nan=0.0, posinf=0.0, neginf=0.0)
    return mended, (f"{bad} samples are no numbers and were taken as silence",)


def _converted(raw: NDArray[Any], scale: float, shift: float) -> NDArray[np.float32]:
    flat, out = raw.reshape(-1), np.empty(raw.size, np.float32)
    for a in range(0, raw.size, CONVERT_AT_ONCE):
        part = out[a : a + CONVERT_AT_ONCE]
        np.multiply(flat[a : a + CONVERT_AT_ONCE], scale, out=part, casting="unsafe")
        if shift:
            part += np.float32(shift)
    return out.reshape(raw.shape)


def _from_24_bits(path: Path, shape: WavShape) -> NDArray[np.float32]:
    """Each sample read as the upper three bytes of four; the lowest belongs to its neighbour."""
    total = shape.frames * shape.channels
    # The header is at least 44 bytes long, so one byte before the first sample always exists.
    raw = np.memmap(path, np.uint8, "r", offset=shape.offset - 1, shape=(3 * total + 1,))
    words = np.ndarray((total,), np.dtype("<i4"), raw.data, 0, (3,))
    out = np.empty(total, np.float32)
    held = np.empty(min(total, CONVERT_AT_ONCE), np.int32)
    for a in range(0, total, CONVERT_AT_ONCE):
        part = out[a : a + CONVERT_AT_ONCE]
        whole = held[: len(part)]
        np.bitwise_and(words[a : a + CONVERT_AT_ONCE], np.int32(-256), out=whole)
        np.multiply(whole, np.float32(2.0**-31), out=part)
    return out.reshape(shape.frames, shape.channels)
