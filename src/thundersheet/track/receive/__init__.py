"""The receiver for files: which tones a sound carries, and exactly when each begins.

In: samples of any rate from 8 to 192 kHz, one channel or several. Out: ``Heard``. It opens no
file (``track.media`` does) and knows no words; ``track.words`` does.

The way: ``band`` thins the sound out, ``looks`` measures eight frequencies every 2.5 ms,
``detect`` marks what may be a tone, ``fit`` and ``speed`` find pitch and level, ``judge`` throws
out what is none, ``ends``, ``ramps`` and ``onset`` find both ends to some
microseconds, ``trust`` asks the tones about each other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thundersheet.base.time import ZERO, Span, Time
from thundersheet.track.receive.records import Evidence, Heard, Tone

if TYPE_CHECKING:
    from thundersheet.track.receive.arrays import Samples

__all__ = ["Evidence", "Heard", "Tone", "listen"]


def listen(
    samples: Samples,
    rate: int,
    *,
    channel: int | None = None,
    shared: bool = False,
    start: Time = ZERO,
    ramp: Span | None = None,
) -> Heard:
    """Hear every tone of a sound.

    ``samples``: (n) or (n, channels), floats of full scale 1 or signed whole numbers.
    ``channel`` counts from 0; None listens on all and takes the one that carries the tones.
    ``shared`` is the strict mode, for a channel on which programme runs too. ``start`` is the
    instant of sample 0 on the timeline. ``ramp`` is the written rise, raised cosine; None finds
    it from the tones. A sound without tones gives an empty ``Heard``.
    """
    from thundersheet.track.receive.hear import hear

    return hear(samples, rate, channel, shared, start.s, None if ramp is None else ramp.s)
