"""The plumbing as a graph: any tree is taken, whatever else is refused and says why.

Outside: rings and reachability by scipy.sparse.csgraph (scipy 1.x).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from air_parts import COMPRESSOR, aired, codes, cylinder, found, jet, part, usual
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components

from thundersheet.model.air import AirPart
from thundersheet.plan.plumbing import plumbing_of

THROUGH = ("shut-off", "filter", "regulator", "manifold", "lubricator", "dump valve", "tank")
GRAPH = {"AIR-10", "AIR-11", "AIR-12"}


@st.composite
def trees(draw: st.DrawFn) -> list[AirPart]:
    """A tank, and parts each of which hangs on one made before it; in any order in the book."""
    count = draw(st.integers(1, 12))
    made = [part("p0", "tank")]
    for i in range(1, count):
        feeds = draw(st.integers(0, i - 1))
        made.append(part(f"p{i}", draw(st.sampled_from(THROUGH)), f"p{feeds}"))
    return draw(st.permutations(made))


@st.composite
def any_parts(draw: st.DrawFn) -> list[AirPart]:
    """Parts that name any other part, or none."""
    count = draw(st.integers(2, 8))
    made = []
    for i in range(count):
        others = [f"p{k}" for k in range(count) if k != i]
        fed_by = "" if i == 0 else draw(st.sampled_from(["", *others]))
        made.append(part(f"p{i}", "tank", fed_by))
    return made


def edges_of(parts: list[AirPart]) -> csr_array:
    index = {each.name: i for i, each in enumerate(parts)}
    grid = np.zeros((len(parts), len(parts)))
    for each in parts:
        if each.fed_by:
            grid[index[each.fed_by], index[each.name]] = 1.0
    return csr_array(grid)


@given(trees())
def test_any_tree_is_taken_root_first_and_each_part_after_what_feeds_it(
    parts: list[AirPart],
) -> None:
    tree, faults = plumbing_of(aired(tuple(parts)))
    assert faults == ()
    assert tree is not None
    assert tree.root.name == "p0"
    order = list(tree.parts)
    assert sorted(order) == sorted(each.name for each in parts)
    for each in parts:
        assert not each.fed_by or order.index(each.fed_by) < order.index(each.name)
        assert tree.way_to(each.name)[-1] == each
        assert tree.way_to(each.name)[0].name == "p0"


@given(any_parts())
def test_rings_and_unfed_parts_are_just_those_that_an_outside_search_finds(
    parts: list[AirPart],
) -> None:
    edges = edges_of(parts)
    _, labels = connected_components(edges, directed=True, connection="strong")
    ringed = {parts[i].name for i in range(len(parts)) if np.count_nonzero(labels == labels[i]) > 1}
    reached = {parts[i].name for i in breadth_first_order(edges, 0, return_predecessors=False)}
    _, faults = plumbing_of(aired(tuple(parts)))
    said_ringed = {name for each in faults if each.code == "AIR-11" for name in each.about}
    said_unfed = {each.about[0] for each in faults if each.code == "AIR-10"}
    assert said_ringed == ringed
    # Parts behind a ring or behind an unfed part are not said again.
    first_unfed = {p.name for p in parts if p.name not in reached and not p.fed_by}
    assert said_unfed == first_unfed
    assert bool(faults) == (len(reached) < len(parts))


@given(trees(), st.data())
@settings(max_examples=60)
def test_one_edge_turned_back_makes_one_ring(parts: list[AirPart], data: st.DataObject) -> None:
    tree, _ = plumbing_of(aired(tuple(parts)))
    assert tree is not None
    deep = [name for name in tree.parts if len(tree.way_to(name)) > 2]
    if not deep:
        return
    last = data.draw(st.sampled_from(deep))
    way = [each.name for each in tree.way_to(last)]
    first = data.draw(st.sampled_from(way[1:-1]))
    turned = [
        part(p.name, p.kind, last) if p.name == first else part(p.name, p.kind, p.fed_by)
        for p in parts
    ]
    _, faults = plumbing_of(aired(tuple(turned)))
    (ring,) = [each for each in faults if each.code == "AIR-11"]
    assert set(ring.about) == set(way[way.index(first) :])


@given(trees(), st.data())
@settings(max_examples=60)
def test_a_device_hangs_where_it_says_and_behind_every_part_on_its_way(
    parts: list[AirPart], data: st.DataObject
) -> None:
    end = data.draw(st.sampled_from(parts)).name
    tree, _ = plumbing_of(aired(tuple(parts), cylinder(air_from=end)))
    assert tree is not None
    way = {each.name for each in tree.way_to(end)}
    assert {name for name in tree.parts if "lid" in tree.devices_behind(name)} == way


def test_a_device_that_says_nothing_hangs_on_the_only_end() -> None:
    tree, faults = plumbing_of(aired(usual(), cylinder(), jet()))
    assert tree is not None
    assert dict(tree.hangs) == {"lid": "soft", "gust": "soft"}
    assert faults == ()


def test_with_two_ends_a_device_has_to_say_which() -> None:
    left, right = part("left", "manifold", "soft"), part("right", "manifold", "soft")
    (unfed,) = [
        each for each in found(aired(usual(left, right), cylinder(), jet(air_from="left")))
        if each.code == "AIR-10"
    ]  # fmt: skip
    assert unfed.says == ("lid does not say what feeds it, and the plumbing has several ends.")
    assert "`left`, `right`" in unfed.allowed


def test_the_compressor_fills_a_tank_that_nothing_else_feeds() -> None:
    near = part("near", "tank", "soft")
    made = aired(usual(near), cylinder(), compressor=replace(COMPRESSOR, fills="near"))
    (wrong,) = found(made)
    assert wrong.code == "AIR-12"
    assert wrong.says == "The compressor fills `near`, which `soft` feeds as well."


def test_a_plumbing_begins_with_a_tank() -> None:
    first = part("filter", "filter")
    assert "AIR-12" in codes(aired((first,), cylinder()))


def test_an_end_on_which_nothing_hangs_is_noted() -> None:
    spare = part("spare", "manifold", "soft")
    used = part("used", "manifold", "soft")
    (note,) = found(aired(usual(spare, used), cylinder(air_from="used")))
    assert (note.code, note.grade, note.about) == ("AIR-13", "note", ("spare",))


def test_a_book_without_parts_has_nothing_to_say() -> None:
    made = aired(usual(), cylinder())
    assert found(replace(made, air=replace(made.air, parts=(), set_pa=2e5))) == ()
