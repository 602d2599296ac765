"""What runs on a motor and draws more while it starts: fans, shakers, pumps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.shape import quantity
from thundersheet.devices._switched import Switched


@dataclass(frozen=True, kw_only=True)
class Running(Switched):
    """A switched device with a motor."""

    WAITS: ClassVar[str] = "start"

    peak_a: float | None = quantity(
        "current",
        "Current while it starts; left out: as while it runs, so measure it where the supply is "
        "tight.",
        default=None,
        low=0.0,
        high=100.0,
        example="1.5 A",
        key="peak",
    )

    def starting_amps(self) -> float:
        return self.current_a if self.peak_a is None else max(self.peak_a, self.current_a)
