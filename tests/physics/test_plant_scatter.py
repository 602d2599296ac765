"""A plant's show many times over with changed numbers: against a plant made by hand with each."""

from dataclasses import replace

import numpy as np
import pytest
from plants import after, tank_and_manifold, there_and_back

from thundersheet.physics.gas import T0, Restriction
from thundersheet.physics.plant import evening
from thundersheet.physics.plant.scatter import scatter

MS = 1e-3


def test_scatter_is_the_run_with_those_numbers() -> None:
    plant = tank_and_manifold(2)
    sent = sorted([*there_and_back("c0", 1.0, 3.0), *there_and_back("c1", 1.05, 3.2)])
    columns = {
        "c0.load": np.array([1.8, 2.5, 1.0]),
        "c1 out.exhaust_end_flow": np.array([1.0, 0.9, 1.1]),
        "manifold.supply": np.array([3e5, 2.8e5, 3.1e5]),
        "ambient": np.array([T0, 280.0, 300.0]),
    }
    found = scatter(plant, sent, columns)
    for run in range(3):
        load, kelvin = (float(columns[name][run]) for name in ("c0.load", "ambient"))
        flow = 0.2e-8 * float(columns["c1 out.exhaust_end_flow"][run])
        made = [
            replace(
                each,
                out=replace(each.out, ambient_k=kelvin),
                back=replace(each.back, ambient_k=kelvin),
            )
            for each in plant.cylinders
        ]
        out, back = made[0].out, made[0].back
        made[0] = replace(made[0], out=replace(out, load_kg=load), back=replace(back, load_kg=load))
        slower = replace(made[1].out, exhaust_end=(Restriction(flow),))
        made[1] = replace(made[1], out=slower)
        path = plant.bodies[1].path
        assert path is not None
        path = replace(path, set_pa=float(columns["manifold.supply"][run]))
        bodies = (plant.bodies[0], replace(plant.bodies[1], path=path))
        changed = replace(plant, bodies=bodies, cylinders=tuple(made), ambient_k=kelvin)
        alone = evening.run(changed, sent, 9.0).landings
        for number, landing in enumerate(alone):
            assert found.full_s[number, run] == pytest.approx(after(landing), abs=0.1 * MS)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("nobody.load", "names no number"),
        ("c0.nothing", "is no number of a stroke"),
        ("c0.supply", "has no regulator of its own"),
    ],
)
def test_scatter_says_which_name_it_does_not_know(name: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        scatter(tank_and_manifold(1), there_and_back("c0", 1.0, 3.0), {name: np.array([1.0])})
