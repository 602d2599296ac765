"""What the picture shows of a programme, fetched from its media file through the media door.

In: a finished or unfinished media file and the plan. Out: its envelope and one still a beat.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from thundersheet.base.finding import Refusal
from thundersheet.base.time import Span, Time
from thundersheet.plan.records import Plan
from thundersheet.sheets.picture.programme import Programme, Still
from thundersheet.track.media import frames, programme_levels

STEP = Span.ms(10)
APART = Span.ms(900)
"""Stills of beats closer than this would lie on each other."""
AFTER = Span.ms(40)
"""A beat's still is taken a frame later, when its picture has certainly changed."""
STILL_WIDTH = 128


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
