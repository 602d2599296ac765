"""Strokes for the tests: a plain one to vary, and a seeded table of two hundred of every sort."""

from __future__ import annotations

from dataclasses import replace
from math import acos, pi, radians
from random import Random

from thundersheet.physics.gas import P_ATM, PSI, Restriction, Tube, c_of_cv
from thundersheet.physics.stroke import Lid, Linkage, Stroke

INCH = 0.0254


def plain(**changes: object) -> Stroke:
    """The base case of the reference model's section 8, with what it leaves open filled in.

    1.5 x 6 in, 80 psi, Cv 0.75, 3 m of 4.3 mm tube, 5 kg, meter-out, valve 20 ms. Open were dead
    volume, flow control, ramp and friction: five round numbers that meet its fourteen figures.
    """
    valve = (Restriction(c_of_cv(0.75)),)
    tube = Tube(4.3e-3, 3.0)
    stroke = Stroke(
        bore_m=1.5 * INCH,
        rod_m=0.4375 * INCH,
        stroke_m=6 * INCH,
        dead_drive_m3=8e-6,
        dead_exhaust_m3=8e-6,
        supply_pa=80 * PSI + P_ATM,
        valve_delay_s=0.020,
        valve_ramp_s=0.005,
        drive_valve=valve,
        drive_tube=tube,
        exhaust_valve=valve,
        exhaust_tube=tube,
        exhaust_end=(Restriction(1.0e-8),),
        rod_mass_kg=0.0,
        load_kg=5.0,
        breakaway_n=40.0,
        coulomb_n=24.0,
        viscous_n_s_m=30.0,
    )
    return replace(stroke, **changes)


def table(count: int = 200, seed: int = 11) -> dict[str, Stroke]:
    """Strokes of every sort by name; a few of them stall or nearly so."""
    sorts = (straight, near_stall, lid, cushioned, single_acting, spring_back, part_way, ramped)
    random = Random(seed)
    return {
        f"{i:03d} {sorts[i % len(sorts)].__name__}": sorts[i % len(sorts)](random)
        for i in range(count)
    }


def straight(random: Random) -> Stroke:
    bore = random.choice((0.010, 0.016, 0.020, 0.025, 0.032, 0.040, 0.050, 0.063))
    area = pi / 4 * bore**2
    gauge = random.uniform(1.5e5, 7e5)
    stroke = random.uniform(0.025, 0.4)
    c = random.uniform(4.0, 14.0) * area / 1e-3 * 1e-8 + 0.2e-8
    tube = Tube(random.choice((2.5e-3, 4e-3, 5.5e-3, 8e-3)), random.uniform(0.2, 6.0))
    thrust = area * gauge
    fs = thrust * random.uniform(0.02, 0.15)
    flow_control = (Restriction(c * random.uniform(0.04, 0.6), random.uniform(0.1, 0.4)),)
    metering = random.choice(("in", "out", "none"))
    dead = area * random.uniform(0.004, 0.02)
    return Stroke(
        bore_m=bore,
        rod_m=bore * random.uniform(0.25, 0.5),
        stroke_m=stroke,
        extend=random.random() < 0.6,
        dead_drive_m3=dead,
        dead_exhaust_m3=dead * random.uniform(0.7, 1.5),
        supply_pa=P_ATM + gauge,
        ambient_k=random.choice((273.15, 293.15, 305.0)),
        heat_w_m2_k=random.choice((0.0, 60.0, 60.0, 200.0)),
        isothermal=random.random() < 0.15,
        valve_delay_s=random.uniform(0.005, 0.04),
        valve_ramp_s=random.choice((0.0, 0.0, 0.01)),
        drive_valve=(Restriction(c, random.uniform(0.15, 0.45)),),
        drive_tube=tube,
        drive_end=flow_control if metering == "in" else (),
        exhaust_valve=(Restriction(c, 0.3), Restriction(2 * c, 0.4)),
        exhaust_tube=tube,
        exhaust_end=flow_control if metering == "out" else (),
        quick_exhaust=Restriction(3 * c, 0.3) if random.random() < 0.12 else None,
        tube_model=random.choice(("lumped", "node")),
        rod_mass_kg=0.05 + 200 * area,
        load_kg=thrust * random.uniform(0.002, 0.04),
        linkage=Linkage(ratio=random.choice((1.0, 1.0, 1.6, 2.0))),
        incline_rad=radians(random.choice((0, 0, 0, 90, -90, 30))),
        external_n=random.choice((0.0, 0.05, 0.1)) * thrust,
        breakaway_n=fs,
        coulomb_n=0.6 * fs,
        viscous_n_s_m=random.choice((0.0, 10.0, 40.0)),
        vented=random.random() < 0.2,
    )


