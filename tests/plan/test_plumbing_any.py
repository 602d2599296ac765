"""Of any tree, with any devices on it: the plant keeps every part and hose, and checks answer."""

from __future__ import annotations

from math import inf, pi

import pytest
from air_parts import BAR, LITRE, aired, cylinder, found, jet, part
from hypothesis import given, settings
from hypothesis import strategies as st

from thundersheet.model.air import PART_KINDS, PORTS, AirPart
from thundersheet.model.book import Book
from thundersheet.physics.gas import Tube
from thundersheet.physics.plant.records import Body, Path, Plant
from thundersheet.plan.plumbing import first_state, plant_of, plumbing_of
from thundersheet.plan.plumbing.plant import FORK_M3


@st.composite
def books(draw: st.DrawFn) -> Book:
    """A tree of any kinds of part, some on hoses, with a few devices at any of them."""
    made = [part("p0", "tank")]
    for i in range(1, draw(st.integers(1, 9))):
        more: dict[str, object] = {}
        kind = draw(st.sampled_from(PART_KINDS))
        if draw(st.booleans()):
            more["hose"] = (draw(st.sampled_from([2.7, 4.0, 6.0, 8.0])), draw(st.floats(0.1, 10)))
        if kind == "tank":
            more["volume_m3"] = draw(st.floats(0.1, 50.0)) * LITRE
        elif kind == "regulator":
            more["set_pa"] = draw(st.floats(0.5, 7.0)) * BAR
        elif kind != "manifold":
            more["port"] = draw(st.sampled_from(PORTS))
        made.append(part(f"p{i}", kind, f"p{draw(st.integers(0, i - 1))}", **more))
    names = [each.name for each in made]
    devices = [
        draw(st.sampled_from([cylinder, jet]))(
            f"d{i}",
            air_from=draw(st.sampled_from(names)),
            pressure_pa=draw(st.sampled_from([None, 1.5 * BAR])),
            reachable=draw(st.booleans()),
        )
        for i in range(draw(st.integers(0, 4)))
    ]
    return aired(tuple(made), *devices)


def way_of(plant: Plant, body: str) -> list[Body]:
    """The bodies from the root to this one."""
    by_name = {each.name: each for each in plant.bodies}
    way = [by_name[body]]
    while way[-1].fed_by:
        way.append(by_name[way[-1].fed_by])
    return way[::-1]


@given(books())
@settings(max_examples=80, deadline=None)
def test_bodies_stand_root_first_and_are_fed_by_an_earlier_one(made: Book) -> None:
    plant = plant_of(made)
    names = [body.name for body in plant.bodies]
    assert len(set(names)) == len(names)
    assert (plant.bodies[0].fed_by, plant.bodies[0].path) == ("", None)
    for i, body in enumerate(plant.bodies[1:], start=1):
        assert names.index(body.fed_by) < i
        assert body.path is not None
        assert body.volume_m3 > 0.0
    for each in (*plant.cylinders, *plant.jets):
        assert each.body in names


@given(books())
@settings(max_examples=80, deadline=None)
def test_no_part_and_no_hose_on_a_devices_way_is_lost_or_counted_twice(made: Book) -> None:
    plant = plant_of(made)
    tree, _ = plumbing_of(made)
    assert tree is not None
    for each in (*plant.cylinders, *plant.jets):
        paths = [body.path for body in way_of(plant, each.body) if body.path] + [each.path]
        flows = [flow.c_m3_s_pa for path in paths for flow in path.parts]
        flows += [tube.flow.c_m3_s_pa for path in paths for tube in path.tubes]
        way = tree.way_to(tree.hangs[each.name])
        own = [p.passes_m3_s_pa for p in way if p.passes_m3_s_pa < inf]
        own += [
            Tube(p.hose.bore_m, p.hose.length_m).flow.c_m3_s_pa for p in way if p.hose is not None
        ]
        # None passes less than by itself; more only before a regulator, by the ratio of pressures.
        assert len(flows) == len(own)
        assert all(c >= e * (1 - 1e-12) for c, e in zip(sorted(flows), sorted(own), strict=True))
        if not any(p.kind == "regulator" for p in way):
            assert sorted(flows) == sorted(own)


@given(books())
@settings(max_examples=60, deadline=None)
def test_the_plant_holds_all_the_air_of_tanks_manifolds_and_hoses(made: Book) -> None:
    plant = plant_of(made)
    tree, _ = plumbing_of(made)
    assert tree is not None
    bodies = {body.name: body for body in plant.bodies}
    # A hose that leads to nothing but a part without volume and without devices is a dead end.
    kept: set[str] = set()
    for name in bodies:
        way = [each.name for each in tree.way_to(name)]
        kept |= set(way)
    volume = sum(_air(each) for each in tree.parts.values() if each.name in kept)
    forks = sum(FORK_M3 for name in bodies if not tree.parts[name].holds_m3)
    assert sum(b.volume_m3 for b in plant.bodies) == pytest.approx(volume + forks, rel=1e-9)


def _air(each: AirPart) -> float:
    hose = pi / 4 * each.hose.bore_m**2 * each.hose.length_m if each.hose is not None else 0.0
    return each.holds_m3 + hose


@given(books())
@settings(max_examples=60, deadline=None)
def test_checks_answer_whatever_the_tree_and_say_each_thing_once(made: Book) -> None:
    findings = found(made)
    assert len(set(findings)) == len(findings)
    for each in findings:
        assert each.says.endswith(".")
        assert each.allowed


@given(books())
@settings(max_examples=60, deadline=None)
def test_at_the_start_no_body_stands_higher_than_what_feeds_it_or_than_it_is_set(
    made: Book,
) -> None:
    plant = plant_of(made)
    state = first_state(made, plant)
    for body in plant.bodies[1:]:
        path = body.path
        assert isinstance(path, Path)
        stands = state.bodies[body.name].pa
        assert plant.atmosphere_pa <= stands
        assert stands <= max(min(path.set_pa, state.bodies[body.fed_by].pa), plant.atmosphere_pa)
    assert set(state.pistons) == {each.name for each in plant.cylinders}
