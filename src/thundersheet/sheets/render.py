"""The only part of the sheets that touches files: texts in, whole files out.

Each file is written aside and then renamed, so that a stopped run leaves the old sheet or the
new one, never half of one.
"""

from __future__ import annotations

import errno
import os
import secrets
from collections.abc import Mapping
from importlib import resources
from pathlib import Path

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place

EXPLAINS = {
    "SHEET-01": "A sheet could not be written where it was asked for. An older sheet there is "
    "untouched: each file is written aside and takes its name only when it is whole.",
}


def write_files(folder: Path, files: Mapping[str, str]) -> tuple[Path, ...]:
    """Write each text under its name in the folder, made if need be; the paths, in order.

    Raises Refusal SHEET-01 when the folder cannot be made or written to.
    """
    written = []
    path = folder
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            path = folder / name
            _write_aside(path, text.encode("utf-8"))
            written.append(path)
    except OSError as error:
        raise _why_not_written(path, error) from error
    return tuple(written)


def style() -> str:
    """The one style sheet, as package data."""
    return resources.files("thundersheet.sheets").joinpath("style.css").read_text("utf-8")


def _write_aside(path: Path, data: bytes) -> None:
    aside = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with aside.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        aside.replace(path)
    finally:
        aside.unlink(missing_ok=True)


def _why_not_written(path: Path, error: OSError) -> Refusal:
    cures = {
        errno.ENOSPC: "Make room on this disk or choose a folder on another.",
        errno.EDQUOT: "Make room on this disk or choose a folder on another.",
        errno.EACCES: "Choose a folder that this user may write to.",
        errno.EPERM: "Choose a folder that this user may write to.",
        errno.EROFS: "Choose a folder that can be written to.",
        errno.EEXIST: "A file has this name already; choose another folder.",
        errno.ENOTDIR: "A file stands where a folder was meant; choose another folder.",
        errno.EISDIR: "A folder has this name; choose another name.",
    }
    allowed = cures.get(error.errno or 0, "Choose another folder.")
    says = f"This cannot be written: {(error.strerror or str(error)).lower()}."
    return Refusal.because("SHEET-01", says, allowed, Place(str(path)))
