"""How each kind moves step by step: exact however long the step, and as its leads say."""

from __future__ import annotations

from math import exp, isclose, log, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rehearsal_parts import (
    IDS,
    KINDS,
    ON_AIR,
    SETTING,
    device_of,
    example_book,
    example_device,
    moves_of,
    played,
    rows,
    wires_of,
)
from scipy.integrate import solve_ivp

from thundersheet.base.time import Span
from thundersheet.model.device import Device, Move, Wire
from thundersheet.plan.plan import make_plan
from thundersheet.rehearse.motion import follow
from thundersheet.rehearse.wires import told_by

each_kind = pytest.mark.parametrize("kind", KINDS, ids=IDS)
by_itself = pytest.mark.parametrize(
    "kind", [kind for kind in KINDS if kind.KIND not in ON_AIR], ids=lambda kind: kind.KIND
)
HALF_WAY = log(2.0 * 0.525) / -log(0.525)
"""A lead spreads the 5 % that a lag never quite gets to over its way, so its middle lies at 47.5 %
of the true rise: ln 2 of a time constant against ln(1/0.525)."""
EXACT = {
    "servo", "needle gauge", "solenoid hammer", "relay", "gear motor", "media player", "screen",
}  # fmt: skip
"""Kinds without a lag."""
ROUGH_S = {"bar gauge": 2.1e-3}
"""Where a lead draws a lag as a straight line, and a fade without one: the bar's own 2 ms."""
DEVICES = {kind.KIND: example_device(kind) for kind in KINDS}


def seconds(ms: int) -> float:
    return ms / 1000.0


def near(one: object, two: object) -> bool:
    """Whether two states are the same but for rounding."""
    names = getattr(type(one), "__slots__", None)
    if names is None:
        if isinstance(one, tuple):
            return len(one) == len(two) and all(map(near, one, two))
        if isinstance(one, float):
            return isclose(one, two, rel_tol=1e-9, abs_tol=1e-9)
        return one == two
    return all(near(getattr(one, name), getattr(two, name)) for name in names)


@each_kind
@settings(max_examples=25, deadline=None)
@given(
    before=st.lists(
        st.tuples(
            st.sampled_from([0.0, 0.3, 1.0]),
            st.sampled_from([0.0, 0.5, 1.0]),
            st.sampled_from([0.0, 0.7]),
            st.integers(0, 2000).map(seconds),
        ),
        max_size=3,
    ),
    value=st.sampled_from([0.0, 0.4, 1.0]),
    goal=st.sampled_from([0.0, 0.8, 1.0]),
    volts=st.sampled_from([0.5, 0.8, 1.0]),
    first=st.integers(0, 1500).map(seconds),
    second=st.integers(0, 1500).map(seconds),
    ramp=st.booleans(),
)
def test_two_steps_are_one_step_of_both_times(
    kind, before, value, goal, volts, first, second, ramp
):
    device = DEVICES[kind.KIND]
    state = device.begins(SETTING)
    for start, end, left, lasts in before:
        wires = wires_of(device, start, end if left else start, left)
        state = device.step(state, wires, 1.0, min(lasts, left or lasts), SETTING)
    wires = wires_of(device, value, goal if ramp else value, first + second if ramp else 0.0)
    whole = device.step(state, wires, volts, first + second, SETTING)
    half = device.step(state, wires, volts, first, SETTING)
    later = tuple(wire.after(first) for wire in wires)
    assert near(device.step(half, later, volts, second, SETTING), whole)


@each_kind
def test_what_is_seen_lies_between_nothing_and_all(kind):
    device = DEVICES[kind.KIND]
    for _, move in moves_of(device):
        for _, seen in played(device, (1.0, move), ends_s=8.0).samples():
            assert -1e-9 <= seen.shown <= 1.0 + 1e-9, move
            assert -1e-9 <= seen.light <= seen.shown + 1e-9 or seen.light == 0.0, move
            assert seen.amps >= 0.0, move


@by_itself
def test_the_example_s_beats_land_when_their_leads_say(kind):
    book = example_book(kind)
    plan = make_plan(book)
    leaves = {cue.id: cue.leaves_at.s for cue in plan.cues}
    told = told_by(book, plan.cues, leaves)
    for cue in plan.cues:
        device = book.device(cue.target.move.device)
        track = follow(device, told, 120.0, SETTING)
        board = next((p.span.s for p in cue.lead.parts if p.name == "board"), 0.0)
        landed = track.lands(cue.target.move, cue.target.land, cue.leaves_at.s + board, 120.0)
        assert landed is not None, cue.id
        wanted = cue.target.land_at.s + cue.expected_error.s
        half = HALF_WAY * cue.lead.total.s if cue.target.land == "half-way" else 0.0
        assert abs(landed - wanted) < ROUGH_S.get(kind.KIND, 1e-4) + half, cue.id


