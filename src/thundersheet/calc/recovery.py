"""How long a tank takes to come back."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import quantity
from thundersheet.calc._plant import CAUTIONS, SOURCE, AirAsk, asked
from thundersheet.calc._sum import Result, Sum
from thundersheet.physics.plant.lasting import recovery_s


@dataclass(frozen=True, kw_only=True)
class Ask(AirAsk):
    """A tank that is down."""

    from_pa: float | None = quantity(
        "pressure", "Gauge pressure at which it stands; left out: `low`.", default=None, low=0.0,
        high=5e6, example="5bar", key="from",
    )  # fmt: skip
    to_pa: float | None = quantity(
        "pressure", "Gauge pressure that it has to come to; left out: full.", default=None,
        low=0.0, high=5e6, example="8bar", key="to",
    )  # fmt: skip


def answer(ask: Ask) -> tuple[Result, ...]:
    """Seconds with the compressor running whenever its duty lets it; leaks counted."""
    found = asked(ask)
    plant, outside = found.plant, found.plant.atmosphere_pa
    if plant.compressor is None:
        raise ValueError("nothing fills this tank: write `delivers` and `cut-in`")
    low = found.least() if ask.from_pa is None else ask.from_pa + outside
    high = found.full_pa if ask.to_pa is None else ask.to_pa + outside
    if not low < high <= found.full_pa:
        raise ValueError("`from` must be below `to`, and `to` not above where it is full")
    takes = recovery_s(plant, high, state=found.at(low, running=True))
    return (
        Result("recovery", None if takes is None else takes / 60.0, "min"),
        Result("comes_back", takes is not None),
        Result("from", low - outside, "Pa", "pressure"),
        Result("to", high - outside, "Pa", "pressure"),
    )


SUM = Sum(
    about="How long a tank takes to come back, counted from when the compressor starts.",
    asks=Ask,
    answer=answer,
    formula="V dp/dt = R T (rho_inlet FAD(p) - leaks(p)); constant, t = V dP/(p_atm Q)",
    source=SOURCE,
    cautions=CAUTIONS,
    example="volume=24l high=8bar from=5bar cut-in=6bar delivers=20l/min",
)
