"""How attacks rise: three shapes that people and programs write, and how long they take.

In: a shape and its length. Out: the envelope. Raised cosine is ours and the usual one; straight
lines come from audio editors' fades, quarter sines from equal-power fades.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from thundersheet.track.receive.arrays import Doubles


class Shape(Enum):
    """A rise."""

    COSINE = "raised cosine"
    LINEAR = "straight line"
    SINE = "quarter sine"


BEFORE_HALF = {Shape.COSINE: 1 / 2, Shape.LINEAR: 1 / 2, Shape.SINE: 1 / 3}
"""Share of its length that passes before a rise is half-way up: (1 - cos(pi x)) / 2, x and
sin(pi x / 2) are 1/2 at these."""


@dataclass(frozen=True, slots=True)
class Ramp:
    """A rise of so many seconds."""

    seconds: float
    shape: Shape = Shape.COSINE

    @property
    def before_half_s(self) -> float:
        """From the first instant to half-way up."""
        return self.seconds * BEFORE_HALF[self.shape]

    def around(self, seconds: Doubles) -> Doubles:
        """The envelope at instants counted from half-way up."""
        share = np.clip((seconds + self.before_half_s) / self.seconds, 0.0, 1.0)
        if self.shape is Shape.COSINE:
            return np.asarray(0.5 - 0.5 * np.cos(np.pi * share))
        if self.shape is Shape.LINEAR:
            return np.asarray(share)
        return np.asarray(np.sin(0.5 * np.pi * share))
