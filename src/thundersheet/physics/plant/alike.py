"""Flurries that are alike: what an earlier one came to, moved to its own time.

In come the tasks of a flurry and what feeds them, out comes a key that is the same for flurries
that no landing tells apart (by 0.01 ms), and an earlier answer. In a rush behind a regulator show
after show is alike; where the tank's own pressure is felt, no two are.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from thundersheet.physics.plant.flows import Course, Flow
from thundersheet.physics.plant.legs import FINE_K, FINE_PA, Air8, Leg
from thundersheet.physics.plant.strokes import Rest, Task

MOST_KEPT = 2000
FINE_S = 1e-7
Key = tuple[object, ...]


class Answer(NamedTuple):
    """What became of one task, times from the flurry's beginning."""

    flight: Leg | None
    legs: tuple[Flow, ...]
    lump: Flow | None
    after: Rest
    end_s: float
    gone_kg: float
    came_kg: float
    held_kg: float
    """What the piston held before: its like may hold a hair more or less, which is then booked."""


class Known(NamedTuple):
    """An answered flurry."""

    answers: tuple[Answer, ...]
    sag_pa: float
    """How far the root's pressure went down in it."""
    base_s: float
    """When it began."""
    course: Course | None
    """Of the stores, at its own time; None where the root is the only one."""


def when(at_s: float, base_s: float) -> int:
    """An instant of a flurry; far away is all the same."""
    return round(min(at_s - base_s, 1e6) / FINE_S)


def of_air(air: Air8) -> tuple[int, ...]:
    """Air to what is told apart."""
    steps = (FINE_PA, FINE_K) * 4
    return tuple(round(x / step) for x, step in zip(air, steps, strict=True))


def of_task(task: Task, base_s: float, moved: Air8 | None) -> Key:
    """A task; ``moved`` is its piston's air when its valve switches, where it stood till then."""
    first: Key = ()
    if task.before is None and task.first is not None:
        rest = task.first
        first = (rest.valve.stroke, round(rest.y_m, 8), round(rest.v_m_s, 8), of_air(rest.air))
        first = (*first, rest.still, moved and of_air(moved))
    return (
        task.device,
        task.valve.stroke,
        when(task.command_s, base_s),
        when(task.switch_s, base_s),
        when(task.limit_s, base_s),
        first,
    )


def of_flow(flow: Flow, base_s: float) -> Key:
    """A flow that an earlier flurry has left."""
    return (
        when(flow.begin_s, base_s),
        when(flow.end_s, base_s),
        round(flow.kg, 10),
        flow.device,
        flow.store,
        flow.shared,
    )


def answers_of(
    tasks: Sequence[Task], base_s: float, held_kg: Sequence[float]
) -> tuple[Answer, ...]:
    """What the tasks came to, to be used again."""
    return tuple(
        Answer(
            task.flight,
            tuple(shifted(leg, -base_s) for leg in task.legs),
            shifted(task.lump, -base_s) if task.lump else None,
            task.after._replace(at_s=task.after.at_s - base_s),
            task.end_s - base_s,
            task.gone_kg,
            task.came_kg,
            held,
        )
        for task, held in zip(tasks, held_kg, strict=True)
        if task.after is not None
    )


def answer(task: Task, known: Answer, base_s: float, held_kg: float) -> None:
    """Give a task an earlier answer."""
    task.flight = known.flight
    task.legs = [shifted(leg, base_s) for leg in known.legs]
    task.lump = shifted(known.lump, base_s) if known.lump else None
    task.after = known.after._replace(at_s=known.after.at_s + base_s)
    task.end_s = known.end_s + base_s
    task.gone_kg, task.came_kg = known.gone_kg + held_kg - known.held_kg, known.came_kg


def moved_course(known: Known, base_s: float) -> Course | None:
    """The stores' course at this flurry's time; the root's own pressure is as it was then."""
    if known.course is None:
        return None
    by_s = base_s - known.base_s
    return known.course._replace(at_s=[t + by_s for t in known.course.at_s])


def shifted(flow: Flow, by_s: float) -> Flow:
    """The same flow at another time."""
    return flow._replace(begin_s=flow.begin_s + by_s, end_s=flow.end_s + by_s)
