"""The open muxer of a new file, and its complaints as refusals. It knows no job and no track."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place

if TYPE_CHECKING:
    from av.container import OutputContainer

MOVIES = ("mp4", "mov", "ipod")
"""Muxers that write edit lists."""


@contextmanager
def output(target: Path, kind: str, rate: int, file: BinaryIO) -> Iterator[OutputContainer]:
    """The open muxer, closed with its index written, or dropped when something went wrong."""
    import av

    # The edit list counts in this unit; with the usual 1/1000 s it would round the start.
    exact = {"movie_timescale": str(rate)} if kind in MOVIES else {}
    out = av.open(file, "w", format=kind, options=exact)
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
        why = getattr(error, "strerror", None) or str(error)
        says = f"What is in {source} cannot be put into a {target.suffix} file: {why}."
        allowed = "Write to MKV, which takes most kinds of picture and sound."
        raise Refusal.because("MEDIA-15", says, allowed, Place(str(target))) from error
