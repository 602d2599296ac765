"""The air that feeds the cylinders, as far as one show needs it."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, flag, quantity


@dataclass(frozen=True, kw_only=True)
class Air(Record):
    """Pressure, temperature and height above the sea at which the show plays."""

    set_pa: float | None = quantity(
        "pressure",
        "Gauge pressure of the regulator; a device may have its own `pressure`.",
        default=None,
        low=10_000.0,
        high=1_000_000.0,
        example="60 psi",
    )
    ambient_k: float = quantity(
        "temperature",
        "How warm it is where the air is.",
        default=293.15,
        low=233.15,
        high=333.15,
        example="12 C",
    )
    altitude_m: float = quantity(
        "length", "Height above the sea.", default=0.0, low=-400.0, high=4500.0, example="250 m"
    )
    dumped: bool = flag(
        "Whether the air was dumped before the show, so that first strokes lunge.", default=False
    )
