"""What a stroke leaves behind is what the next one finds: air, place and speed of the piston."""

from __future__ import annotations

from dataclasses import replace

import pytest
from kinds_at_work import by_part, device_of, lead, setting
from test_cylinder_facts import RISER, SHUTTER

from thundersheet.base.time import Span
from thundersheet.devices._cylinder.stroke import stroke_of
from thundersheet.devices._cylinder.way import spot_at
from thundersheet.physics.solve import solve


def test_a_settled_cylinder_strokes_as_if_asked_alone() -> None:
    device, around = device_of(SHUTTER), setting()
    alone = solve(stroke_of(device, around, out=True))
    assert alone.t_full_s is not None
    assert lead(device, "out").total.s == pytest.approx(alone.t_full_s, abs=1e-6)


def test_the_air_left_after_a_pause_makes_the_next_stroke_sooner_until_it_has_settled() -> None:
    device = device_of(SHUTTER)
    out = lead(device, "out")
    pauses = [400, 600, 1000, 3000, 10_000]
    leads = [lead(device, "back", before=out.state, since=Span.ms(ms)).total for ms in pauses]
    assert leads == sorted(leads)
    assert leads[0] < leads[-1]
    settled = lead(device, "back", before=out.state).total
    assert leads[-1].in_ms == pytest.approx(settled.in_ms, abs=0.05)


def test_a_pause_of_any_length_passes_steadily_into_the_settled_state() -> None:
    """Where the reckoning of a rest changes over, at twenty seconds, nothing jumps."""
    device = device_of(SHUTTER)
    out = lead(device, "out")
    before, after = (
        lead(device, "back", before=out.state, since=Span.ms(out.rest.in_ms + ms)).total.in_ms
        for ms in (19_990, 20_010)
    )
    assert before == pytest.approx(after, abs=0.05)


def test_strokes_after_pauses_that_no_landing_tells_apart_are_one_stroke() -> None:
    device = device_of(SHUTTER)
    out = lead(device, "out")
    one, two = (lead(device, "back", before=out.state, since=Span.ms(ms)) for ms in (9000, 9040))
    assert one.state == two.state
    stroke = one.state.stroke
    warmer = replace(
        stroke, air=replace(stroke.first_air, exhaust_k=stroke.first_air.exhaust_k + 0.01)
    )
    assert solve(warmer).t_full_s == pytest.approx(solve(stroke).t_full_s, abs=1e-5)


def test_told_to_turn_round_on_its_way_it_goes_on_from_where_it_truly_is() -> None:
    device = device_of(SHUTTER)
    out = lead(device, "out")
    back = lead(device, "back", before=out.state, since=Span.ms(200))
    reached = spot_at(out.state, 0.2).out_m / 0.16
    assert back.curve[0][1] == pytest.approx(reached, abs=1e-9)
    assert max(share for _, share in back.curve) > reached  # it runs on before it turns
    assert back.curve[-1][1] == pytest.approx(0.0, abs=1e-6)
    assert "turning" in by_part(back)
    assert back.total < lead(device, "back", before=out.state).total


def test_a_piston_thrown_to_and_fro_stays_in_its_cylinder() -> None:
    device = device_of(SHUTTER)
    state, around = device.at_rest(setting()), setting()
    for k in range(12):
        action = ("out", "back")[k % 2]
        found = lead(device, action, before=state, since=Span.ms(60 + 35 * k), around=around)
        assert found.never == ""
        assert all(-1e-9 <= share <= 1 + 1e-9 for _, share in found.curve)
        state = found.state


def test_told_again_what_it_is_doing_it_has_only_the_rest_of_its_way_left() -> None:
    device = device_of(SHUTTER)
    out = lead(device, "out")
    again = lead(device, "out", before=out.state, since=Span.ms(100))
    assert again.total == out.total - Span.ms(100)
    assert again.air_l == 0.0
    later = lead(device, "back", before=again.state, since=Span.seconds(5))
    plain = lead(device, "back", before=out.state, since=Span.ms(5100))
    assert later.total == plain.total


def test_told_to_go_where_it_is_it_does_nothing_and_takes_no_air() -> None:
    device = device_of(SHUTTER)
    out = lead(device, "out")
    again = lead(device, "out", before=out.state, since=Span.seconds(2))
    assert again.total == Span(0)
    assert again.impact is None
    assert again.air_l == 0.0
    assert again.never == ""


def test_the_first_stroke_after_a_dump_lunges_and_is_warned_of() -> None:
    """Reference model, trap 1: sooner, and about three times as fast where it is metered out."""
    device = device_of(SHUTTER)
    usual, lunge = lead(device, "out"), lead(device, "out", around=setting(vented=True))
    assert lunge.total < usual.total
    assert lunge.impact is not None
    assert usual.impact is not None
    assert lunge.impact.energy_j > 1.5 * usual.impact.energy_j
    (finding,) = device.checks(setting(vented=True))
    assert finding.code == "AIR-02"
    assert finding.grade == "warn"
    assert len(finding.cures) == 3
    assert device.checks(setting()) == ()


