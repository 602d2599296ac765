"""Plants for the tests of the coupled solver."""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi

import plant_reference as outside
from cases import plain

from thundersheet.physics.gas import P_ATM, PSI, T0, Restriction, Tube
from thundersheet.physics.plant.coupled.run import TOLERANCE, run
from thundersheet.physics.plant.records import (
    Body,
    Compressor,
    Cylinder,
    Gas,
    Jet,
    Path,
    Piston,
    Plant,
    Run,
    State,
    Switch,
)
from thundersheet.physics.stroke import Linkage, Stroke

BAR = 1e5
OTHER = {"double": "double", "air": "spring", "spring": "air"}


def back_of(stroke: Stroke) -> Stroke:
    """A plain stroke the other way, for a cylinder that is only asked for its way out."""
    return replace(
        stroke,
        extend=not stroke.extend,
        acting=OTHER[stroke.acting],
        drive_valve=stroke.drive_valve or stroke.exhaust_valve,
        exhaust_valve=stroke.exhaust_valve or stroke.drive_valve,
        cushion_m=0.0,
        cushion=None,
        quick_exhaust=None,
        linkage=Linkage(),
        vented=False,
        air=None,
        y0_m=0.0,
        v0_m_s=0.0,
    )


def alone(
    stroke: Stroke, until_s: float, *, tolerance: float = TOLERANCE, compiled: bool = True
) -> Run:
    """One stroke on an endless body, from the instant at which its valve switches."""
    plant = Plant(
        bodies=(Body(name="supply", volume_m3=1.0),),
        endless=True,
        cylinders=(Cylinder(name="a", body="supply", out=stroke, back=back_of(stroke)),),
        atmosphere_pa=stroke.atmosphere_pa,
        ambient_k=stroke.ambient_k,
    )
    state = State(
        at_s=stroke.switch_s,
        bodies={"supply": Gas(pa=stroke.supply_pa, kelvin=stroke.ambient_k)},
        pistons={"a": Piston(out_m=stroke.y0_m, v_m_s=stroke.v0_m_s, air=stroke.first_air)},
    )
    switches = [Switch(at_s=0.0, device="a", way="out")]
    return run(plant, switches, until_s, state=state, tolerance=tolerance, compiled=compiled)


VALVE = Restriction(3e-8)
FEED = Tube(4e-3, 2.0)
SET, DROP, LEAK = 5e5, 0.1e5, 2e-11


def prop(**changes: object) -> Stroke:
    """A cylinder of 40 mm, hoses of 1.2 m, meter-out."""
    stroke = Stroke(
        bore_m=0.04,
        rod_m=0.016,
        stroke_m=0.16,
        dead_drive_m3=1e-5,
        dead_exhaust_m3=1e-5,
        supply_pa=SET,
        valve_delay_s=0.02,
        valve_ramp_s=0.006,
        drive_valve=(VALVE,),
        drive_tube=Tube(4e-3, 1.2),
        exhaust_valve=(VALVE,),
        exhaust_tube=Tube(4e-3, 1.2),
        exhaust_end=(Restriction(0.8e-8),),
        rod_mass_kg=0.4,
        load_kg=6.0,
        breakaway_n=45.0,
        coulomb_n=27.0,
        viscous_n_s_m=25.0,
    )
    return replace(stroke, **changes)


LONG = prop(
    drive_tube=Tube(4.3e-3, 3.0),
    exhaust_tube=Tube(4.3e-3, 3.0),
    tube_model="node",
    bore_m=0.032,
    rod_m=0.012,
    exhaust_end=(Restriction(1.2e-8),),
    load_kg=3.0,
)


def cylinder(name: str, stroke: Stroke, body: str = "manifold", **changes: object) -> Cylinder:
    back = replace(stroke, extend=not stroke.extend)
    return replace(Cylinder(name=name, body=body, out=stroke, back=back), **changes)


def shared(*, heat_w_k: float = 2.0) -> Plant:
    """8 l, a regulator with droop and 2 m of 4 mm hose to a manifold; two cylinders and a jet."""
    manifold = Body(
        name="manifold",
        volume_m3=6e-5 + FEED.volume_m3,
        fed_by="tank",
        path=Path(parts=(VALVE,), tubes=(FEED,), set_pa=SET, drop_pa=DROP),
        heat_w_k=0.05,
    )
    return Plant(
        bodies=(
            Body(name="tank", volume_m3=8e-3, heat_w_k=heat_w_k, leak_m3_s_pa=LEAK),
            manifold,
        ),
        cylinders=(cylinder("a", prop()), cylinder("b", LONG)),
        jets=(Jet(name="jet", body="manifold", flow=Restriction(0.6e-8), delay_s=0.015),),
    )


