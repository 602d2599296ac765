"""The demo's own programme: sound and picture made from a book's beats, as one MP4 file.

In: a demo book and a path. Out: H.264 picture at 25 frames a second with stereo AAC. The same book
gives the same samples and frames every time.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import numpy as np

from thundersheet.base.finding import Refusal
from thundersheet.demo.clock_face import ClockPainter
from thundersheet.demo.clockmaker import clockmaker_sound
from thundersheet.demo.instruments import RATE, Generator, Samples
from thundersheet.demo.lamp_room import lamp_room_sound
from thundersheet.demo.sea import Frame, SeaPainter
from thundersheet.model.book import Book
from thundersheet.track.media import write_programme

Progress = Callable[[float], None]
FRAME_RATE = 25
SEED = 1908


class Painter(Protocol):
    """Draws the picture at any instant."""

    def frame(self, t: float) -> Frame:
        """The picture at `t` seconds."""


EXPLAINS = {
    "DEMO-01": "The demo's sound and picture are made for its own two shows only, which it knows "
    "by their names. For a show of yours, name your own video under `show: programme`.",
}

SHOWS: dict[
    str, tuple[Callable[[Book, Generator], Samples], Callable[[Book, Generator], Painter]]
] = {
    "The Lamp Room": (lamp_room_sound, SeaPainter),
    "The Clockmaker's Window": (clockmaker_sound, lambda book, _rng: ClockPainter(book)),
}


def make_sound(book: Book) -> Samples:
    """The demo show's soundtrack, samples x 2 at 48 kHz; each hit starts on its beat's sample.

    Raises Refusal DEMO-01 for a show that is none of the demo's own.
    """
    sound, _ = _show(book)
    return sound(book, np.random.default_rng(SEED))


def make_programme(book: Book, path: Path, progress: Progress | None = None) -> Path:
    """Write the demo show's programme to `path`, whole or not at all."""
    samples = make_sound(book)
    _, painter = _show(book)
    paint = painter(book, np.random.default_rng(SEED))
    count = round(book.show.length.s * FRAME_RATE)
    pictures = (paint.frame(index / FRAME_RATE) for index in range(count))
    path.parent.mkdir(parents=True, exist_ok=True)
    write_programme(path, pictures, count, FRAME_RATE, samples, RATE, progress)
    return path


def _show(
    book: Book,
) -> tuple[Callable[[Book, Generator], Samples], Callable[[Book, Generator], Painter]]:
    found = SHOWS.get(book.show.name)
    if found is None:
        says = f"there is no demo programme for the show {book.show.name!r}."
        allowed = f"There are programmes for {' and '.join(SHOWS)}."
        raise Refusal.because("DEMO-01", says, allowed, book.origin.place)
    return found
