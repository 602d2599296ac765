"""One show on its air plant, ready to be changed as a draw says.

In: a book and its plan. Out: a ``Setup``, plain data: plant, commands, how full the tank may be.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from thundersheet.model.book import Book
from thundersheet.physics.plant.records import Plant, Switch
from thundersheet.plan.plumbing import first_state, plant_of
from thundersheet.plan.records import Plan
from thundersheet.rehearse.scatter.airs import root_range
from thundersheet.rehearse.stage import stage

AFTER_S = 5.0
"""So long after its last switch a show is followed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """A plant and a show's commands to it."""

    plant: Plant
    root_pa: float
    """Absolute, in the middle of what the evening has."""
    root_half_pa: float
    switches: tuple[Switch, ...]
    ends_s: float
    lands_s: Mapping[str, float]
    """By cue: where its beat is."""


def setup_of(book: Book, plan: Plan) -> Setup:
    """The show of a plan on the book's plant."""
    plant = plant_of(book)
    staged = stage(book, plan)
    state = first_state(book, plant)
    full = state.bodies[plant.bodies[0].name].pa
    high, low = root_range(book, plan) or (full, full)
    return Setup(
        plant=plant,
        root_pa=(high + low) / 2.0,
        root_half_pa=(high - low) / 2.0,
        switches=staged.switches,
        ends_s=max((each.at_s for each in staged.switches), default=0.0) + AFTER_S,
        lands_s={cue.id: cue.target.land_at.s for cue in plan.cues},
    )
