"""What runs on a motor and draws more while it starts: fans, shakers, pumps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.base.shape import quantity
from thundersheet.devices._steps import Lag
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

    def gain(self, volts: float) -> float:
        # A motor's speed goes with its voltage as long as its load is small.
        return max(volts, 0.0)

    def draws(self, state: Lag) -> float:
        # What the turning induces holds the current back, so it falls as the speed comes up.
        standing = max(0.0, 1.0 - state.value)
        running = self.current_a + (self.starting_amps() - self.current_a) * standing
        return running * state.told * state.volts

    def starting_amps(self) -> float:
        return self.current_a if self.peak_a is None else max(self.peak_a, self.current_a)
