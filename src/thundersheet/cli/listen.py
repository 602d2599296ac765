"""`listen`: list the tones in any media file; no book needed."""

from __future__ import annotations

import argparse
from typing import Any

from thundersheet.base.time import Time, clock
from thundersheet.cli.say import out, progress, put_json, table

ABOUT = """\
List the tones in any media file. The onset is the first instant of a tone's attack on the
presentation timeline, as an honest player plays it."""
EXAMPLE = """\
  thundersheet listen show.mp4
  thundersheet listen show.mp4 --channel right --json
  thundersheet listen street.wav --shared          tones among speech and music: strict"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The media file, which channel, how strict, and how to print."""
    parser.add_argument("media", help="any file with sound: WAV, FLAC, MP3, MP4, MOV, MKV, ...")
    parser.add_argument(
        "--channel", help="left, right, or a number from 1; by default the one that carries tones"
    )
    parser.add_argument(
        "--track", type=int, help="which sound track of the file, from 1; by default the first "
        "that carries tones",
    )  # fmt: skip
    parser.add_argument(
        "--shared", action="store_true", help="the channel also carries programme: be strict"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON document instead")
