"""The one thing that the demuxer does not tell about MP4 and MOV: whether there is an edit list.

Walks the boxes of ISO/IEC 14496-12 by their headers; reads no sample. A broken file ends the walk.
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import BinaryIO

INTO = {b"moov", b"trak", b"edts"}
"""Boxes that hold the ones looked for."""

MOST_BOXES = 100_000
"""A file with more headers than this is broken on purpose."""


def has_edit_list(path: Path) -> bool:
    """Whether any track says what part of it is shown, and when."""
    with path.open("rb") as file:
        end = file.seek(0, 2)
        return _found(file, 0, end, [MOST_BOXES])


def _found(file: BinaryIO, at: int, end: int, left: list[int]) -> bool:
    while at + 8 <= end and left[0]:
        left[0] -= 1
        file.seek(at)
        head = file.read(16)
        size, name = struct.unpack(">I4s", head[:8])
        body = 8
        if size == 1 and len(head) == 16:
            size, body = struct.unpack(">Q", head[8:])[0], 16
        stop = end if size == 0 else at + size
        if name == b"elst" or (
            name in INTO and stop > at + body and _found(file, at + body, min(stop, end), left)
        ):
            return True
        if stop < at + body:
            return False
        at = stop
    return False
