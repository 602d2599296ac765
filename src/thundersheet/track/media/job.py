"""What is to be written, checked and complete: the record between the stages of the writer."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from thundersheet.track.media.containers import Container

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

How = Literal["channel", "track", "alone"]
Side = Literal["left", "right"]
Keep = Literal["fold", "own track"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What is to be written, checked."""

    source: Path
    target: Path
    control: NDArray[np.float32]
    rate: int
    how: How
    side: Side
    keep_own: bool
    container: Container
    codec: str
    bits: int
    bit_rate: int

    @property
    def channels(self) -> int:
        """Of the track that carries the tones."""
        return 2 if self.how == "channel" else 1

    @property
    def control_channel(self) -> int:
        """Where in that track the tones are."""
        return 1 if self.how == "channel" and self.side == "right" else 0

    @property
    def programme_channel(self) -> int | None:
        """Where in that track the programme is."""
        return 1 - self.control_channel if self.how == "channel" else None