def shared_state(tank_pa: float) -> State:
    gases = {"tank": tank_pa, "manifold": min(tank_pa - DROP, SET)}
    return State(bodies={name: Gas(pa=pa, kelvin=T0) for name, pa in gases.items()})


AT_ONCE = tuple(
    Switch(at_s=0.0, device=name, way=way)
    for name, way in (("a", "out"), ("b", "out"), ("jet", "on"))
)


def shared_outside(tank_pa: float) -> outside.Plant:
    """`shared` for the independent solution."""
    manifold_pa = min(tank_pa - DROP, SET)
    c, b = outside.row((3e-8, 0.3), outside.tube(4e-3, 2.0))
    volumes = [
        outside.Volume(8e-3, tank_pa, T0, heat=2.0, leak=LEAK),
        outside.Volume(
            *(6e-5 + pi / 4 * 4e-3**2 * 2.0, manifold_pa, T0),
            heat=0.05, fed_by=0, c=c, b=b, most=SET, drop=DROP,
        ),
    ]  # fmt: skip
    pistons = [piston(stroke, manifold_pa) for stroke in (prop(), LONG)]
    return outside.Plant(volumes, pistons, jet=(1, 0.015, 0.6e-8, 0.3))


def piston(stroke: Stroke, supply_pa: float) -> outside.Piston:
    area = pi / 4 * stroke.bore_m**2
    hose = (stroke.drive_tube.bore_m, stroke.drive_tube.length_m)
    return outside.Piston(
        on=1,
        at=0.02 + hose[1] / (1.4 * 288.0 * T0) ** 0.5,
        stroke=stroke.stroke_m,
        area_d=area,
        area_e=area - pi / 4 * stroke.rod_m**2,
        bore=stroke.bore_m,
        dead_d=1e-5,
        dead_e=1e-5,
        valve=(3e-8, 0.3),
        hose=hose,
        out=(stroke.exhaust_end[0].c_m3_s_pa, 0.3),
        node=stroke.tube_model == "node",
        mass=stroke.rod_mass_kg + stroke.load_kg,
        fs=45.0,
        fc=27.0,
        viscous=25.0,
        ramp=0.006,
        pd=P_ATM,
        pe=supply_pa,
    )


def bare_tank(
    litres: float, *, heat_w_k: float = inf, leak: float = 0.0, jet_c: float = 0.0,
    jet_b: float = 0.3, compressor: Compressor | None = None,
) -> Plant:  # fmt: skip
    """A tank with nothing on it but what is said."""
    jets = ()
    if jet_c:
        jets = (Jet(name="jet", body="tank", flow=Restriction(jet_c, jet_b), delay_s=0.0),)
    body = Body(name="tank", volume_m3=litres / 1000, heat_w_k=heat_w_k, leak_m3_s_pa=leak)
    return Plant(bodies=(body,), jets=jets, compressor=compressor)


def tank_at(bar: float, kelvin: float = T0) -> State:
    return State(bodies={"tank": Gas(pa=bar * BAR, kelvin=kelvin)})


def rush(
    gallons: float, cfm: float, *, shows: int, every_s: float, rounds: int = 2, gap_s: float = 0.5,
    cylinders: int = 8,
) -> tuple[Plant, list[Switch]]:  # fmt: skip
    """Shows of the reference model's base case: each round all cylinders go out and come back."""
    out = plain(tube_model="node")
    manifold = Body(
        name="manifold",
        volume_m3=2e-4,
        fed_by="tank",
        path=Path(
            parts=(Restriction(6e-8),),
            tubes=(Tube(8e-3, 3.0),),
            set_pa=80 * PSI + P_ATM,
            drop_pa=2 * PSI,
        ),
        heat_w_k=0.1,
    )
    plant = Plant(
        bodies=(Body(name="tank", volume_m3=gallons * 3.785411784e-3, heat_w_k=5.0), manifold),
        cylinders=tuple(cylinder(f"c{i}", out) for i in range(cylinders)),
        compressor=Compressor(
            delivers=((7e5, cfm * 28.316847e-3 / 60),),
            cut_in_pa=95 * PSI + P_ATM,
            cut_out_pa=125 * PSI + P_ATM,
        ),
    )
    round_s = min(10.0, every_s / rounds)
    switches = [
        Switch(at_s=5.0 + k * every_s + m * round_s + i * gap_s + late, device=f"c{i}", way=way)
        for k in range(shows)
        for m in range(rounds)
        for i in range(cylinders)
        for late, way in ((0.0, "out"), (round_s / 2, "back"))
    ]
    return plant, switches
