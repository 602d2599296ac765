"""The open muxer of a new file, and its complaints as refusals. It knows no job and no track."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place

if TYPE_CHECKING:
    from av.container import OutputContainer

OF_THE_DISK = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EROFS, errno.EACCES)
"""Errors that come from where the file is written, not from what is written."""

MOVIES = ("mp4", "mov", "ipod")
"""Muxers that write edit lists."""


@contextmanager
def output(target: Path, kind: str, rate: int, part: Path) -> Iterator[OutputContainer]:
    """The open muxer, closed with its index written, or dropped when something went wrong.

    It writes to the new file by its name: handed a Python file, it would call back into Python,
    where an interrupt gets lost and the write with it (seen with PyAV 18.1).
    """
    import av

    # The edit list counts in this unit; with the usual 1/1000 s it would round the start.
    exact = {"movie_timescale": str(rate)} if kind in MOVIES else {}
    out = av.open(f"file:{part.absolute()}", "w", format=kind, options=exact)
    try:
        yield out
    except BaseException:
        with suppress(Exception):
            out.close()
        raise
    with muxing(target, target):
        out.close()


@contextmanager
def muxing(source: Path, target: Path) -> Iterator[None]:
    """Turn the muxer's own complaints into a refusal; the disk's errors pass as they are."""
    import av

    try:
        yield
    except (av.error.FFmpegError, ValueError) as error:
        number = getattr(error, "errno", 0) or 0
        if number in OF_THE_DISK:
            raise OSError(number, os.strerror(number)) from error
        why = getattr(error, "strerror", None) or str(error)
        says = f"What is in {source} cannot be put into a {target.suffix} file: {why}."
        allowed = "Write to MKV, which takes most kinds of picture and sound."
        raise Refusal.because("MEDIA-15", says, allowed, Place(str(target))) from error
