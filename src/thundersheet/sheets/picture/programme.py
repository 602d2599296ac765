"""What the picture shows of the programme: its sound as levels, a few stills. Only a record."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass

from thundersheet.base.time import Span, Time


@dataclass(frozen=True, slots=True, kw_only=True)
class Still:
    """One frame of the picture, as the bytes of a PNG or JPEG."""

    at: Time
    image: bytes

    @property
    def address(self) -> str:
        """The image inside a data address, so that the page asks nobody for it."""
        kind = "png" if self.image.startswith(b"\x89PNG") else "jpeg"
        return f"data:image/{kind};base64,{base64.b64encode(self.image).decode('ascii')}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """The sound's envelope from 0:00 on in equal steps, and stills in order of time."""

    levels: Sequence[float] = ()
    """Peak of each step, 0 to 1."""
    step: Span = Span.ms(10)
    stills: Sequence[Still] = ()

    def level(self, start: Time, end: Time) -> float:
        """The highest level between two instants; 0 where there is no sound."""
        first = max(start.ns // self.step.ns, 0)
        last = max(end.ns // self.step.ns, first)
        return max(self.levels[first : last + 1], default=0.0)


NO_PROGRAMME = Programme()