def near_stall(random: Random) -> Stroke:
    """Straight up with most of the thrust taken by the load."""
    stroke = replace(straight(random), vented=False, incline_rad=radians(90), external_n=0.0)
    thrust = stroke.drive_area_m2 * (stroke.supply_pa - P_ATM)
    load = (thrust * random.uniform(0.6, 0.97) - stroke.breakaway_n) / 9.80665
    return replace(stroke, load_kg=load - stroke.rod_mass_kg, linkage=Linkage())


def lid(random: Random) -> Stroke:
    """A hinged lid opened or closed by a cylinder between its hinge and its middle."""
    stroke = straight(random)
    arm = stroke.stroke_m * random.uniform(1.0, 1.6)
    base = stroke.stroke_m * random.uniform(1.4, 2.4)
    thrust = stroke.drive_area_m2 * (stroke.supply_pa - P_ATM)
    low = abs(base - arm) * 1.05 + 0.15 * stroke.stroke_m
    first = low + 0.02 * stroke.stroke_m + (0.0 if stroke.extend else stroke.stroke_m)
    first = min(first, 0.97 * (base + arm) - (stroke.stroke_m if stroke.extend else 0.0))
    angle = acos((arm**2 + base**2 - first**2) / (2 * arm * base))
    reach = arm * random.uniform(0.8, 1.6)
    mass = 0.12 * thrust * arm / reach / 9.80665
    lid = Lid(
        hinge_to_base_m=base,
        hinge_to_pin_m=arm,
        angle_rad=angle,
        offset_rad=random.uniform(-0.8, 0.2),
        inertia_kg_m2=mass * reach**2 * 1.2,
        mass_kg=mass,
        reach_m=reach,
    )
    return replace(stroke, load_kg=0.0, incline_rad=0.0, linkage=Linkage(lid=lid))


def cushioned(random: Random) -> Stroke:
    stroke = straight(random)
    cushion = Restriction(stroke.drive_valve[0].c_m3_s_pa * random.uniform(0.05, 0.3), 0.35)
    length = min(stroke.stroke_m * random.uniform(0.05, 0.3), 0.03)
    return replace(
        stroke, tube_model="lumped", cushion_m=length, cushion=cushion, quick_exhaust=None
    )


def single_acting(random: Random) -> Stroke:
    stroke = replace(straight(random), acting="air", extend=True, quick_exhaust=None)
    thrust = stroke.drive_area_m2 * (stroke.supply_pa - P_ATM)
    return replace(
        stroke, spring_n=0.08 * thrust, spring_n_m=0.15 * thrust / stroke.stroke_m, external_n=0.0
    )


def spring_back(random: Random) -> Stroke:
    stroke = replace(straight(random), acting="spring", extend=False, external_n=0.0, cushion_m=0)
    thrust = stroke.exhaust_area_m2 * (stroke.supply_pa - P_ATM)
    push = thrust * random.uniform(0.2, 0.35)
    return replace(
        stroke,
        incline_rad=0.0,
        spring_n=-push,
        spring_n_m=0.5 * push / stroke.stroke_m,
        breakaway_n=0.2 * stroke.breakaway_n,
        coulomb_n=0.1 * stroke.breakaway_n,
    )


def part_way(random: Random) -> Stroke:
    """Reversed in mid-stroke: starts part-way and still moving the wrong way."""
    stroke = straight(random)
    return replace(
        stroke,
        y0_m=stroke.stroke_m * random.uniform(0.1, 0.7),
        v0_m_s=random.choice((-0.4, -0.1, 0.0, 0.2)),
    )


def ramped(random: Random) -> Stroke:
    return replace(straight(random), valve_ramp_s=random.uniform(0.01, 0.06))
