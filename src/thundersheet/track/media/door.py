"""Opening a media file safely: a path comes in, an open container goes out, or one clear refusal.

Only regular files and the containers named here are opened, so that a playlist or a text file
can never make the libraries fetch something else. It decodes nothing.
"""

from __future__ import annotations

import errno
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place

if TYPE_CHECKING:
    from av.container import InputContainer

READ_FORMATS = (
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,wav,w64,flac,mp3,ogg,aac,ac3,eac3,aiff,au,caf,"
    "mpegts,mpeg,avi,flv,asf,mxf,wv,dts,truehd,amr,tta,ape"
)
"""Demuxers that hold media themselves; lists and manifests, which point elsewhere, are left out."""

EXPLAINS = {
    "MEDIA-01": "There is no file of that name. Mind the folder, capital letters and the ending.",
    "MEDIA-02": "A folder, a device or a pipe was given where a media file was meant. The file is "
    "read more than once, so it cannot come through a pipe: save it first.",
    "MEDIA-03": "The file is there, but its owner does not let this user read it.",
    "MEDIA-04": "The file is there but empty: an export or a copy that did not finish.",
    "MEDIA-05": "The file's bytes are no sound or picture that can be read here: another kind of "
    "file with a wrong ending, a list that only points to media elsewhere (those are never "
    "followed), or a recording whose index was lost because it was cut short.",
    "MEDIA-06": "The file was recognised, but what is inside could not be read or decoded: it is "
    "damaged, or the disk it lies on is.",
    "MEDIA-07": "The file holds no sound, or not the audio track that was asked for.",
    "MEDIA-08": "The number of samples a second changes in the middle of the file, as in joined "
    "recordings. Times could not be trusted: export it at one rate.",
    "MEDIA-09": "A picture was asked of a file that has sound only.",
}

KINDS = "Give a media file such as MP4, MOV, MKV, M4A, WAV, FLAC, MP3, OGG or AAC."


def check_readable(path: Path) -> None:
    """Refuse what is no regular, non-empty, readable file (MEDIA-01 to MEDIA-04)."""
    try:
        found = path.stat()
        if stat.S_ISREG(found.st_mode):
            with path.open("rb"):
                pass
    except (OSError, ValueError) as error:
        raise why_not_read(path, error) from error
    if stat.S_ISDIR(found.st_mode):
        raise Refusal.because("MEDIA-02", "This is a folder, not a file.", KINDS, Place(str(path)))
    if not stat.S_ISREG(found.st_mode):
        says = "This is a device or a pipe, not a file."
        raise Refusal.because("MEDIA-02", says, KINDS, Place(str(path)))
    if found.st_size == 0:
        says = "This file is empty (0 bytes)."
        raise Refusal.because("MEDIA-04", says, "Export or copy it again.", Place(str(path)))


def why_not_read(path: Path, error: BaseException) -> Refusal:
    """The refusal that says why the file could not be opened or read."""
    place = Place(str(path))
    number = error.errno if isinstance(error, OSError) else None
    if number in (errno.ENOENT, errno.ENOTDIR, errno.ENAMETOOLONG, errno.ELOOP) or (
        isinstance(error, ValueError) and "null byte" in str(error)
    ):
        return Refusal.because(
            "MEDIA-01", "There is no such file.", "Check the name and its folder.", place
        )
    if number in (errno.EACCES, errno.EPERM):
        return Refusal.because(
            "MEDIA-03", "This user may not read the file.", "Give it read permission.", place
        )
    if number is not None and number > 0 and not _is_the_libraries_own(error):
        return Refusal.because(
            "MEDIA-06", f"The file cannot be read: {error.strerror or error}.",  # type: ignore[attr-defined]
            "Copy it to another disk or export it again.", place,
        )  # fmt: skip
    return no_media(path)


def no_media(path: Path) -> Refusal:
    """The refusal for a file whose bytes are no media, or are cut off where its index should be."""
    return Refusal.because(
        "MEDIA-05", "This is no media file that can be read, or it is cut short.", KINDS,
        Place(str(path)),
    )  # fmt: skip


@contextmanager
def opened(path: Path, **options: str) -> Iterator[InputContainer]:
    """The open container of a media file; what the libraries raise inside becomes a Refusal."""
    import av

    check_readable(path)
    safe = {"format_whitelist": READ_FORMATS, "protocol_whitelist": "file"} | options
    try:
        with av.open(
            f"file:{path.resolve()}", options=safe, metadata_errors="replace"
        ) as container:
            yield container
    except av.error.FFmpegError as error:
        raise why_not_read(path, error) from error


def _is_the_libraries_own(error: BaseException) -> bool:
    """Whether the number is a tag of the libraries (four letters) instead of the system's errno."""
    return isinstance(error, OSError) and abs(error.errno or 0) > 1 << 16
