"""How much of the time a compressor runs."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from thundersheet.calc._plant import CAUTIONS, SOURCE, AirAsk, asked
from thundersheet.calc._sum import Result, Sum
from thundersheet.physics.gas import flow_of_fad
from thundersheet.physics.plant.lasting import Cycle, cycle
from thundersheet.physics.plant.running import WINDOW_S, worst_duty


@dataclass(frozen=True, kw_only=True)
class Ask(AirAsk):
    """A compressor under its shows and leaks."""


def answer(ask: Ask) -> tuple[Result, ...]:
    """Its share of the time, its cycle, and whether it may."""
    found = asked(ask)
    compressor = found.plant.compressor
    if compressor is None:
        raise ValueError("there is no compressor: write `delivers` and `cut-in`")
    demand = found.show_kg() / found.pause_s()
    runs = cycle(found.plant, demand)
    worst = _worst(runs)
    per_m3 = flow_of_fad(1.0, found.plant.atmosphere_pa, found.plant.ambient_k)
    round_s = (runs.on_s or 0.0) + (runs.off_s or 0.0)
    return (
        Result("duty", 100.0 * runs.duty, "%"),
        Result("worst_ten_minutes", 100.0 * worst, "%"),
        Result("allowed", 100.0 * compressor.duty, "%"),
        Result("enough", worst <= compressor.duty + 1e-9 and (runs.duty < 1.0)),
        Result("on", None if runs.on_s is None else runs.on_s / 60.0, "min"),
        Result("off", None if runs.off_s is None else runs.off_s / 60.0, "min"),
        Result("starts", 3600.0 / round_s if runs.on_s and round_s else None, "1/h"),
        Result("shows_take", 60_000.0 * demand / per_m3, "L/min free air"),
    )


def _worst(runs: Cycle) -> float:
    """The largest share of any ten minutes."""
    if runs.on_s is None or runs.off_s is None:
        return runs.duty
    whole = runs.on_s + runs.off_s
    rounds = range(ceil(WINDOW_S / whole) + 2)
    return worst_duty(tuple((k * whole, k * whole + runs.on_s) for k in rounds))


SUM = Sum(
    about="How much of the time a compressor runs for its shows and leaks, and whether it may.",
    asks=Ask,
    answer=answer,
    formula="t_on/(t_on + t_off) between cut-in and cut-out, shows taken as an even flow",
    source=SOURCE,
    cautions=CAUTIONS,
    example=(
        "volume=24l high=8bar cut-in=6bar delivers=20l/min per-show=4l every=104s duty=60% "
        "leaks=0.5l/min"
    ),
)
