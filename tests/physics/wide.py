"""Strokes over the whole plausible range: stiff ones, throttled ones, nearly no dead volume."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log, pi, radians
from random import Random

from cases import lid

from thundersheet.physics.gas import P_ATM, Restriction, Tube, c_of_cv
from thundersheet.physics.stroke import Linkage, Stroke


def wide_table(count: int = 560) -> dict[str, Stroke]:
    """Strokes by number, each from a seed of its own."""
    return {f"{i:03d}": anything(Random(29000 + i)) for i in range(count)}


def between(random: Random, low: float, high: float) -> float:
    """Evenly on a logarithmic scale."""
    return exp(random.uniform(log(low), log(high)))


def anything(random: Random) -> Stroke:
    """Bores 8-100 mm, strokes 5-500 mm, 1-10 bar, 0-100 kg, hoses of nothing to 10 m."""
    bore = between(random, 0.008, 0.1)
    area, gauge = pi / 4 * bore**2, random.uniform(1e5, 10e5)
    thrust = area * gauge
    fs = random.choice((0.0, 1.0, 1.0, 1.0)) * thrust * random.uniform(0.005, 0.15)
    valve = c_of_cv(between(random, 0.05, 2.0))
    parts = (Restriction(valve, random.uniform(0.1, 0.5), random.choice((0.5, 0.5, 0.6))),)
    if random.random() < 0.3:
        parts += (Restriction(valve * between(random, 0.5, 4.0), random.uniform(0.1, 0.5)),)
    throttle = (Restriction(valve * between(random, 0.01, 1.0), random.uniform(0.1, 0.5)),)
    metering = random.choice(("in", "out", "out", "none"))
    load = random.choice((0.0, 1.0, 1.0, 1.0)) * between(random, 0.05, 100.0)
    stroke = Stroke(
        bore_m=bore,
        rod_m=bore * random.uniform(0.0, 0.5),
        stroke_m=between(random, 0.005, 0.5),
        extend=random.random() < 0.6,
        dead_drive_m3=between(random, 1e-9, 5e-5),
        dead_exhaust_m3=between(random, 1e-9, 5e-5),
        supply_pa=P_ATM + gauge,
        heat_w_m2_k=random.choice((0.0, 60.0, 60.0, 200.0)),
        isothermal=random.random() < 0.1,
        valve_delay_s=random.uniform(0.0, 0.04),
        valve_ramp_s=random.choice((0.0, 0.0, 0.01)),
        drive_valve=parts,
        drive_tube=hose(random),
        drive_end=throttle if metering == "in" else (),
        exhaust_valve=parts[::-1],
        exhaust_tube=hose(random),
        exhaust_end=throttle if metering == "out" else (),
        quick_exhaust=Restriction(3 * valve, 0.3) if random.random() < 0.1 else None,
        tube_model=random.choice(("lumped", "node", "node")),
        combination="chain" if random.random() < 0.1 else "series",
        rod_mass_kg=0.02 + 200 * area * random.random(),
        load_kg=load,
        linkage=Linkage(ratio=random.choice((1.0, 1.0, 0.5, 2.0))),
        incline_rad=radians(random.choice((0, 0, 90, -90, random.uniform(-90, 90)))),
        external_n=random.choice((0.0, 0.0, 0.1)) * thrust,
        breakaway_n=fs,
        coulomb_n=fs * random.uniform(0.4, 1.0),
        viscous_n_s_m=random.choice((0.0, 10.0, 60.0)),
        vented=random.random() < 0.2,
    )
    return special(random, stroke, thrust, valve)


def hose(random: Random) -> Tube | None:
    if random.random() < 0.15:
        return None
    return Tube(random.choice((2.5e-3, 4e-3, 5.5e-3, 8e-3, 11e-3)), between(random, 0.1, 10.0))


def special(random: Random, stroke: Stroke, thrust: float, valve: float) -> Stroke:
    """For some a cushion, a spring, a side without air, or a lid."""
    lot = random.random()
    if lot < 0.2:
        cushion = Restriction(valve * between(random, 0.01, 0.3), 0.35)
        length = stroke.stroke_m * random.uniform(0.05, 0.3)
        return replace(stroke, tube_model="lumped", cushion_m=length, cushion=cushion)
    if lot < 0.35:
        push = thrust * random.uniform(0.05, 0.3)
        rate = push * random.uniform(0.0, 1.0) / stroke.stroke_m
        if lot < 0.28:
            return replace(stroke, acting="air", spring_n=push, spring_n_m=rate)
        return replace(
            stroke, acting="spring", spring_n=-push, spring_n_m=0.5 * rate, external_n=0.0
        )
    if lot > 0.94:
        return lid(random)
    return stroke
