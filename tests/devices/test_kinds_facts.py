"""Facts of single kinds in tables, each with where its figure comes from.

`scenario` figures are those of the project's four written scenarios.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from kinds_at_work import ATMOSPHERE, by_part, device_of, lead, setting
from scipy.integrate import solve_ivp

from thundersheet.base.time import Span
from thundersheet.model.device import Device, Move

LED = "kind: lamp, volts: 24 V, current: 1 A, on: main 1"
FILAMENT = f"{LED}, type: filament"
ELECTRIC = "volts: 24 V, current: 1 A, on: main 1"
SERVO = "kind: servo, out: 60 deg, speed: 333.333 deg/s, volts: 5 V, current: 0.4 A, on: main 1"
DEPTH = (
    "kind: needle gauge, drive: stepper, scale: [0, 360], angle: 270 deg, speed: 180 deg/s, "
    "acceleration: 720 deg/s2, volts: 24 V, current: 0.5 A, on: main 1, on direction: main 2"
)
CAROUSEL = f"kind: gear motor, speed: 4 rpm, ramp: 400 ms, home switch: yes, {ELECTRIC}"
GUST = (
    "kind: air jet, nozzle: 4 mm, distance: 0.3 m, valve: {kind: 3/2, delay: 15 ms}, "
    "hose: {bore: 4 mm, length: 1 m}, on: main 1"
)

# text, action, landing, milliseconds, what says so
LEADS = [
    (LED, "on", "full", 2.0, "scenario: LED panel 2 ms"),
    (f"kind: pilot light, {ELECTRIC}", "on", "full", 2.0, "scenario: pilot lamp 2 ms"),
    (f"kind: beacon, {ELECTRIC}", "on", "full", 2.0, "scenario: beacon 2 ms"),
    (f"kind: flash, {ELECTRIC}", "flash", "full", 2.0, "scenario: LED panel 2 ms"),
    ("kind: relay, on: main 1", "on", "full", 8.0, "scenario: relay 8 ms"),
    (f"kind: fan, {ELECTRIC}", "on", "full", 1200.0, "scenario: fan 1200 ms to speed"),
    (f"kind: mist, {ELECTRIC}", "on", "full", 3000.0, "scenario: mist 3000 ms to visible"),
    (f"kind: solenoid hammer, {ELECTRIC}", "strike", "arrives", 30.0, "scenario: hammer 30 ms"),
    (f"kind: pump, {ELECTRIC}", "on", "starts", 800.0, "scenario: drip pump 800 ms"),
    (CAROUSEL, "on", "full", 400.0, "scenario: carousel ramp 400 ms"),
    (CAROUSEL, "on", "starts", 0.0, "a motor turns as soon as it has current"),
    (f"{SERVO}, answers after: 0 ms", "out", "arrives", 180.0, "scenario: 60 degrees in 180 ms"),
]


@pytest.mark.parametrize(("text", "action", "land", "ms", "source"), LEADS)
def test_lead_is_the_figure_of_its_source(
    text: str, action: str, land: str, ms: float, source: str
) -> None:
    assert lead(device_of(text), action, land).total.in_ms == pytest.approx(ms, abs=0.01), source


def test_hammer_s_band_is_its_scatter_once_it_is_written() -> None:
    """Scenario: 30 +- 4 ms to strike."""
    device = device_of(f"kind: solenoid hammer, strikes after: 30 ms, scatter: 4 ms, {ELECTRIC}")
    found = lead(device, "strike")
    assert (found.early, found.late) == (Span.ms(4), Span.ms(4))
    guessed = lead(device_of(f"kind: solenoid hammer, {ELECTRIC}"), "strike")
    assert guessed.late > found.late


def test_hammer_falls_back_before_it_can_strike_again() -> None:
    """Scenario: at least 120 ms between strikes; a trill that asks for 90 is the planted error."""
    device = device_of(f"kind: solenoid hammer, {ELECTRIC}")
    strike = Move(device="x", action="strike")
    assert device.least_gap(strike, strike) == Span.ms(120)


def test_hammer_let_go_before_its_strike_or_held_too_long_is_objected_to() -> None:
    device = device_of(f"kind: solenoid hammer, {ELECTRIC}")
    short, long = (Move(device="x", action="strike", hold=Span.ms(ms)) for ms in (10, 900))
    assert [finding.code for finding in device.objections(short)] == ["HIT-01"]
    assert [finding.code for finding in device.objections(long)] == ["HIT-02"]
    assert device.objections(Move(device="x", action="strike", hold=Span.ms(35))) == ()


def test_a_filament_is_slower_than_an_led_and_within_what_lamps_take() -> None:
    """A mains lamp of 100 W has settled after some 50 ms, large ones after up to a second
    (Museum of Electric Lamp Technology, lamptech.co.uk, `Starting Characteristics`)."""
    full = lead(device_of(FILAMENT), "on", "full").total.in_ms
    half = lead(device_of(FILAMENT), "on", "half-way").total.in_ms
    assert 50.0 <= full <= 1000.0
    assert lead(device_of(LED), "on", "full").total.in_ms < half < full / 2


def test_a_written_rise_goes_before_the_type_s() -> None:
    assert lead(device_of(f"{FILAMENT}, rise: 80 ms"), "on", "full").total == Span.ms(80)


@pytest.mark.parametrize("ms", [1.0, 60.0, 400.0, 2000.0])
def test_a_lamp_lags_behind_its_fade_as_a_first_order_lag_does(ms: float) -> None:
    """Against scipy's solution of v' = (wanted - v) / tau, whose 95 % are called the end."""
    device = device_of("kind: dimmed lamp, type: filament, rise: 150 ms, " + ELECTRIC)
    curve = lead(device, "to", to=0.6, over=Span.ms(ms)).curve
    tau, over = 0.050, ms / 1000.0

    def rate(t: float, v: np.ndarray) -> np.ndarray:
        return (0.6 * min(t / over, 1.0) - v) / tau

    times = [t for t, _ in curve]
    exact = solve_ivp(
        rate, (0.0, times[-1]), [0.0], t_eval=times, rtol=1e-9, atol=1e-12, max_step=over / 4
    )
    assert [share for _, share in curve] == pytest.approx(list(exact.y[0]), abs=0.04)
    assert curve[-1][1] == pytest.approx(0.6)


def test_a_fade_begins_on_its_beat_and_the_board_keeps_its_time() -> None:
    device = device_of(f"kind: dimmed lamp, {ELECTRIC}")
    move = Move(device="x", action="to", to=0.6, over=Span.seconds(2))
    (command,) = device.commands(move)
    assert (command.value, command.over, command.hold) == (0.6, Span.seconds(2), None)
    assert device.ACTIONS[2].lands[0] == "starts"
    arrives = lead(device, "to", "arrives", to=0.6, over=Span.seconds(2))
    assert arrives.total.in_ms == pytest.approx(2002.0, abs=0.1)
    assert arrives.late < Span.ms(2)
    half = lead(device, "to", "half-way", to=0.6, over=Span.seconds(2))
    assert half.total.in_ms == pytest.approx(1000.0, abs=2.0)


def test_a_fade_starts_from_the_brightness_of_that_moment() -> None:
    device = device_of(f"kind: dimmed lamp, {ELECTRIC}")
    up = lead(device, "to", to=1.0, over=Span.seconds(2))
    down = lead(device, "off", before=up.state, since=Span.seconds(1))
    assert down.curve[0][1] == pytest.approx(0.5, abs=0.01)


def test_what_is_on_already_needs_no_lead() -> None:
    for text in (LED, f"kind: fan, {ELECTRIC}", f"kind: dimmed lamp, {ELECTRIC}"):
        device = device_of(text)
        on = lead(device, "on")
        assert lead(device, "on", before=on.state, since=Span.seconds(9)).total == Span(0)


def test_a_fan_slowing_down_is_met_at_its_present_speed() -> None:
    device = device_of(f"kind: fan, {ELECTRIC}")
    on = lead(device, "on")
    off = lead(device, "off", before=on.state, since=Span.seconds(5))
    again = lead(device, "on", before=off.state, since=Span.ms(300))
    assert 0.1 < again.curve[0][1] < 0.9


def test_flashes_last_their_pulse_and_need_a_gap() -> None:
    """Scenario: lightning 24 V 40 W, 70 ms on-time."""
    device = device_of("kind: flash, pulse: 70 ms, lit share: 40 %, " + ELECTRIC)
    flash = Move(device="x", action="flash")
    (command,) = device.commands(flash)
    assert command.hold == Span.ms(70)
    assert device.least_gap(flash, flash) == Span.ms(72)
    light = device.light(flash)
    assert light is not None
    assert light.area == 0.4
    assert max(level for _, level in light.levels) == 1.0
    assert light.levels[-1][1] == 0.0


def test_only_a_strobe_strobes_and_its_light_has_every_flash() -> None:
    plain = device_of(f"kind: flash, {ELECTRIC}")
    strobe = device_of(f"kind: flash, strobes: 3 Hz, {ELECTRIC}")
    move = Move(device="x", action="strobe", hold=Span.seconds(2))
    assert [finding.code for finding in plain.objections(move)] == ["FLASH-10"]
    assert strobe.objections(move) == ()
    light = strobe.light(move)
    assert light is not None
    rises = [b > a for (_, a), (_, b) in pairwise(((Span(0), 0.0), *light.levels))]
    assert sum(rises) == 6


def test_a_filament_cannot_flash_for_less_than_its_rise() -> None:
    device = device_of(f"kind: flash, type: filament, pulse: 70 ms, {ELECTRIC}")
    assert device.objections(Move(device="x", action="flash"))[0].code == "FLASH-11"


@pytest.mark.parametrize(
    ("text", "hertz"),
    [
        (f"kind: beacon, flashes: 1 Hz, {ELECTRIC}", 1.0),
        (f"kind: beacon, flashes: 90 /min, {ELECTRIC}", 1.5),
        (f"kind: flicker, flickers: 2 Hz, {ELECTRIC}", 2.0),
    ],
)
def test_a_light_with_a_rhythm_says_its_period(text: str, hertz: float) -> None:
    light = device_of(text).light(Move(device="x", action="on"))
    assert light is not None
    assert light.every == Span.seconds(1 / hertz)


def test_bar_takes_a_run_of_terminals_or_one_line() -> None:
    run = device_of("kind: bar gauge, wired: each segment, segments: 4, " + ELECTRIC)
    assert [out.terminal for out in run.outputs()] == ["main 1", "main 2", "main 3", "main 4"]
    half = run.commands(Move(device="x", action="to", to=0.5))
    assert [command.value for command in half] == [1.0, 1.0, 0.0, 0.0]
    climb = Move(device="x", action="to", to=0.5, over=Span.seconds(2))
    assert [finding.code for finding in run.objections(climb)] == ["BAR-01"]
    line = device_of(f"kind: bar gauge, segments: 4, {ELECTRIC}")
    assert len(line.outputs()) == 1
    assert line.objections(climb) == ()


def test_bar_draws_by_the_segment() -> None:
    """Scenario: 10 x 12 mA."""
    device = device_of("kind: bar gauge, segments: 10, current: 12 mA, volts: 24 V, on: main 1")
    (load,) = device.loads(Move(device="x", action="to", to=0.7))
    assert load.amps == pytest.approx(0.084)


def trapezoid(distance: float, speed: float, acceleration: float) -> tuple[float, float]:
    """Times to the end and to half of the way, by stepping through the motion in small steps."""
    dt, x, v, t, half = 1e-5, 0.0, 0.0, 0.0, 0.0
    while x < distance:
        brake = v * v / (2 * acceleration) >= distance - x
        v = v - acceleration * dt if brake else min(v + acceleration * dt, speed)
        if v <= 0.0:
            break
        x, t = x + v * dt, t + dt
        half = half or (t if x >= distance / 2 else 0.0)
    return t, half


@pytest.mark.parametrize("value", [10.0, 60.0, 200.0, 360.0])
def test_stepper_takes_as_long_as_its_motion_stepped_through(value: float) -> None:
    device = device_of(f"{DEPTH}, answers after: 0 ms")
    distance = math.radians(270) * value / 360
    end, half = trapezoid(distance, math.radians(180), math.radians(720))
    assert lead(device, "to", "arrives", to=value).total.s == pytest.approx(end, abs=0.003)
    assert lead(device, "to", "half-way", to=value).total.s == pytest.approx(half, abs=0.003)


def test_a_needle_told_to_hurry_says_the_least_time() -> None:
    """270 degrees at 180 deg/s and 720 deg/s2: 270/180 + 180/720 = 1.75 s."""
    device = device_of(DEPTH)
    hurried = lead(device, "to", to=360.0, over=Span.seconds(1))
    assert "over 1.75 s" in hurried.never
    assert lead(device, "to", to=360.0, over=Span.ms(1750)).never == ""
    assert lead(device, "to", to=360.0).never == ""


def test_the_depth_needle_goes_down_in_thirty_seconds_by_the_board_s_clock() -> None:
    """Scenario: 0-360 m in 30 s, needle and picture agree within 2 m."""
    device = device_of(DEPTH)
    found = lead(device, "to", "starts", to=360.0, over=Span.seconds(30))
    assert found.total == Span.ms(10)
    assert found.state.at(15.01) * 360 == pytest.approx(180.0, abs=2.0)
    assert found.late < Span.ms(20)


def test_a_needle_turned_back_on_its_way_starts_from_where_it_is() -> None:
    device = device_of(DEPTH)
    down = lead(device, "to", to=360.0, over=Span.seconds(30))
    home = lead(device, "home", before=down.state, since=Span.seconds(10))
    assert home.curve[0][1] == pytest.approx(1 / 3, abs=0.01)
    assert home.curve[-1][1] == 0.0


@pytest.mark.parametrize(
    ("text", "move"),
    [
        (DEPTH, Move(device="x", action="to", to=361.0)),
        (DEPTH, Move(device="x", action="to", to=-1.0)),
        (SERVO, Move(device="x", action="to", to=math.radians(200))),
        (f"kind: dimmed lamp, {ELECTRIC}", Move(device="x", action="to", to=1.2)),
    ],
)
def test_a_value_beyond_reach_is_objected_to(text: str, move: Move) -> None:
    assert [finding.code for finding in device_of(text).objections(move)] == ["MOVE-11"]


@pytest.mark.parametrize("text", [DEPTH, SERVO, f"kind: dimmed lamp, {ELECTRIC}"])
def test_to_without_a_value_is_objected_to(text: str) -> None:
    move = Move(device="x", action="to")
    assert [finding.code for finding in device_of(text).objections(move)] == ["MOVE-10"]


def test_a_scale_may_run_downwards_and_must_have_two_ends() -> None:
    falling = device_of(DEPTH.replace("[0, 360]", "[31, 26]"))
    assert falling.commands(Move(device="x", action="to", to=27.0))[0].value == pytest.approx(0.8)
    broken = device_of(DEPTH.replace("[0, 360]", "[31]"))
    assert "NEEDLE-01" in [finding.code for finding in broken.checks(setting())]


def test_servo_s_tip_has_speed_energy_and_force() -> None:
    """v = r w, E = m v^2 / 2, F = M / r."""
    device = device_of(f"{SERVO}, arm: 200 mm, moves: 100 g, torque: 1 N m")
    impact = lead(device, "out").impact
    assert impact is not None
    speed = 0.2 * math.radians(333.333)
    assert impact.speed_m_s == pytest.approx(speed)
    assert impact.energy_j == pytest.approx(0.5 * 0.1 * speed**2)
    assert impact.force_n == pytest.approx(5.0)
    assert impact.reach_m == pytest.approx(0.2 * math.radians(60))


def test_servo_with_angles_beyond_its_travel_is_found() -> None:
    device = device_of(SERVO.replace("out: 60 deg", "out: 200 deg"))
    assert "SERVO-01" in [finding.code for finding in device.checks(setting())]


@pytest.mark.parametrize("seconds", [0.2, 3.0, 7.31, 40.0])
def test_a_motor_told_home_stands_at_whole_turns(seconds: float) -> None:
    """The shaft's turns are summed up independently, by numpy over the speed's curve."""
    device = device_of(CAROUSEL)
    on = lead(device, "on")
    home = lead(device, "home", before=on.state, since=Span.seconds(seconds))
    hertz = 4 / 60

    def turns(curve: tuple[tuple[float, float], ...], end: float) -> float:
        times = np.linspace(0.0, end, 200_001)
        speed = np.interp(times, [t for t, _ in curve], [share for _, share in curve])
        return float(np.trapezoid(speed, times)) * hertz

    total = turns(on.curve, seconds) + turns(home.curve, home.curve[-1][0])
    assert total == pytest.approx(round(total), abs=1e-4)
    assert home.hold is not None
    assert home.total - home.hold == Span.ms(400)
    assert home.total.s < 15.0 + 2 * 0.4 + 1e-6


def test_a_motor_without_a_home_switch_cannot_go_home() -> None:
    device = device_of(CAROUSEL.replace("home switch: yes, ", ""))
    assert device.objections(Move(device="x", action="home"))[0].code == "TURN-01"


def test_gust_s_lead_and_air_are_the_scenario_s() -> None:
    """Scenario: 3/2 valve to a 4 mm nozzle, 2.0 bar, 120 ms: lead 40 ms, 0.5 l a puff."""
    found = lead(device_of(GUST), "puff", around=setting("2.0 bar"))
    assert found.total.in_ms == pytest.approx(40.0, rel=0.3)
    assert found.air_l == pytest.approx(0.5, rel=0.3)
    assert list(by_part(found)) == ["valve", "hose", "filling", "gust"]


def test_gust_s_air_is_moss_s_orifice_formula_where_nothing_but_the_nozzle_resists() -> None:
    """Moss 1906: W = 0.5303 A C p / sqrt(T), lb/s with in2, psia and degrees Rankine."""
    device = device_of(
        "kind: air jet, nozzle: 2 mm, discharge: 0.9, valve: {kind: 3/2, flow: 20 Cv}, "
        "hose: {length: 0 m}, on: main 1"
    )
    found = lead(device, "puff", around=setting("4 bar"), hold=Span.seconds(1))
    area = math.pi / 4 * (2 / 25.4) ** 2
    psia = (4e5 + ATMOSPHERE) / 6894.757293
    pounds = 0.5303 * area * 0.9 * psia / math.sqrt(293.15 * 1.8)
    assert found.air_l == pytest.approx(1000 * pounds * 0.45359237 / 1.185, rel=0.01)


def test_gust_farther_away_comes_later_with_the_square_of_the_distance() -> None:
    near, far = (
        by_part(lead(device_of(GUST.replace("0.3 m", f"{d} m")), "puff"))["gust"]
        for d in (0.3, 0.6)
    )
    assert far == pytest.approx(4 * near, rel=1e-6)


def test_gust_let_go_before_its_valve_shifts_and_gust_without_air() -> None:
    device = device_of(GUST)
    short = Move(device="x", action="puff", hold=Span.ms(10))
    assert device.objections(short)[0].code == "JET-01"
    from dataclasses import replace

    nothing = replace(setting(), supply_pa=None)
    assert "AIR-01" in [finding.code for finding in device.checks(nothing)]
    assert lead(device, "puff", around=nothing).never
    weak = device_of(GUST.replace("0.3 m", "4 m").replace("nozzle: 4 mm", "nozzle: 0.5 mm"))
    assert "JET-02" in [finding.code for finding in weak.checks(setting("0.2 bar"))]


def test_screen_and_unwired_player_take_no_output() -> None:
    screen = device_of("kind: screen, lag: 45 ms")
    assert screen.outputs() == ()
    assert screen.lag == Span.ms(45)  # type: ignore[attr-defined]
    leader = device_of("kind: media player, role: leader")
    assert leader.outputs() == ()
    assert leader.checks(setting()) == ()
    assert leader.objections(Move(device="x", action="start"))[0].code == "PLAYER-01"


def test_what_is_let_go_before_it_has_come_up_is_objected_to() -> None:
    short = Move(device="x", action="on", hold=Span.ms(500))
    assert device_of(f"kind: fan, {ELECTRIC}").objections(short)[0].code == "MOVE-12"
    assert device_of(LED).objections(short) == ()


def amps(device: Device, action: str, at_s: float) -> float:
    loads = device.loads(Move(device="x", action=action))
    return sum(
        load.amps
        for load in loads
        if load.start.s <= at_s and (load.stop is None or at_s < load.stop.s)
    )


def test_a_motor_draws_its_peak_only_while_it_starts() -> None:
    device = device_of("kind: shaker, volts: 24 V, current: 2.1 A, peak: 4 A, on: main 1")
    assert amps(device, "on", 0.1) == 4.0
    assert amps(device, "on", 1.0) == 2.1
    assert amps(device, "off", 0.0) == 0.0


def test_a_plain_valve_s_coil_draws_while_the_rod_is_out() -> None:
    device = device_of(
        "kind: air cylinder, bore: 20 mm, stroke: 50 mm, valve: {current: 0.1 A}, on: main 1"
    )
    assert amps(device, "out", 30.0) == 0.1
    assert amps(device, "back", 0.0) == 0.0
