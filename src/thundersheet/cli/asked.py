"""What is typed on the command line, read once: numbers within bounds, signs, kinds of files.

In: one word. Out: the value, or one sentence that argparse or a Refusal says. No file is opened.
"""

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Callable
from pathlib import Path

from thundersheet.base.finding import Refusal

MINUS = "\u2212"
"""The real minus sign: stands for `-` where argparse would take `-1s` for an option."""

EXPLAINS = {
    "SHEET-02": "A paper's kind is told by the ending of its name, so only the endings that are "
    "listed can be written. Nothing was written.",
}


def signed(word: str) -> str:
    """The word with a minus sign in front of a number, which argparse lets pass as a value."""
    return MINUS + word[1:] if re.match(r"-[\d.]", word) else word


def whole(low: int, high: int) -> Callable[[str], int]:
    """Reads a whole number from `low` to `high`."""

    def read(word: str) -> int:
        if not (word.isascii() and word.isdigit() and low <= int(word) <= high):
            raise argparse.ArgumentTypeError(
                f"`{_typed(word)}` is no whole number from {low} to {high}"
            )
        return int(word)

    return read


def above_nought(word: str) -> float:
    """Reads a number above 0."""
    try:
        number = float(word)
    except ValueError:
        number = math.nan
    if not 0 < number < math.inf:
        raise argparse.ArgumentTypeError(f"`{_typed(word)}` is no number above 0")
    return number


def ending(name: str, allowed: tuple[str, ...]) -> str:
    """The ending of a file's name, in small letters; a Refusal when it is none of these."""
    found = Path(name).suffix.lower()
    if found not in allowed:
        kinds = " or ".join(allowed)
        raise Refusal.because(
            "SHEET-02", f"{name} does not end in {kinds}.", "Name the file so that its kind shows."
        )
    return found


def _typed(word: str) -> str:
    return word.replace(MINUS, "-")
