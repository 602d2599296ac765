"""A whole plant integrated together from its first state to the end of a run.

In come a plant, the commands to its devices and how long; out come their landings, the last state
and the accounts (`records.Run`). Nothing is taken out of the integration and nothing is quasi-
steady: bodies, hoses as nodes, chambers and pistons are one state. Commands that have not taken
effect when the run ends are not handed on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from thundersheet.physics.bulk import quiet
from thundersheet.physics.plant.coupled.course import Course
from thundersheet.physics.plant.coupled.valves import turns_of
from thundersheet.physics.plant.records import Plant, Run, Series, State, Switch

TOLERANCE = 1e-5
"""Error of one step as a share of the state while something moves."""


def nothing(_: Any) -> None:
    """Take no notice."""


def run(
    plant: Plant,
    switches: Sequence[Switch],
    until_s: float,
    *,
    state: State | None = None,
    grid_s: float | None = None,
    say: Callable[[str], None] = quiet,
    progress: Callable[[float], None] = nothing,
    keep: Callable[[Series], None] | None = None,
    tolerance: float = TOLERANCE,
    compiled: bool = True,
) -> Run:
    """The plant from ``state`` (None: full and at rest) until ``until_s``.

    ``grid_s`` asks for samples at every so many seconds; ``keep`` gets them piece by piece, and
    the run then holds none. ``progress`` is told the share of the time that is done, some times a
    second; what it raises ends the run. ``compiled`` False interprets the same text, slowly.
    """
    course = Course(plant, switches, state, grid_s, keep, tolerance, say, compiled)
    begin_s = course.now_s
    if until_s < begin_s:
        raise ValueError(f"a run from {begin_s:g} s can't end at {until_s:g} s")
    turns = turns_of(plant, course.rows.ways, switches, begin_s)
    for turn in turns:
        if turn.at_s > until_s:
            break
        course.go_to(turn.at_s, lambda at_s: progress((at_s - begin_s) / (until_s - begin_s)))
        course.turn(turn)
    course.go_to(until_s, lambda at_s: progress((at_s - begin_s) / max(until_s - begin_s, 1e-9)))
    return course.finish()
