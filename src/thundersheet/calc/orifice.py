"""What blows through a hole: a leak, a nozzle, a broken hose."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, number, quantity
from thundersheet.calc._sum import AIR_CAUTION, Result, Sum
from thundersheet.physics.forces import CHOKED_RATIO, orifice_flow
from thundersheet.physics.gas import P_ATM, scfm_of_flow, standard_litres


@dataclass(frozen=True, kw_only=True)
class Ask(Record):
    """A round hole into the open air."""

    bore_m: float = quantity("length", "Diameter of the hole.", low=1e-6, example="1/8in")
    pressure_pa: float = quantity("pressure", "Gauge pressure behind it.", example="100psi")
    discharge: float = number("Discharge coefficient; 1 is ideal.", default=1.0, low=0.1, high=1.0)
    ambient_k: float = quantity("temperature", "Of the air behind it.", default=293.15, low=200.0)
    atmosphere_pa: float = quantity(
        "pressure", "Pressure of the open air, absolute.", default=P_ATM, low=3e4
    )


def answer(ask: Ask) -> tuple[Result, ...]:
    """Choked flow through the hole (ValueError below the choked pressure)."""
    absolute = ask.pressure_pa + ask.atmosphere_pa
    if ask.atmosphere_pa / absolute > CHOKED_RATIO:
        least = ask.atmosphere_pa / CHOKED_RATIO - ask.atmosphere_pa
        raise ValueError(f"below {least / 1e5:.2f} bar the hole is not choked; use `calc valve`")
    flow = orifice_flow(ask.bore_m, absolute, ask.ambient_k, ask.discharge)
    return (
        Result("mass_flow", flow, "kg/s"),
        Result("flow", standard_litres(flow) * 60, "L/min ANR"),
        Result("flow_us", scfm_of_flow(flow), "scfm"),
        Result("in_an_hour", standard_litres(flow) * 3600, "L ANR"),
    )


SUM = Sum(
    about="What blows through a round hole: a leak, a nozzle, a broken hose.",
    asks=Ask,
    answer=answer,
    formula="W = c d A p/sqrt(T), c = sqrt(gamma/R (2/(gamma+1))^((gamma+1)/(gamma-1))) = 0.0404",
    source="ideal choked nozzle; S. A. Moss 1906 gives the same as 0.5303 A C p/sqrt(T) lb/s",
    cautions=(
        AIR_CAUTION,
        (
            "Never aim a jet at skin, eyes or ears; dead-ended cleaning nozzles are limited to "
            "30 psi (OSHA 1910.242(b), from memory)."
        ),
    ),
    example="bore=1/8in pressure=100psi",
)
