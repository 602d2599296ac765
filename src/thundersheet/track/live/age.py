"""How long a tone has sounded, from the growth of its two amplitudes.

In: the powers of the last looks. Out: an age in eighths of a sample, from the middle of the
attack to the end of the newest hop. No phase and no beat of the two tones enters; one division
a tone.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isqrt

from thundersheet.track.live import tables as t

PLATEAU = 4
"""Looks at the end that say how strong the tone is."""


def age(q: Sequence[Sequence[int]], digit: int) -> int:
    """Eighths of a sample since the middle of the attack.

    Each look is a weighted mean over four hops, so the sum of all looks since the onset, over the
    steady amplitude, is the time in hops less the mean delay of the weights, 1.5 hops:
    age = 30 (4 S / P + 1.5), S the sum, P that of the last four.
    """
    row, column = digit >> 2, 4 + (digit & 3)
    total = plateau = 0
    last = 0
    for back in range(1, min(t.KEPT, len(q)) + 1):
        look = q[-back]
        size = isqrt(look[row] << 6) + isqrt(look[column] << 6)
        if back <= PLATEAU:
            plateau += size
        # Before the attack there is noise or an earlier tone: the first rise, going back, where
        # little is left, is not ours.
        elif size > last and 2 * PLATEAU * last < plateau:
            break
        total += size
        last = size
    return 12 * t.HOP + 8 * t.HOP * PLATEAU * total // plateau
