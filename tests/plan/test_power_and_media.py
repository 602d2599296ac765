"""Supplies, terminals, wires; lag counted twice, sound against picture."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plan_parts import Glass, Hammer, Simple, beat, book, do

from thundersheet.base.finding import Finding
from thundersheet.base.time import Span, Time
from thundersheet.model.book import Book
from thundersheet.model.device import Device
from thundersheet.model.show import Show, Tempo
from thundersheet.model.wiring import Board, Supply
from thundersheet.plan.media import notice, skew_grade
from thundersheet.plan.plan import plan_cues


def findings(of: Book, topic: str) -> list[tuple[str, str]]:
    return [(f.code, f.grade) for f in plan_cues(of)[1] if f.code.startswith(topic)]


def the_one(of: Book, code: str) -> Finding:
    (finding,) = [f for f in plan_cues(of)[1] if f.code == code]
    return finding


def chord(bells: int, supply: Supply) -> Book:
    hammers = tuple(Hammer(name=f"h{n}", amps_a=1.0) for n in range(bells))
    return book(
        hammers, (beat(10, *(do(f"h{n}", "strike") for n in range(bells))),), supplies=(supply,)
    )


def test_a_supply_must_give_the_sum_of_what_is_on_at_once() -> None:
    six = Supply(name="main", volts_v=24.0, current_a=6.5)
    assert findings(chord(5, six), "POWER") == []
    assert findings(chord(6, six), "POWER") == [("POWER-06", "note")]
    assert findings(chord(7, six), "POWER") == [("POWER-01", "refuse")]


def test_sag_at_the_far_device_is_the_sum_through_the_shared_wire() -> None:
    # 6 m out and 6 m back of 0.22 mm2 copper: 2 x 6 x 1.7241e-8 / 0.22e-6 = 0.940 ohm (IEC 60028).
    ohm = 2 * 6 * 1.7241e-8 / 0.22e-6
    wire = Supply(name="main", volts_v=24.0, current_a=20.0, wire_ohm=ohm)
    finding = the_one(chord(5, wire), "POWER-02")
    assert "gives 5 A through" in finding.says
    assert "19.3 V arrive" in finding.says
    assert findings(chord(2, wire), "POWER") == []


def test_a_load_that_ends_as_another_begins_is_not_added_to_it() -> None:
    lamps = tuple(Simple(name=f"l{n}", amps_a=4.0) for n in range(2))
    made = book(
        lamps,
        (
            beat(10, do("l0", "on", hold=Span.seconds(1))),
            beat(11, do("l1", "on", hold=Span.seconds(1))),
        ),
        supplies=(Supply(name="main", volts_v=24.0, current_a=5.3),),
    )
    assert findings(made, "POWER") == []


def test_each_supply_has_what_it_lists_and_the_first_rest_by_voltage() -> None:
    lamps = tuple(Simple(name=f"l{n}", amps_a=4.0) for n in range(2))
    beats = (beat(10, do("l0", "on"), do("l1", "on")),)
    one = Supply(name="bells", volts_v=24.0, current_a=5.3, feeds=("l0",))
    two = Supply(name="rest", volts_v=24.0, current_a=5.3)
    assert findings(book(lamps, beats, supplies=(one, two)), "POWER") == []
    assert findings(book(lamps, beats, supplies=(two,)), "POWER") == [("POWER-01", "refuse")]


def test_a_voltage_without_a_supply_is_warned_of() -> None:
    made = book(
        (Simple(name="l", amps_a=1.0),),
        (beat(10, do("l", "on")),),
        supplies=(Supply(name="five", volts_v=5.0, current_a=3.0),),
    )
    assert findings(made, "POWER") == [("POWER-05", "warn")]


def test_two_coils_on_one_terminal_and_a_terminal_overloaded_are_refused() -> None:
    coils = (
        Hammer(name="latch", on="main 4", amps_a=0.3),
        Hammer(name="gate", on="main 4", amps_a=0.3),
    )
    made = book(
        coils,
        (beat(10, do("latch", "strike")), beat(12, do("gate", "strike"))),
        boards=(Board(name="main", each_a=0.5),),
    )
    assert findings(made, "POWER") == [("POWER-03", "refuse"), ("POWER-04", "refuse")]


SEA = Glass(name="sea", lag=Span.ms(45))


def meeting(*beats: float, devices: tuple[Device, ...] = (SEA,), **show: object) -> Book:
    return book(
        (Simple(name="lamp"), *devices),
        tuple(beat(at, do("lamp", "on")) for at in beats),
        show=Show(name="T", length=Time.seconds(60), meets="sea", **show),
    )


def test_beats_that_stand_a_lag_after_round_times_are_asked_about() -> None:
    assert findings(meeting(10.0, 12.5, 14.0), "SHOW") == []
    finding = the_one(meeting(10.045, 12.545, 14.045), "SHOW-07")
    assert finding.allowed.endswith("Write 0:10.000.")


def test_a_tempo_shifted_by_the_lag_is_asked_about() -> None:
    shifted = (Tempo(at=Time.seconds(24.045), per_minute=96.0),)
    assert findings(meeting(10.0, tempo=shifted), "SHOW") == [("SHOW-07", "warn")]
    right = (Tempo(at=Time.seconds(24.0), per_minute=96.0),)
    assert findings(meeting(10.0, tempo=right), "SHOW") == []


def test_the_same_lag_at_player_and_screen_is_asked_about() -> None:
    player = Glass(name="player", lag=Span.ms(45), screen="sea")
    assert ("SHOW-07", "warn") in findings(meeting(10.0, devices=(SEA, player)), "SHOW")


# ITU-R BT.1359-1: detectability +45 ms (sound early) and -125 ms, acceptability +90 and -185 ms.
@pytest.mark.parametrize(
    ("sound_late_ms", "grade"),
    [
        (-91, "refuse"),
        (-90, "refuse"),
        (-45, "warn"),
        (-44, None),
        (124, None),
        (125, "warn"),
        (185, "refuse"),
    ],
)
def test_sound_against_picture_is_graded_as_bt_1359_says(
    sound_late_ms: float, grade: str | None
) -> None:
    assert skew_grade(Span.ms(sound_late_ms)) == grade


def test_a_slow_screen_leaves_its_sound_early() -> None:
    def made(lag: float) -> Book:
        screen = Glass(name="sea", lag=Span.ms(lag))
        player = Glass(name="player", screen="sea")
        return meeting(10.0, devices=(screen, player))

    assert findings(made(40), "SHOW") == []
    assert findings(made(60), "SHOW") == [("SHOW-08", "note")]
    assert findings(made(120), "SHOW") == [("SHOW-08", "warn")]


def test_sound_held_back_as_long_as_the_screen_is_in_step_and_moves_what_meets_it() -> None:
    screen = Glass(name="sea", lag=Span.ms(120))
    player = Glass(name="player", screen="sea")
    held = meeting(10.0, devices=(screen, player), sound_delay=Span.ms(120))
    assert findings(held, "SHOW") == []
    by_ear = replace(held, beats=(beat(10, do("lamp", "on"), meets="sound"),))
    (cue,) = plan_cues(by_ear)[0]
    assert cue.target.land_at == Time.seconds(10.12)


# The same figures for a landing: late of its sound by 45 ms is sound early by 45 ms.
@pytest.mark.parametrize(
    ("landing_late_ms", "seen"),
    [(44, "unnoticed"), (45, "noticed"), (90, "not accepted"), (-124, "unnoticed")],
)
def test_a_landing_late_of_its_sound_is_borne_least(landing_late_ms: float, seen: str) -> None:
    assert notice(Span.ms(landing_late_ms)) == seen
