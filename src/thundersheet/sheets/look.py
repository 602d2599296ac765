"""What the picture shows of a programme, fetched from its media file through the media door.

In: a finished or unfinished media file and the plan. Out: its envelope and one still a beat.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from thundersheet.base.finding import Refusal
from thundersheet.base.time import Span, Time
from thundersheet.model.book import Book
from thundersheet.plan.records import Plan
from thundersheet.sheets.picture import NO_PROGRAMME, Programme, Still, Symbols
from thundersheet.track.media import frames, programme_levels

STEP = Span.ms(10)
APART = Span.ms(900)
"""Stills of beats closer than this would lie on each other."""
AFTER = Span.ms(40)
"""A beat's still is taken a frame later, when its picture has certainly changed."""
STILL_WIDTH = 128


def programme_beside(book_path: str, book: Book, plan: Plan) -> Programme:
    """What is known of the book's own programme; nothing where it is not made yet.

    Raises Refusal where the file is there and cannot be read.
    """
    path = Path(book_path)
    media = (path if path.is_dir() else path.parent) / book.show.programme
    if not book.show.programme or not media.exists():
        return NO_PROGRAMME
    return programme_of(media, plan)


def symbols_of(book: Book) -> Symbols:
    """Each device's drawing, by its name."""
    return {device.name: device.SYMBOL for device in book.devices}


def programme_of(media: Path, plan: Plan) -> Programme:
    """Envelope and stills of a file; a file without a picture has no stills.

    Raises Refusal where the file has no sound or cannot be read.
    """
    buckets = max(plan.length.ns // STEP.ns, 1)
    levels = programme_levels(media, buckets)
    peaks = np.maximum(np.abs(levels.lows), np.abs(levels.highs))
    step = Span.seconds(levels.length_s / len(peaks))
    return Programme(levels=tuple(map(float, peaks)), step=step, stills=_stills(media, plan))


def _stills(media: Path, plan: Plan) -> tuple[Still, ...]:
    beats: list[Time] = []
    for beat in sorted({cue.target.beat_at for cue in plan.cues}):
        if not beats or beat.since(beats[-1]) >= APART:
            beats.append(beat)
    try:
        found = frames(media, [(beat + AFTER).s for beat in beats], width=STILL_WIDTH)
    except Refusal as refusal:
        if refusal.findings[0].code == "MEDIA-09":
            return ()
        raise
    return tuple(Still(at=beat, image=f.jpeg) for beat, f in zip(beats, found, strict=True))
