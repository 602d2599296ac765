"""What a leak costs a night: air, compressor time, energy."""

from __future__ import annotations

from dataclasses import dataclass, replace

from thundersheet.base.shape import number, quantity, span
from thundersheet.base.time import Span
from thundersheet.calc._plant import CAUTIONS, SOURCE, AirAsk, Asked, asked
from thundersheet.calc._sum import Result, Sum
from thundersheet.physics.plant.closed import leak_of_leak_down
from thundersheet.physics.plant.lasting import falls_to_s, leak_over


@dataclass(frozen=True, kw_only=True)
class Ask(AirAsk):
    """A leak, as a flow or as measured with all shut."""

    loses_pa: float | None = quantity(
        "pressure", "Instead of `leaks`: what the full tank lost with all shut.", default=None,
        low=1.0, high=5e6, example="0.5bar", key="loses",
    )  # fmt: skip
    within: Span | None = span("In what time it lost that.", default=None, example="10min")
    night: Span = span("How long it stands under air.", default=Span.seconds(12 * 3600.0))
    power_w: float | None = quantity(
        "power", "What the compressor draws; left out: by `specific-power`.", default=None,
        low=1.0, high=1e6, example="1.1kW", key="power",
    )  # fmt: skip
    specific_power: float = number(
        "kW for each m3 of free air a minute.", default=8.0, low=1.0, high=50.0, example="8",
        estimated="small piston compressors take 7 to 10; common practice, no source",
    )  # fmt: skip


def answer(ask: Ask) -> tuple[Result, ...]:
    """The night's loss in litres, shows, compressor minutes and kilowatt hours."""
    found = _leaky(asked(ask), ask)
    plant = found.plant
    night = leak_over(plant, ask.night.s, state=found.full)
    lost = found.free_m3(night.lost_kg)
    if ask.power_w is None:
        # What leaks has to be brought again, whenever the compressor then runs for it.
        kwh = ask.specific_power * lost * 60.0 / 3600.0 if plant.compressor else None
    else:
        kwh = ask.power_w * night.ran_s / 3.6e6 if plant.compressor else None
    empty = falls_to_s(plant, _least(found), state=found.full)
    return (
        Result("lost", 1000.0 * lost, "L free air"),
        Result("compressor_runs", night.ran_s / 60.0 if plant.compressor else None, "min"),
        Result("starts", night.starts if plant.compressor else None),
        Result("energy", kwh, "kWh"),
        Result("as_shows", lost / found.free_m3(found.kg_per_show) if found.kg_per_show else None),
        Result("alone_down_in", empty / 3600.0 if empty < float("inf") else None, "h"),
    )


def _leaky(found: Asked, ask: Ask) -> Asked:
    """With the leak as it was measured, where it was."""
    if ask.loses_pa is None and ask.within is None:
        if not any(body.leak_m3_s_pa for body in found.plant.bodies):
            raise ValueError("say the leak: `leaks=0.5l/min`, or `loses=0.5bar within=10min`")
        return found
    if ask.loses_pa is None or ask.within is None:
        raise ValueError("a measured leak has both: `loses=0.5bar within=10min`")
    if ask.leaks_m3_s is not None:
        raise ValueError("say `leaks` or `loses` and `within`, not both")
    root, *others = found.plant.bodies
    leak = leak_of_leak_down(
        sum(body.volume_m3 for body in found.plant.bodies),
        found.full_pa,
        found.full_pa - ask.loses_pa,
        ask.within.s,
        found.plant.ambient_k,
    )
    tight = (replace(body, leak_m3_s_pa=0.0) for body in others)
    bodies = (replace(root, leak_m3_s_pa=leak), *tight)
    return replace(found, plant=replace(found.plant, bodies=bodies))


def _least(found: Asked) -> float:
    """Down to where a show is weak, or to half of the gauge where nobody has said it."""
    outside = found.plant.atmosphere_pa
    return outside + (found.full_pa - outside) / 2.0 if found.least_pa is None else found.least_pa


SUM = Sum(
    about="What a leak costs a night: free air, compressor minutes, energy, and shows not played.",
    asks=Ask,
    answer=answer,
    formula=(
        "mdot = C rho0 p sqrt(T0/T); of a leak-down C = V/(R T rho0 t) ln(p1/p2); energy = power x "
        "running time, or specific power x free air lost"
    ),
    source=SOURCE,
    cautions=(
        *CAUTIONS,
        "`alone_down_in`: until `low`, compressor off; without `low`, until half of the gauge.",
    ),
    example="volume=24l high=8bar cut-in=6bar delivers=60l/min leaks=5l/min night=12h",
)
