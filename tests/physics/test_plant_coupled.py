"""The coupled solver against independent solutions of the same equations, by scipy.

One cylinder on an endless body has to be a stroke: held against the stored solutions of two tables
(DOP853, rtol 1e-10, `reference`). Several on one feed: against `plant_reference` (scipy, the same
tolerance, its own equations). The allowance is that of the reference model's section 10.
"""

from __future__ import annotations

import json

import pytest
from cases import plain, table
from plant_cases import AT_ONCE, alone, cylinder, shared, shared_outside, shared_state
from reference_store import STORED, STORED_WIDE, UNTIL_S
from test_stroke_wide import CREEPING, STEADY
from wide import wide_table

from thundersheet.physics.gas import P_ATM, PSI, T0, Restriction
from thundersheet.physics.plant.coupled.run import run
from thundersheet.physics.plant.records import Body, Gas, Path, Plant, State, Switch
from thundersheet.physics.solve import solve

KNOWN = json.loads(STORED.read_text(encoding="utf-8"))
KNOWN_WIDE = json.loads(STORED_WIDE.read_text(encoding="utf-8"))
WIDE = wide_table()


def hold(landing, known):
    for found, key in (
        (landing.start_s, "start"),
        (landing.mid_s, "mid"),
        (landing.full_s, "full"),
    ):
        assert found == (None if known[key] is None else pytest.approx(known[key], abs=1e-4)), key
    if known["full"] is not None:
        assert landing.v_impact_m_s == pytest.approx(known["speed"], rel=2e-3)
        assert landing.e_impact_j == pytest.approx(known["energy"], rel=4e-3)


@pytest.mark.parametrize(("name", "stroke"), table().items())
def test_one_cylinder_on_an_endless_body_is_a_stroke(name, stroke):
    hold(alone(stroke, UNTIL_S).landings[0], KNOWN[name])


def test_steady_strokes_of_the_whole_range_land_as_stored():
    for name in STEADY:
        hold(alone(WIDE[name], UNTIL_S).landings[0], KNOWN_WIDE[name])


def test_a_creeping_stroke_arrives_within_a_hundredth_of_its_time():
    for name in CREEPING:
        found, known = alone(WIDE[name], UNTIL_S).landings[0].full_s, KNOWN_WIDE[name]["full"]
        if known is not None and known < 0.98 * UNTIL_S:
            assert found == pytest.approx(known, rel=1e-2)


@pytest.mark.parametrize("name", [name for name in table() if KNOWN[name]["full"]][::9])
def test_air_to_the_hit_is_that_of_the_stored_solution(name):
    stroke = table()[name]
    full = alone(stroke, UNTIL_S).landings[0].full_s
    found = alone(stroke, full).landings[0].air_l
    assert found == pytest.approx(KNOWN[name]["air"], rel=5e-4, abs=1e-6)


@pytest.mark.parametrize(
    "kind", [{}, {"tube_model": "node"}, {"isothermal": True}, {"vented": True}]
)
def test_stroke_by_the_strokes_own_solver_and_the_interpreted_text_agree(kind):
    stroke = plain(**kind)
    known, compiled = solve(stroke), alone(stroke, 1.0).landings[0]
    assert compiled.full_s == pytest.approx(known.t_full_s, abs=1e-5)
    assert compiled.v_impact_m_s == pytest.approx(known.v_impact_m_s, rel=5e-4)
    interpreted = alone(stroke, 1.0, compiled=False).landings[0]
    assert interpreted.full_s == pytest.approx(compiled.full_s, abs=1e-9)
    assert interpreted.air_l == pytest.approx(compiled.air_l, rel=1e-9)


@pytest.mark.parametrize("tank_pa", [8e5, 5.2e5], ids=["full tank", "below the set pressure"])
def test_two_cylinders_and_a_jet_on_one_feed_land_as_scipy_has_it(tank_pa):
    known = shared_outside(tank_pa)
    x = known.solve(1.0)
    found = run(shared(), AT_ONCE, 1.0, state=shared_state(tank_pa))
    for landing, piston in zip(found.landings, known.pistons, strict=False):
        assert landing.start_s == pytest.approx(piston.start, abs=5e-6)
        assert landing.mid_s == pytest.approx(piston.mid, abs=5e-6)
        assert landing.full_s == pytest.approx(piston.full, abs=5e-6)
        assert landing.v_impact_m_s == pytest.approx(piston.speed, rel=1e-4)
        assert landing.air_l == pytest.approx(piston.air, rel=5e-5)
    for i, body in enumerate(("tank", "manifold")):
        pa, kelvin = known.standing(x, i)
        assert found.state.bodies[body].pa == pytest.approx(pa, rel=1e-5)
        assert found.state.bodies[body].kelvin == pytest.approx(kelvin, rel=1e-5)


def test_cylinders_through_one_regulator_slow_each_other():
    """Reference model 9.4, its base case at C = 6 dm3/(s bar): 2/4/8 add 2/9/32 ms."""
    supply, stroke = 80 * PSI + P_ATM, plain()
    feed = Path(parts=(Restriction(6e-8),), set_pa=supply)
    state = State(
        bodies={"tank": Gas(pa=supply + 2e5, kelvin=T0), "manifold": Gas(pa=supply, kelvin=T0)}
    )

    def hit(count: int) -> float:
        plant = Plant(
            bodies=(
                Body(name="tank", volume_m3=1.0),
                Body(name="manifold", volume_m3=2e-5, fed_by="tank", path=feed),
            ),
            endless=True,
            cylinders=tuple(cylinder(f"c{i}", stroke) for i in range(count)),
        )
        switches = [Switch(at_s=0.0, device=f"c{i}", way="out") for i in range(count)]
        found = run(plant, switches, 1.0, state=state).landings
        assert max(x.full_s for x in found) - min(x.full_s for x in found) < 1e-9
        return 1000 * found[0].full_s

    one = hit(1)
    assert [hit(n) - one for n in (2, 4, 8)] == pytest.approx([2.0, 9.0, 32.0], abs=2.5)
