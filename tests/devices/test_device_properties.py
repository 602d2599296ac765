"""What holds for any device that a builder may write, not only for those of the tables."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from kinds_at_work import KINDS, device_of, example_device, lead, moves_of, setting

from thundersheet.base.time import Span
from thundersheet.devices import kind_named
from thundersheet.devices._air_parts import Cushion, Hose, LidShape, Valve
from thundersheet.devices._course import course_of, follow, ramp

CYLINDER = kind_named("air cylinder")
few = settings(
    max_examples=30,
    deadline=None,
    derandomize=True,
    phases=(Phase.explicit, Phase.generate),  # shrinking strokes takes minutes
)


def some(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


valves = st.builds(
    Valve,
    kind=st.sampled_from(["5/2", "5/3 closed", "5/3 exhausted", "5/2 two-coil"]),
    delay=st.integers(0, 100).map(Span.ms),
    opens_over=st.integers(0, 30).map(Span.ms),
    flow_m3_s_pa=some(1e-9, 1e-7),
)
cylinders = st.builds(
    CYLINDER,
    name=st.just("x"),
    on=st.just("main 1"),
    on_back=st.just("main 2"),
    bore_m=some(0.008, 0.1),
    stroke_m=some(0.01, 0.5),
    linkage=st.sampled_from(["straight", "lever"]),
    ratio=some(0.3, 4.0),
    moves_kg=some(0.0, 20.0),
    against_n=some(-50.0, 50.0),
    incline=st.sampled_from(["level", "up", "down", "30 deg"]),
    valve=valves,
    hose=st.builds(Hose, bore_m=some(0.002, 0.01), length_m=some(0.0, 8.0)),
    exhaust_restriction_m3_s_pa=st.none() | some(2e-10, 2e-8),
    supply_restriction_m3_s_pa=st.none() | some(2e-10, 2e-8),
    quick_exhaust_m3_s_pa=st.none() | some(1e-8, 1e-7),
    cushion=st.none() | st.just(Cushion(length_m=0.005)),
    breakaway_pa=some(0.0, 60_000.0),
)


@given(cylinders, st.lists(st.integers(5, 1500), min_size=2, max_size=3), some(0.3, 8.0))
@few
def test_any_cylinder_answers_in_order_and_stays_in_its_bore(
    device: object, gaps: list[int], bar: float
) -> None:
    around = setting(f"{bar:.3f} bar")
    state = device.at_rest(around)  # type: ignore[attr-defined]
    for k, gap in enumerate(gaps):
        action = ("out", "back")[k % 2]
        leads = [
            lead(device, action, land, before=state, since=Span.ms(gap), around=around)  # type: ignore[arg-type]
            for land in ("starts", "half-way", "arrives")
        ]
        last = leads[-1]
        assert all(part.span >= Span(0) for each in leads for part in each.parts)
        assert all(-1e-9 <= share <= 1 + 1e-9 for _, share in last.curve)
        assert all(a[0] < b[0] for a, b in pairwise(last.curve))
        assert last.late >= Span(0)
        if not last.never:
            totals = [each.total for each in leads]
            assert totals == sorted(totals)
        state = last.state


plain = st.builds(
    CYLINDER,
    name=st.just("x"),
    on=st.just("main 1"),
    bore_m=some(0.016, 0.05),
    stroke_m=some(0.03, 0.3),
    moves_kg=some(0.5, 4.0),
    exhaust_restriction_m3_s_pa=some(1e-9, 1e-8),
)


@given(plain, st.sampled_from(["load", "friction", "delay", "throttle"]), some(1.1, 2.0))
@few
def test_more_load_friction_delay_and_throttling_never_make_it_sooner(
    device: object, what: str, more: float
) -> None:
    from dataclasses import replace

    valve = device.valve  # type: ignore[attr-defined]
    worse = {
        "load": lambda: replace(device, moves_kg=device.moves_kg * more),  # type: ignore
        "friction": lambda: replace(device, breakaway_pa=device.breakaway_pa * more),  # type: ignore
        "delay": lambda: replace(device, valve=replace(valve, delay=valve.delay + Span.ms(5))),  # type: ignore
        "throttle": lambda: replace(
            device,  # type: ignore
            exhaust_restriction_m3_s_pa=device.exhaust_restriction_m3_s_pa / more,  # type: ignore
        ),
    }[what]()
    around = setting("4 bar")
    one, two = (lead(each, "out", around=around) for each in (device, worse))  # type: ignore[arg-type]
    if not one.never and not two.never:
        assert two.total.in_ms >= one.total.in_ms - 0.1


lids = st.builds(
    LidShape,
    hinge_to_foot_m=some(0.1, 0.5),
    hinge_to_pin_m=some(0.1, 0.5),
    angle_rad=some(0.2, 2.5),
    length_m=some(0.2, 1.0),
    rises_rad=some(-1.5, 1.5),
)


@given(lids, some(0.02, 0.3), some(0.2, 10.0))
@few
def test_any_lid_either_moves_or_says_why_not(shape: LidShape, stroke: float, kg: float) -> None:
    device = CYLINDER(
        name="x", on="main 1", bore_m=0.032, stroke_m=stroke, linkage="lid", lid=shape, moves_kg=kg
    )  # type: ignore[call-arg]
    around = setting("5 bar")
    out = lead(device, "out", around=around)
    refused = [each.code for each in device.checks(around)]
    assert refused in ([], ["AIR-04"])
    assert bool(refused) <= bool(out.never)
    if not out.never:
        assert out.curve[-1][1] == pytest.approx(1.0)
        assert out.impact is not None
        assert out.impact.speed_m_s > 0.0


@given(some(0.0, 1.0), some(0.0, 1.0), some(0.0, 3.0), some(0.0, 3.0), some(0.0, 2.0))
def test_a_lagging_value_stays_between_its_ends_and_never_turns(
    first: float, goal: float, after: float, takes: float, settles: float
) -> None:
    course = follow(ramp(first, goal, after_s=after, takes_s=takes), settles)
    values = [value for _, value in course.points]
    low, high = min(first, goal) - 1e-9, max(first, goal) + 1e-9
    assert all(low <= value <= high for value in values)
    steps = [b - a for a, b in pairwise(values)]
    assert all(step >= -1e-9 for step in steps) or all(step <= 1e-9 for step in steps)
    assert values[-1] == pytest.approx(goal, abs=1e-9)
    starts, half, ends = (course.landing(land) for land in ("starts", "half-way", "arrives"))
    assert starts <= half + 1e-9 <= ends + 2e-9


@given(st.lists(st.tuples(some(0.001, 1.0), some(0.0, 1.0)), min_size=1, max_size=8), some(0, 9))
def test_a_course_is_met_at_every_instant(steps: list[tuple[float, float]], t: float) -> None:
    now, points = 0.0, []
    for step, value in steps:
        points.append((now, value))
        now += step
    course = course_of(points)
    low, high = min(v for _, v in points), max(v for _, v in points)
    assert low - 1e-9 <= course.at(t) <= high + 1e-9


@given(st.data())
@few
def test_any_order_of_moves_at_any_time_has_a_lead(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from([k for k in KINDS if k.KIND != "air cylinder" and k.ACTIONS]))
    device, around = example_device(kind), setting()
    moves = [move for _, move in moves_of(device)]
    state = device.at_rest(around)
    for _ in range(4):
        move = data.draw(st.sampled_from(moves))
        since = data.draw(st.none() | st.integers(0, 20_000).map(Span.ms))
        action = next(each for each in device.ACTIONS if each.name == move.action)
        found = device.lead(move, action.lands[0], state, since, around)
        assert found.total >= Span(0)
        assert all(-1e-6 <= share <= 1 + 1e-6 for _, share in found.curve)
        state = found.state


def test_examples_of_air_below_any_use_do_not_hang() -> None:
    device = device_of("kind: air cylinder, bore: 12 mm, stroke: 50 mm, moves: 9 kg, on: main 1")
    weak = lead(device, "out", around=setting("100 mbar"))
    assert weak.total < Span.seconds(31)
