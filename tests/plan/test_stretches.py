"""Stretches of a state, found by bisection, against the plain definition of an overlap."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from thundersheet.base.time import Time
from thundersheet.plan.stretches import Held, Stretches

instants = st.integers(0, 40).map(Time)


@st.composite
def stretches(draw: st.DrawFn) -> Held:
    begins, ends, rest = sorted(draw(st.tuples(*[st.integers(0, 40)] * 3)))
    return Held(None, Time(begins), Time(rest), Time(ends))


@given(st.lists(stretches()), instants, instants)
def test_those_within_are_all_that_begin_before_its_end_and_end_after_its_beginning(
    some: list[Held], begins: Time, ends: Time
) -> None:
    expected = [held for held in some if held.begins < ends and held.ends > begins]
    found = list(Stretches(some).within(begins, ends))
    assert sorted(found, key=some.index) == sorted(expected, key=some.index)


@given(st.lists(stretches()), instants)
def test_a_stretch_holds_from_its_beginning_until_just_before_its_end(
    some: list[Held], instant: Time
) -> None:
    expected = [held for held in some if held.begins <= instant < held.ends]
    assert len(list(Stretches(some).at(instant))) == len(expected)


@given(st.lists(stretches()), instants)
def test_done_by_is_the_last_rest_of_all_that_have_begun(some: list[Held], instant: Time) -> None:
    begun = [held.way_ends for held in some if held.begins <= instant]
    assert Stretches(some).done_by(instant) == max(begun, default=None)
