"""Plants for the tests of both solvers of an evening: a tank, a manifold, cylinders alike."""

from dataclasses import replace
from math import inf, nan

from thundersheet.physics.gas import Restriction, Tube
from thundersheet.physics.plant.records import (
    Body,
    Compressor,
    Cylinder,
    Gas,
    Jet,
    Landing,
    Path,
    Plant,
    State,
    Switch,
)
from thundersheet.physics.stroke import Stroke

SET_PA = 3e5


def stroke(extend: bool, **changes: object) -> Stroke:
    """A shutter's cylinder, 25 x 160 mm, meter-out, on a metre of hose."""
    numbers: dict[str, object] = {
        "bore_m": 0.025,
        "rod_m": 0.010,
        "stroke_m": 0.160,
        "extend": extend,
        "dead_drive_m3": 5e-6,
        "dead_exhaust_m3": 5e-6,
        "supply_pa": SET_PA,
        "valve_delay_s": 0.015,
        "valve_ramp_s": 0.005,
        "drive_valve": (Restriction(2e-8),),
        "drive_tube": Tube(0.0027, 1.0),
        "exhaust_valve": (Restriction(2e-8),),
        "exhaust_tube": Tube(0.0027, 1.0),
        "exhaust_end": (Restriction(0.2e-8),),
        "rod_mass_kg": 0.2,
        "load_kg": 1.8,
        "breakaway_n": 15.0,
        "coulomb_n": 9.0,
    }
    return Stroke(**(numbers | changes))  # type: ignore[arg-type]


def cylinders(count: int, body: str, **changes: object) -> tuple[Cylinder, ...]:
    """So many of them, c0, c1 ..."""
    return tuple(
        Cylinder(
            name=f"c{i}", body=body, out=stroke(True, **changes), back=stroke(False, **changes)
        )
        for i in range(count)
    )


def endless(count: int = 1, **changes: object) -> tuple[Plant, State]:
    """Cylinders on air that never ends, and that air."""
    plant = Plant(
        bodies=(Body(name="air", volume_m3=1.0),),
        cylinders=cylinders(count, "air", **changes),
        endless=True,
    )
    return plant, State(bodies={"air": Gas(pa=SET_PA, kelvin=293.15)})


def tank_and_manifold(
    count: int = 1,
    *,
    tank_m3: float = 0.024,
    near_m3: float = 0.0,
    manifold_m3: float = 28e-6,
    set_pa: float = SET_PA,
    feed: float = 4e-8,
    leak: float = 0.0,
    **changes: object,
) -> Plant:
    """Compressor, tank, regulator with droop, perhaps a tank near the valves, hose, manifold."""
    hose, droop = Tube(0.006, 1.0), (Restriction(feed),)
    tank = Body(name="tank", volume_m3=tank_m3, heat_w_k=inf, leak_m3_s_pa=leak)
    path = Path(parts=droop, tubes=(hose,), set_pa=set_pa)
    bodies = [tank]
    if near_m3:
        first = replace(path, tubes=(Tube(0.006, 3.0),))
        bodies.append(Body(name="near", volume_m3=near_m3, fed_by="tank", path=first, heat_w_k=inf))
        path = Path(tubes=(hose,))
    bodies.append(
        Body(
            name="manifold",
            volume_m3=manifold_m3,
            fed_by=bodies[-1].name,
            path=path,
            heat_w_k=inf,
        )
    )
    return Plant(
        bodies=tuple(bodies),
        cylinders=cylinders(count, "manifold", **changes),
        compressor=Compressor(delivers=((7e5, 1e-3),), cut_in_pa=7e5, cut_out_pa=9e5),
    )


def with_jet(plant: Plant, c: float = 0.5e-8) -> Plant:
    """The plant with a jet on its last body."""
    jet = Jet(name="gust", body=plant.bodies[-1].name, flow=Restriction(c), delay_s=0.015)
    return replace(plant, jets=(jet,))


def there_and_back(device: str, out_s: float, back_s: float) -> list[Switch]:
    """A stroke out and one back."""
    return [
        Switch(at_s=out_s, device=device, way="out"),
        Switch(at_s=back_s, device=device, way="back"),
    ]


def after(landing: Landing, what: str = "full_s") -> float:
    """Seconds from the command; NaN where it never came to that."""
    when = getattr(landing, what)
    return nan if when is None else when - landing.switch.at_s
