"""The demo's own programme: sound and picture made from a book's beats, as one MP4 file.

In: a demo book and a path. Out: H.264 picture at 25 frames a second with stereo AAC. The same book
gives the same samples and frames every time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np

from thundersheet.base.finding import Refusal
from thundersheet.demo.clock_face import ClockPainter
from thundersheet.demo.clockmaker import clockmaker_sound
from thundersheet.demo.instruments import RATE, Generator, Samples
from thundersheet.demo.lamp_room import lamp_room_sound
from thundersheet.demo.sea import HEIGHT, WIDTH, Frame, SeaPainter
from thundersheet.model.book import Book
from thundersheet.track.media.place import new_file

if TYPE_CHECKING:
    from av import AudioFrame
    from av.container import OutputContainer

Progress = Callable[[float], None]
FRAME_RATE = 25
SEED = 1908
SOUND_BIT_RATE = 112_000
# No frames that look ahead: the first one is shown at 0:00 by every player, edit list or not.
PICTURE_OPTIONS = {"preset": "veryfast", "crf": "30", "bf": "0", "g": "125", "threads": "2"}


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
    import av

    samples = make_sound(book)
    _, painter = _show(book)
    paint = painter(book, np.random.default_rng(SEED))
    path.parent.mkdir(parents=True, exist_ok=True)
    with new_file(path, replace=True) as file, av.open(file, "w", format="mp4") as container:
        _encode(container, paint, samples, book.show.length.s, progress or (lambda _share: None))
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


def _encode(
    container: OutputContainer, paint: Painter, samples: Samples, length_s: float, tell: Progress
) -> None:
    """Picture and sound in turns, a second of each, so that they lie side by side in the file."""
    import av

    picture = container.add_stream("libx264", rate=FRAME_RATE, options=PICTURE_OPTIONS)
    picture.width, picture.height, picture.pix_fmt = WIDTH, HEIGHT, "yuv420p"
    sound = container.add_stream("aac", rate=RATE, layout="stereo")
    sound.bit_rate = SOUND_BIT_RATE
    frames = round(length_s * FRAME_RATE)
    blocks = _blocks(samples)
    for index in range(frames):
        image = av.VideoFrame.from_ndarray(paint.frame(index / FRAME_RATE), format="rgb24")
        image.pts, image.time_base = index, Fraction(1, FRAME_RATE)
        container.mux(picture.encode(image))
        if index % FRAME_RATE == 0:
            block = next(blocks, None)
            if block is not None:
                container.mux(sound.encode(block))
            tell(index / frames)
    for block in blocks:
        container.mux(sound.encode(block))
    container.mux(picture.encode(None))
    container.mux(sound.encode(None))
    tell(1.0)


def _blocks(samples: Samples) -> Iterator[AudioFrame]:
    """The sound in frames of a second."""
    import av

    for first in range(0, len(samples), RATE):
        piece = np.ascontiguousarray(samples[first : first + RATE].T)
        block = av.AudioFrame.from_ndarray(piece, format="fltp", layout="stereo")
        block.sample_rate, block.pts = RATE, first
        block.time_base = Fraction(1, RATE)
        yield block
