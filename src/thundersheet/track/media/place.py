"""Putting a new file in its place whole or not at all.

`new_file` gives an open file beside the target; only when everything succeeded does it take the
target's name. It never touches a source, and an older target only when asked to.
"""

from __future__ import annotations

import errno
import os
import secrets
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place

EXPLAINS = {
    "MEDIA-10": "Something of that name is there already. It is only written over when asked to, "
    "and a folder never.",
    "MEDIA-11": "The file to be written is the source itself, by name or by a link to it. The "
    "source is never written over, not even when asked to.",
    "MEDIA-12": "The disk is full, or the file would be larger than the disk or this user may "
    "store (a stick formatted as FAT takes 4 GB a file). What was begun has been removed.",
    "MEDIA-13": "The folder to write to is not there, or this user may not write to it.",
}

PREFIX, SUFFIX = ".thundersheet-", ".part"


@contextmanager
def new_file(
    target: Path, *, sources: Iterable[Path] = (), replace: bool = False
) -> Iterator[BinaryIO]:
    """An open file that becomes the target at the end; on any exception nothing is left of it.

    Refuses a target that exists (MEDIA-10; unless replaced), that is a source (MEDIA-11) or that
    cannot be written (MEDIA-12, MEDIA-13).
    """
    check_target(target, sources, replace)
    # The name is known before the file is there, so that no interrupt can come between.
    part = target.parent / f"{PREFIX}{secrets.token_hex(8)}{SUFFIX}"
    try:
        with part.open("x+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        check_target(target, sources, replace)  # it may have come into being meanwhile
        part.replace(target)
    except OSError as error:
        raise why_not_written(target, error) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    _sync_folder(target.parent)


def check_target(target: Path, sources: Iterable[Path], replace: bool) -> None:
    """Refuse a target that must not be written over."""
    place = Place(str(target))
    for source in sources:
        with suppress(OSError):
            if target.samefile(source):
                says = f"This is the source itself ({source}), which is never written over."
                raise Refusal.because("MEDIA-11", says, "Give another name to write to.", place)
    if target.is_dir():
        says = "This is a folder."
        raise Refusal.because("MEDIA-10", says, "Give the name of a file to write.", place)
    if os.path.lexists(target) and not replace:
        says = "This file exists already."
        raise Refusal.because(
            "MEDIA-10", says, "Give another name, or allow it with --replace.", place
        )


def why_not_written(target: Path, error: OSError) -> Refusal:
    """The refusal that says why the target could not be written, and that nothing is left of it."""
    place = Place(str(target))
    left = "Nothing was left half-written."
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return Refusal.because(
            "MEDIA-12", f"The disk is full. {left}",
            "Free some space or write to another disk.", place,
        )  # fmt: skip
    if error.errno == errno.EFBIG:
        return Refusal.because(
            "MEDIA-12", f"The file grows larger than this disk or user may store. {left}",
            "Write to another disk (a FAT stick holds 4 GB a file).", place,
        )  # fmt: skip
    if error.errno in (errno.ENOENT, errno.ENOTDIR):
        return Refusal.because(
            "MEDIA-13", f"There is no folder {str(target.parent)!r} to write {target.name} to.",
            "Make the folder first.", place,
        )  # fmt: skip
    why = "this user may not write there" if error.errno in (errno.EACCES, errno.EPERM) else (
        error.strerror or str(error)
    )  # fmt: skip
    return Refusal.because(
        "MEDIA-13", f"The file could not be written: {why}. {left}",
        "Write to a folder of your own.", place,
    )  # fmt: skip


def _sync_folder(folder: Path) -> None:
    """Make the new name last through a power cut, where the file system can."""
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
