"""What a tank gives between two pressures, how long, and how long it takes to fill."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, quantity
from thundersheet.calc._sum import AIR_CAUTION, Result, Sum
from thundersheet.physics.forces import usable_air
from thundersheet.physics.gas import CUBIC_FOOT, P_ATM


@dataclass(frozen=True, kw_only=True)
class Ask(Record):
    """A tank between its highest and lowest useful pressure."""

    volume_m3: float = quantity("volume", "Of the tank.", low=1e-6, example="20gal")
    high_pa: float = quantity("pressure", "Gauge pressure when full.", example="110psi")
    low_pa: float = quantity("pressure", "Gauge pressure when it is too low.", example="70psi")
    uses_m3_s: float | None = quantity(
        "volume flow", "Free air that is used.", default=None, low=0.0, example="2scfm"
    )
    per_show_m3: float | None = quantity(
        "volume", "Free air of one show.", default=None, low=1e-9, example="2.2l"
    )
    delivery_m3_s: float | None = quantity(
        "volume flow", "Free air that the compressor really delivers.", default=None, low=0.0
    )
    atmosphere_pa: float = quantity(
        "pressure", "Pressure of the open air, absolute.", default=P_ATM, low=3e4
    )


def answer(ask: Ask) -> tuple[Result, ...]:
    """Usable free air and what it is enough for."""
    if ask.high_pa <= ask.low_pa:
        raise ValueError("the high pressure must be above the low one")
    free = usable_air(ask.volume_m3, ask.high_pa, ask.low_pa, ask.atmosphere_pa)
    drain = (ask.uses_m3_s or 0.0) - (ask.delivery_m3_s or 0.0)
    fill = -drain if drain < 0 else None
    return (
        Result("usable", free * 1000, "L free air"),
        Result("usable_us", free / CUBIC_FOOT, "cu ft free air"),
        Result("shows", int(free / ask.per_show_m3) if ask.per_show_m3 else None),
        Result("lasts", free / drain if drain > 0 else None, "s"),
        Result("fills_in", free / fill if fill else None, "s"),
    )


SUM = Sum(
    about="What a tank gives between two pressures, for how many shows and how long.",
    asks=Ask,
    answer=answer,
    formula="free air = V (p1 - p2)/p_atm; t = V dP/(p_atm Q), isothermal",
    source="gas law; constant flows; isothermal for anything slower than about a minute",
    cautions=(
        AIR_CAUTION,
        (
            "Use the compressor's measured delivery, never its label, and count the leaks: one "
            "hissing fitting can waste more than the shows."
        ),
    ),
    example="volume=20gal high=110psi low=70psi per-show=2.2l",
)
