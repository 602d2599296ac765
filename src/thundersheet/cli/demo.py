"""`demo`: two whole shows of our own, from book to proved media file."""

from __future__ import annotations

import argparse
from pathlib import Path

from thundersheet.cli.say import out, progress

ABOUT = """\
Make the demo's own soundtrack and picture, plan The Lamp Room and The Clockmaker's Window, write
their cue tracks into the finished videos, prove the result, and leave everything in a folder."""
EXAMPLE = """\
  thundersheet demo
  thundersheet demo somewhere-else"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Where to."""
    parser.add_argument("folder", nargs="?", default="demo", help="folder to make (demo)")
    parser.add_argument("--replace", action="store_true", help="the folder may be there already")


def run(args: argparse.Namespace) -> int:
    """Make the demo."""
    from thundersheet.demo import run_demo

    with progress("making the demo") as tell:
        return run_demo(Path(args.folder), out, tell, replace=args.replace)
