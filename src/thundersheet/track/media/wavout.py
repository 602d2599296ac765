"""Writing WAV: a header whose sizes are set at the end, RF64 where 4 GB do not suffice.

Samples come as floats and leave as 16 or 24 bit integers, the plain kind that every player reads.
"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

HEADER = 80
"""RIFF (12) + JUNK or ds64 (8 + 28) + fmt (8 + 16) + data (8)."""


class WavWriter:
    """An open WAV file that takes blocks of whole numbers."""

    def __init__(self, file: BinaryIO, rate: int, channels: int, bits: int) -> None:
        self.file, self.rate, self.channels, self.bits = file, rate, channels, bits
        self.bytes = 0
        file.write(bytes(HEADER))

    def write(self, block: NDArray[np.int32]) -> None:
        """Append samples x channels."""
        data = packed(block, self.bits)
        self.file.write(data)
        self.bytes += len(data)

    def close(self) -> None:
        """Pad to an even length and write the header; the file itself stays open."""
        if self.bytes % 2:
            self.file.write(b"\0")
        self.file.seek(0)
        self.file.write(header(self.bytes, self.rate, self.channels, self.bits))
        self.file.seek(0, 2)


def packed(block: NDArray[np.int32], bits: int) -> bytes:
    """The samples as they lie in the file, low byte first."""
    if bits == 16:
        return block.astype("<i2").tobytes()
    return np.ascontiguousarray(block, "<i4").view(np.uint8).reshape(-1, 4)[:, :3].tobytes()


def header(size: int, rate: int, channels: int, bits: int) -> bytes:
    """The first 80 bytes. A reserved JUNK chunk becomes ds64 beyond 4 GB (EBU Tech 3306)."""
    align = channels * bits // 8
    riff = HEADER - 8 + size + size % 2
    long = riff > 0xFFFFFFFE
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, channels, rate, rate * align, align, bits)
    spare = struct.pack("<QQQI", riff, size, size // align, 0) if long else bytes(28)
    return b"".join((
        struct.pack("<4sI4s", b"RF64" if long else b"RIFF", 0xFFFFFFFF if long else riff, b"WAVE"),
        struct.pack("<4sI", b"ds64" if long else b"JUNK", 28), spare, form,
        struct.pack("<4sI", b"data", 0xFFFFFFFF if long else size),
    ))  # fmt: skip
