"""One flow rating said in the other ways, and what it passes at your pressures."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, number, quantity
from thundersheet.calc._sum import Result, Sum
from thundersheet.physics.gas import (
    P_ATM,
    Restriction,
    c_of_area,
    c_of_cv,
    c_of_kv,
    mass_flow,
    nominal_of_c,
    scfm_of_flow,
    standard_litres,
)


@dataclass(frozen=True, kw_only=True)
class Ask(Record):
    """A rated part."""

    flow_m3_s_pa: float = quantity(
        "conductance", "Its rating: Cv, Kv, C in dm3/(s bar), or nominal litres a minute.",
        low=1e-13, example="0.4Cv",
    )  # fmt: skip
    b: float = number("Its critical pressure ratio.", default=0.3, low=0.0, high=0.99)
    before_pa: float = quantity("pressure", "Gauge pressure before it.", default=6e5)
    after_pa: float = quantity("pressure", "Gauge pressure behind it.", default=5e5)
    ambient_k: float = quantity("temperature", "Of the air before it.", default=293.15, low=200.0)


def answer(ask: Ask) -> tuple[Result, ...]:
    """The same rating in every usual way."""
    part = Restriction(ask.flow_m3_s_pa, ask.b)
    flow = mass_flow(part, ask.before_pa + P_ATM, ask.after_pa + P_ATM, ask.ambient_k)
    c = ask.flow_m3_s_pa
    return (
        Result("C", c * 1e8, "dm3/(s bar)"),
        Result("Cv", c / c_of_cv(1.0)),
        Result("Kv", c / c_of_kv(1.0)),
        Result("nominal_flow", nominal_of_c(c, ask.b), "L/min ANR"),
        Result("effective_area", c / c_of_area(1e-6), "mm2"),
        Result("mass_flow", flow, "kg/s"),
        Result("flow", standard_litres(flow) * 60, "L/min ANR"),
        Result("flow_us", scfm_of_flow(flow), "scfm"),
    )


SUM = Sum(
    about="A valve's flow rating said in Cv, Kv, C, nominal flow and area, and its flow.",
    asks=Ask,
    answer=answer,
    formula=(
        "C = 4.0 dm3/(s bar) per Cv = 4.62 per Kv; Qn = 60 C 7 psi(6/7); C = 0.199 dm3/(s bar) per "
        "mm2; mdot = C rho0 p1 sqrt(T0/T1) psi(p2/p1)"
    ),
    source="ISO 6358-1; IEC 60534-2-1 (Cv for gas, xT 0.6-0.8: 3.6-4.2); ISO 8778 (ANR)",
    cautions=(
        "Makers rate by different test methods: expect +-10 % between the ways of saying it.",
    ),
    example="flow=0.4Cv before=80psi after=60psi",
)
