"""A chunk of drawn shows: the unit of work that is shared out among workers.

In: a study, a seed and the number of a chunk. Out: its shows' landing errors. No statistics here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from thundersheet.rehearse.scatter.draw import CHUNK, drawn, errors_ms
from thundersheet.rehearse.scatter.events import event_errors
from thundersheet.rehearse.scatter.study import Study

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float64]


def run_chunk(study: Study, seed: int, chunk: int, shows: int) -> Table:
    """Errors of a chunk's shows: (everything drawn or tuned, show, beat); NaN: never landed.

    Where the plant plays the shows, those with everything drawn are its own; the tuned ones are
    reckoned stroke by stroke about where the plant has them.
    """
    import numpy as np

    count = min(CHUNK, shows - chunk * CHUNK)
    z = drawn(study, seed, chunk)[:count]
    tuned = z.copy()
    tuned[:, list(study.fixed)] = 0.0
    found = np.empty((2, count, len(study.beats)))
    played = study.strokes if study.by_events else ()
    for column, beat in enumerate(study.beats):
        if column in played:
            found[1, :, column] = errors_ms(beat, tuned, study)
        else:
            both = errors_ms(beat, np.concatenate((z, tuned)), study)
            found[0, :, column], found[1, :, column] = both[:count], both[count:]
    if played:
        found[0][:, list(played)] = event_errors(study, z)
    return found


def joined(parts: Sequence[Table]) -> Table:
    """The chunks' errors in the order of the shows."""
    import numpy as np

    return np.concatenate(parts, axis=1)
