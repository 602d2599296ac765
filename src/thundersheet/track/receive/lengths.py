"""Tones of one length: each end of a tone is a witness for the other.

In: both ends of all tones with their spreads. Out: the same, drawn together. A file's tones are
written equally long, as a rule; where their lengths scatter no more than their ends do, what a
tone's length is off from the others' is the error of its ends. It is laid on both by variance:
of a - b, known to be d, the likeliest share of a is d var(a) / (var(a) + var(b)). Codecs spoil
attack and release independently (measured: correlation within 0.1).
"""

from __future__ import annotations

import numpy as np

from thundersheet.track.receive.arrays import Doubles
from thundersheet.track.receive.groups import median

FEWEST = 10
"""Tones that a common length is taken from: its own error is then a third of a tone's."""
SAME = 2.5
"""Lengths scatter by so many times what their ends are said to: still equal. Coded sound reaches
2 (the noise is not white), tones of truly different lengths in little noise hundreds."""
STRANGE = 4.0
"""A tone this many spreads off is no error of its ends: what a coder has cut from it is gone."""
WITNESS = 2.0
"""Unless one of its ends is known within so many times what is usual in its file, nobody can say
which of them is off: AAC at 128 kb/s and less spoils both ends of some short tones."""
FARTHEST_S = 0.002


def drawn_together(
    start: Doubles, start_sd: Doubles, stop: Doubles, stop_sd: Doubles, rate: float
) -> tuple[Doubles, Doubles, Doubles]:
    """Starts, their spreads, and stops; all in samples. As they were if the lengths differ."""
    if len(start) < FEWEST:
        return start, start_sd, stop
    length, both = stop - start, np.hypot(start_sd, stop_sd)
    off = length - median(length)
    scatter, said = 1.4826 * median(np.abs(off)), median(both)
    if scatter > SAME * said:
        return start, start_sd, stop
    room = np.minimum(STRANGE * max(1.0, scatter / said) * both, FARTHEST_S * rate)
    usual = np.minimum(start_sd / median(start_sd), stop_sd / median(stop_sd))
    like = (np.abs(off) < room) & (usual < WITNESS)
    share = np.where(like, (start_sd / both) ** 2, 0.0)
    return (
        start + share * off,
        np.where(like, start_sd * stop_sd / both, start_sd),
        np.where(like, stop - (stop_sd / both) ** 2 * off, stop),
    )
