"""Long arrays worked on piece by piece by all processors at once.

In: what to do with piece number so-and-so. Out: nothing; each piece writes to a place of its own,
so the result is the same for any number of hands. numpy lets go of Python's lock inside its
loops: worth it for pieces of some hundred microseconds, not for many small steps.
"""

from __future__ import annotations

import os
import threading
from collections import deque
from collections.abc import Callable

MOST = 4
"""More hands than this wait for memory and for Python's lock."""


def share(work: Callable[[int], object], pieces: int) -> None:
    """Call ``work`` with 0 to ``pieces - 1`` and return when all is done; raise what it raised."""
    left, trouble = deque(range(pieces)), list[BaseException]()

    def hand() -> None:
        try:
            while (piece := _next(left)) is not None and not trouble:
                work(piece)
        except BaseException as error:  # told to the caller, whoever's hand it was
            trouble.append(error)

    others = [threading.Thread(target=hand) for _ in range(min(_hands(), pieces) - 1)]
    for other in others:
        other.start()
    hand()
    for other in others:
        other.join()
    if trouble:
        raise trouble[0]


def _next(left: deque[int]) -> int | None:
    """The next piece; two hands never get the same."""
    try:
        return left.popleft()
    except IndexError:
        return None


def _hands() -> int:
    """Processors that this process may use, within reason."""
    allowed = getattr(os, "sched_getaffinity", None)
    return min(MOST, len(allowed(0)) if allowed else os.cpu_count() or 1)