def test_what_meets_no_back_pressure_anyway_does_not_lunge() -> None:
    device = device_of(
        "kind: air cylinder, acting: single, bore: 16 mm, stroke: 25 mm, valve: {kind: 3/2}, "
        "moves: 0.1 kg, on: main 1"
    )
    assert device.checks(setting(vented=True)) == ()


CLOSED = f"{RISER}, valve: {{kind: 5/3 closed}}, on back: main 2"


@pytest.mark.parametrize("share", [0.1, 0.15, 0.4, 0.8])
def test_a_closed_centre_stops_it_where_it_was_asked_to(share: float) -> None:
    device, around = device_of(CLOSED), setting("3.5 bar")
    part = lead(device, "out", around=around, to=share)
    assert part.hold is not None
    assert part.never == ""
    assert part.curve[-1][1] == pytest.approx(share, abs=0.02)
    assert spot_at(part.state, 5.0).out_m / 0.16 == pytest.approx(share, abs=0.02)
    rest = lead(device, "out", before=part.state, since=Span.seconds(5), around=around)
    assert rest.curve[0][1] == pytest.approx(share, abs=0.02)
    assert rest.curve[-1][1] == pytest.approx(1.0)


def test_a_dip_from_the_top_and_a_stop_on_command() -> None:
    device, around = device_of(CLOSED), setting("3.5 bar")
    out = lead(device, "out", around=around)
    dip = lead(device, "back", before=out.state, around=around, to=0.9)
    assert dip.curve[-1][1] == pytest.approx(0.9, abs=0.02)
    stop = lead(device, "stop", before=out.state, since=Span.ms(500), around=around)
    assert [part.name for part in stop.parts] == ["valve", "coasting"]
    assert 0.0 < stop.curve[-1][1] < 1.0


def test_an_exhausted_centre_lets_a_raised_load_sink_and_the_next_stroke_finds_no_air() -> None:
    device = device_of(f"{RISER}, valve: {{kind: 5/3 exhausted}}, on back: main 2")
    around = setting("3.5 bar")
    out = lead(device, "out", around=around)
    let_go = lead(device, "stop", before=out.state, since=Span.seconds(10), around=around)
    assert let_go.curve[0][1] == pytest.approx(1.0)
    assert let_go.curve[-1][1] < 0.1
    spot = spot_at(let_go.state, 30.0)
    assert spot.out_m < 0.016
    assert spot.air.drive_pa == pytest.approx(around.atmosphere_pa, rel=0.02)


def test_told_to_stand_where_it_stands_its_coil_is_not_left_on() -> None:
    device, around = device_of(CLOSED), setting("3.5 bar")
    part = lead(device, "out", around=around, to=0.4)
    again = lead(device, "out", before=part.state, since=Span.seconds(3), around=around, to=0.4)
    assert again.total == Span(0)
    assert again.hold is not None
    assert again.hold < Span.ms(15)
    beyond = lead(device, "out", before=part.state, since=Span.seconds(3), around=around, to=0.2)
    assert "back to" in beyond.never


def test_plain_coils_stay_on_two_coils_are_pulsed_and_a_closed_centre_is_let_go() -> None:
    from thundersheet.model.device import Command, Move

    out, back = Move(device="x", action="out"), Move(device="x", action="back")
    plain = device_of(SHUTTER)
    assert plain.commands(out) == (Command(output="main 1", value=1.0),)
    assert plain.commands(back) == (Command(output="main 1", value=0.0),)
    pulsed = device_of(f"{SHUTTER}, valve: {{kind: 5/2 two-coil}}, on back: main 2")
    assert pulsed.commands(back) == (Command(output="main 2", value=1.0, hold=Span.ms(100)),)
    closed = device_of(CLOSED)
    assert [c.value for c in closed.commands(back)] == [0.0, 1.0]
    assert [c.value for c in closed.commands(Move(device="x", action="stop"))] == [0.0, 0.0]
    assert closed.is_home(back)
    assert not closed.is_home(out)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (f"{SHUTTER}, valve: {{kind: 3/2}}", "AIR-03"),
        (f"{SHUTTER}, acting: single", "AIR-03"),
        (f"{SHUTTER}, incline: sideways", "AIR-05"),
        (SHUTTER.replace("rod: 10 mm", "rod: 30 mm"), "AIR-04"),
        (f"{SHUTTER}, cushion: {{length: 170 mm}}", "AIR-04"),
        (SHUTTER.replace("linkage: lever", "linkage: lid"), "AIR-04"),
        (f"{SHUTTER}, cushion: {{length: 20 mm}}, hose: {{length: 3 m}}", "AIR-08"),
        (f"{SHUTTER}, valve: {{kind: 5/2 two-coil}}", "WIRE-01"),
    ],
)
def test_records_that_contradict_themselves_are_found(text: str, code: str) -> None:
    device = device_of(text)
    assert code in [finding.code for finding in device.checks(setting())]
    assert lead(device, "out").total >= Span(0)
