"""The air system of a book: a tree of parts that is checked, and the plant that solvers follow.

`graph` is the tree, `pressures` what stands where, `plant` the same in SI for `physics.plant`,
`start` the state in which an evening begins.
What is wrong with it is in `checks`, which the plan asks once it knows the cues.
"""

from thundersheet.plan.plumbing.graph import Plumbing, plumbing_of
from thundersheet.plan.plumbing.plant import plant_of
from thundersheet.plan.plumbing.pressures import atmosphere, nominal_pa
from thundersheet.plan.plumbing.start import first_state, full_pa

__all__ = [
    "Plumbing",
    "atmosphere",
    "first_state",
    "full_pa",
    "nominal_pa",
    "plant_of",
    "plumbing_of",
]