@by_itself
def test_every_move_of_every_kind_lands_when_its_lead_says(kind):
    device = DEVICES[kind.KIND]
    for action, move in moves_of(device):
        opposite = {"off": "on", "back": "out", "home": "on"}.get(move.action)
        names = [each.name for each in device.ACTIONS]
        before = device.at_rest(SETTING)
        moves = [(30.0, move)]
        if opposite in names:
            first = Move(device=device.name, action=opposite)
            lands = next(a for a in device.ACTIONS if a.name == opposite).lands[0]
            before = device.lead(first, lands, before, None, SETTING).state
            moves.insert(0, (1.0, first))
        for land in action.lands:
            since = Span.seconds(29.0) if len(moves) > 1 else None
            lead = device.lead(move, land, before, since, SETTING)
            if lead.hold is not None:
                continue  # its commands are the plan's: the example's test plays those
            if land == "half-way" and move.hold is not None and kind.KIND not in EXACT:
                continue  # leads draw the rise of a pulse as a straight line
            landed = played(device, *moves).lands(move, land, 30.0, 100.0)
            assert landed is not None, (move, land)
            allowed = ROUGH_S.get(kind.KIND, 1e-4)
            if land == "half-way" and kind.KIND not in EXACT:
                allowed += HALF_WAY * lead.total.s
            assert abs(landed - 30.0 - lead.total.s) <= allowed, (move, land)


def test_a_fade_is_the_first_order_response_to_a_ramp():
    # scipy 1.x solve_ivp of v' = (u - v)/tau, u = t/2 up to 1: a filament's 50 ms.
    device = device_of("kind: dimmed lamp, type: filament, rise: 150 ms, volts: 24 V, current: 1 A")
    reference = solve_ivp(
        lambda t, v: (min(t / 2.0, 1.0) - v) / 0.05, (0.0, 3.0), [0.0], rtol=1e-10, atol=1e-12,
        max_step=0.01, dense_output=True,
    )  # fmt: skip
    track = played(device, (0.0, Move(device="x", action="on", over=Span.seconds(2))))
    for at in (0.1, 0.7, 1.9, 2.05, 2.6):
        assert track.seen_at(at).shown == pytest.approx(reference.sol(at)[0], abs=1e-7)


def test_a_hammer_strikes_by_the_law_of_falling_bodies():
    device = device_of("kind: solenoid hammer, volts: 24 V, current: 1 A, strikes after: 30 ms")
    strike = Move(device="x", action="strike")
    track = played(device, (1.0, strike))
    # s = g t^2 / 2: half the way after 1/sqrt 2 of the time.
    assert track.seen_at(1.0 + 0.03 / sqrt(2.0)).shown == pytest.approx(0.5, abs=1e-9)
    assert track.lands(strike, "arrives", 1.0, 2.0) == pytest.approx(1.03, abs=1e-8)


def test_a_hammer_let_go_too_early_does_not_strike():
    device = device_of("kind: solenoid hammer, volts: 24 V, current: 1 A, strikes after: 30 ms")
    strike = Move(device="x", action="strike", hold=Span.ms(10))
    assert device.objections(strike)[0].code == "HIT-01"
    track = played(device, (1.0, strike))
    assert track.lands(strike, "arrives", 1.0, 2.0) is None
    assert 0.05 < max(seen.shown for _, seen in track.samples()) < 1.0


def test_a_hammer_needs_its_voltage_squared():
    device = device_of("kind: solenoid hammer, volts: 24 V, current: 1 A, strikes after: 30 ms")
    strike = Move(device="x", action="strike")
    told = {"x.on": played_rows(device, strike)}
    times = [
        follow(device, told, 5.0, SETTING, ((0.0, volts),)).lands(strike, "arrives", 1.0, 5.0)
        for volts in (1.0, 0.9, 0.8)
    ]
    assert times[0] < times[1] < times[2]


def played_rows(device: Device, move: Move):
    return rows(device.commands(move), 1.0)["x.on"]


def test_a_filament_at_nine_tenths_of_its_voltage_gives_seven_tenths_of_its_light():
    # IES Lighting Handbook, incandescent rerating: (V/V0)^3.4; 0.9^3.4 = 0.699.
    device = device_of("kind: lamp, type: filament, volts: 12 V, current: 1 A")
    told = {"x.on": played_rows(device, Move(device="x", action="on"))}
    seen = follow(device, told, 9.0, SETTING, ((0.0, 0.9),)).seen_at(8.0)
    assert seen.light == pytest.approx(0.699, abs=1e-3)
    assert seen.amps == pytest.approx(0.9**0.55)


