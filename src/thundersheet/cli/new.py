"""`new`: write a first book to start from."""

from __future__ import annotations

import argparse
from pathlib import Path

from thundersheet.cli.say import out

ABOUT = """\
Make a folder with a first book in it: one cylinder, one lamp, one sound, with a word on every
line. It checks and plans as it stands; change it from there."""
EXAMPLE = """\
  thundersheet new my-prop
  thundersheet check my-prop"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Where."""
    parser.add_argument("folder", help="folder to make; its name becomes the show's name")


def run(args: argparse.Namespace) -> int:
    """Write the book and say what to do next."""
    from thundersheet.book.new import write_new_book

    path = write_new_book(Path(args.folder))
    out(f"Written: {path}")
    out(f"Next: look at it in an editor, then `thundersheet check {args.folder}`")
    out(f"and `thundersheet plan {args.folder}`.")
    return 0