def test_a_relay_does_not_pull_at_seven_tenths_of_its_voltage_but_holds():
    # IEC 61810-1: operate range from 80 % of the rated coil voltage, release below.
    device = device_of("kind: relay, volts: 24 V, current: 40 mA")
    on = Move(device="x", action="on")
    told = {"x.on": played_rows(device, on)}
    weak = follow(device, told, 9.0, SETTING, ((0.0, 0.7),))
    assert weak.lands(on, "full", 1.0, 9.0) is None
    sags_later = follow(device, told, 9.0, SETTING, ((0.0, 1.0), (2.0, 0.7)))
    assert sags_later.seen_at(8.0).shown == 1.0


def test_a_stepper_follows_the_textbook_trapezoid():
    # d/v + v/a, and 2 sqrt(d/a) where the speed is never met (any text on motion control).
    device = device_of(
        "kind: needle gauge, drive: stepper, scale: [0, 100], angle: 270 deg, volts: 24 V, "
        "current: 0.5 A, speed: 180 deg/s, acceleration: 720 deg/s2"
    )
    for value, takes in ((100.0, 270 / 180 + 180 / 720), (10.0, 2 * sqrt(27 / 720))):
        move = Move(device="x", action="to", to=value)
        landed = played(device, (1.0, move)).lands(move, "arrives", 1.0, 9.0)
        assert landed == pytest.approx(1.01 + takes, abs=1e-6)


def test_a_stepper_turned_round_under_way_brakes_first():
    device = device_of(
        "kind: needle gauge, drive: stepper, scale: [0, 100], angle: 270 deg, volts: 24 V, "
        "current: 0.5 A, speed: 180 deg/s, acceleration: 720 deg/s2"
    )
    out = Move(device="x", action="to", to=100.0)
    home = Move(device="x", action="home")
    track = played(device, (1.0, out), (2.0, home))
    places = [track.seen_at(2.01 + k * 1e-3).shown for k in range(400)]
    top = max(places)
    # It brakes from 180 deg/s at 720 deg/s2: 0.25 s and 22.5 degrees more.
    assert places.index(top) == pytest.approx(250, abs=1)
    assert (top - places[0]) * 270 == pytest.approx(22.5, abs=0.01)
    assert track.seen_at(8.0).shown == pytest.approx(0.0, abs=1e-9)


def test_a_motor_s_shaft_turns_by_the_area_under_its_speed():
    device = device_of("kind: gear motor, volts: 24 V, current: 1 A, speed: 60 rpm, ramp: 400 ms")
    track = played(
        device, (1.0, Move(device="x", action="on")), (3.0, Move(device="x", action="off"))
    )
    # One turn a second for 2 s; what the ramp up misses, the ramp down brings.
    assert track.state_at(9.0).turns == pytest.approx(2.0, abs=1e-9)


def test_mist_clears_like_a_stirred_room():
    # Well-mixed decay, exp(-3 t / T95): a third of the time leaves 1/e.
    device = device_of("kind: mist, volts: 24 V, current: 1 A, visible after: 3 s, clears: 9 s")
    on, off = (Move(device="x", action=name) for name in ("on", "off"))
    track = played(device, (1.0, on), (31.0, off))
    assert track.seen_at(34.0).shown == pytest.approx(exp(-1.0), abs=1e-4)
    assert track.lands(on, "half-way", 1.0, 9.0) == pytest.approx(1.0 + log(2.0), abs=1e-6)


def test_a_beacon_flashes_in_its_own_rhythm_while_it_is_on():
    device = device_of("kind: beacon, volts: 12 V, current: 1 A, flashes: 1 Hz")
    track = played(device, (1.0, Move(device="x", action="on")))
    lit = [track.seen_at(3.005 + k / 100).light > 0.5 for k in range(100)]
    assert sum(lit) == 20


def test_a_picture_comes_late_by_the_screen_s_lag():
    device = device_of("kind: screen, lag: 45 ms")
    track = played(device, ends_s=5.0)
    assert track.seen_at(0.044).shown == 0.0
    assert track.seen_at(0.0451).shown == 1.0
    assert track.state_at(2.0) == pytest.approx(1.955)


def test_a_valve_whose_coil_gets_too_little_does_not_shift():
    device = DEVICES["air cylinder"]
    weak = device.step(device.begins(SETTING), (Wire.at(1.0),), 0.7, 0.0, SETTING)
    assert device.tells_valve(weak) == "back"
    full = device.step(device.begins(SETTING), (Wire.at(1.0),), 1.0, 0.0, SETTING)
    assert device.tells_valve(full) == "out"
    # A valve that has shifted needs less to stay.
    assert device.tells_valve(device.step(full, (Wire.at(1.0),), 0.7, 1.0, SETTING)) == "out"
