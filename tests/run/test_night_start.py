"""Starts: story by story of what guests do to a button, and the one show that comes of it.

The presses are those of the acceptance in words: 200 in 30 s, stuck, held, during the rest, noise
of a coil. Bounce of contacts: 5 to 50 ms of settling are asked for, common practice.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from night_parts import Evening, small_setup

from thundersheet.base.time import Span, Time
from thundersheet.model.night import Start
from thundersheet.rehearse.ladder import choose
from thundersheet.run.events import (
    Begin,
    Counted,
    Jog,
    Mark,
    OutputFailed,
    PlayerLost,
    PowerUp,
    Say,
    Send,
)


def test_two_hundred_presses_in_thirty_seconds_are_one_show():
    evening = Evening().opened()
    for _ in range(200):
        evening.press()
    assert evening.ms >= 30_000
    evening.wait(20_000)
    assert evening.shows == 1
    assert evening.controller.now.shows == 1


def test_after_being_left_alone_the_next_press_is_the_next_show():
    evening = Evening().opened()
    evening.press()
    evening.wait(8_000)
    evening.press()
    assert evening.shows == 2


def test_a_stuck_button_is_one_show_and_one_report():
    evening = Evening().opened()
    evening.set("cord", True, 60_000)
    assert evening.shows == 1
    stuck = [each for each in evening.of(Say) if "stuck" in each.text]
    assert len(stuck) == 1


def test_a_button_held_at_power_up_starts_nothing():
    evening = Evening(cord=True).opened()
    evening.wait(5_000)
    assert evening.shows == 0


def test_a_press_shorter_than_it_has_to_last_is_noise():
    evening = Evening().opened()
    for _ in range(100):
        evening.press(lasts=25.0, pause=40.0)
    assert evening.shows == 0
    evening.press(lasts=35.0)
    assert evening.shows == 1


def test_a_bouncing_press_counts_once():
    evening = Evening().opened()
    for _ in range(6):
        evening.press(lasts=4.0, pause=4.0)
    evening.press()
    assert evening.shows == 1


@pytest.mark.parametrize(("at_rest", "shows"), [("ignore", 1), ("queue", 2)])
def test_a_press_during_the_rest_is_queued_or_ignored_as_the_book_says(at_rest, shows):
    evening = Evening(small_setup(at_rest, follows=False)).opened()
    evening.press()
    evening.wait(4_200)
    assert evening.state == "resting"
    evening.press()
    evening.press()
    evening.wait(2_000)
    assert evening.shows == shows


def test_what_is_queued_is_forgotten_by_a_stop():
    evening = Evening(small_setup("queue", follows=False)).opened()
    evening.press()
    evening.wait(4_200)
    evening.press()
    evening.ask("stop")
    evening.ask("release")
    evening.ask("open")
    evening.wait(10_000)
    assert (evening.state, evening.shows) == ("ready", 1)


def test_it_is_ready_only_when_every_device_is_proved_home():
    evening = Evening().opened()
    evening.press()
    evening.set("flap home", False)
    evening.wait(5_500)
    assert evening.state == "resting"
    evening.set("flap home", True, 100)
    assert evening.state == "ready"


def test_a_device_that_never_comes_home_is_reported_and_left_out():
    evening = Evening().opened()
    evening.press()
    evening.set("flap home", False)
    evening.wait(9_000)
    assert evening.state == "ready"
    assert evening.said("flap was not proved home")
    evening.out.clear()
    evening.press()
    evening.wait(4_500)
    sent = {each.output for each in evening.of(Send) if each.value}
    assert "main 1" not in sent
    assert "main 2" not in sent  # the book: never together with the flap, which may stand out
    assert {"main 3", "main 4"} <= sent


@pytest.mark.parametrize("name", ["mushroom", "door", "rail"])
@pytest.mark.parametrize("ms", [50, 800, 1_000, 1_700, 2_700, 3_400])
def test_stop_door_and_supply_make_safe_within_a_tenth_of_a_second(name, ms):
    evening = Evening().opened()
    evening.press()
    evening.wait(ms)
    evening.set(name, False, 100)
    assert evening.state == "stopped"
    assert not evening.on()
    before = len(evening.out)
    evening.set(name, True, 10_000)
    evening.ask("release")
    evening.wait(10_000)
    assert evening.state == "dark"
    assert all(each.value == 0.0 for each in evening.out[before:] if isinstance(each, Send))
    assert evening.shows == 1


def test_stopped_is_not_released_while_the_stop_is_pressed():
    evening = Evening().opened()
    evening.set("mushroom", False)
    evening.ask("release")
    assert evening.state == "stopped"


def test_after_power_returns_it_is_dark_and_presses_do_nothing():
    evening = Evening().opened()
    evening.press()
    evening.wait(1_000)
    evening.tell(PowerUp(evening.at, shows=1))
    evening.out.clear()
    evening.report()
    evening.wait(3_000)
    evening.press()
    evening.wait(10_000)
    assert (evening.state, evening.shows, evening.on()) == ("dark", 0, set())
    assert evening.controller.now.shows == 1


def test_a_broken_beam_rests_what_it_guards_and_the_show_goes_on():
    evening = Evening().opened()
    evening.press()
    evening.wait(1_000)
    assert "main 1" in evening.on()
    evening.set("beam", False, 40)
    assert "main 1" not in evening.on()
    assert evening.state == "playing"
    evening.wait(1_650)
    assert "main 2" in evening.on()


def test_no_show_starts_while_somebody_stands_in_the_beam():
    evening = Evening().opened()
    evening.set("beam", False, 100)
    evening.press()
    assert evening.shows == 0
    assert evening.said("somebody stands too near")


@pytest.mark.parametrize("gauge", [6e5, 3.1e5, 2.9e5, 1.1e5, 0.9e5, 0.0])
def test_the_ladder_is_the_rehearsals(gauge):
    """Chosen as `rehearse.ladder.choose` does, which an evening of the rehearsal plays."""
    from night_parts import BOOK

    from thundersheet.book.read import read_text

    evening = Evening(gauge=gauge).opened()
    evening.press()
    name, _why = choose(read_text(BOOK % "ignore"), 101_325.0 + gauge, 101_325.0)
    assert evening.of(Begin)[0].variant == name


def test_the_version_is_chosen_at_the_start_and_never_within_a_show():
    evening = Evening().opened()
    evening.press()
    evening.set("gauge", 0.0, 4_000)
    assert [each.variant for each in evening.of(Begin)] == [""]


def test_a_pressure_that_cannot_be_read_plays_the_lowest_rung():
    evening = Evening(gauge=None).opened()
    evening.press()
    assert evening.of(Begin)[0].variant == "still"
    assert evening.said("the pressure cannot be read")


def test_quiet_is_for_one_show_and_counted_apart():
    evening = Evening().opened()
    evening.ask("quiet")
    for _ in range(2):
        evening.press()
        evening.wait(8_000)
    assert [each.variant for each in evening.of(Begin)] == ["quiet", ""]
    assert [each.sort for each in evening.of(Counted)] == ["quiet", "show"]
    assert (evening.controller.now.shows, evening.controller.now.quiet_shows) == (2, 1)


def test_a_silent_door_sensor_is_an_open_door():
    evening = Evening().opened()
    del evening.levels["door"]
    evening.wait(3_500)
    evening.press()
    assert evening.state == "playing"
    evening.wait(2_500)
    assert evening.state == "stopped"
    assert evening.said("door cannot be read")


def test_lost_tones_let_the_show_go_on_by_its_own_clock_and_it_is_said():
    evening = Evening(small_setup(follows=True)).opened()
    evening.press(pause=0)
    began = evening.ms
    evening.wait(400)
    evening.tell(Mark(evening.at, Time.seconds(0.5)))
    assert not evening.controller.now.own_clock
    evening.wait(3_700)
    assert evening.controller.now.own_clock
    assert evening.said("tones are lost")
    assert {each.cue for each in evening.of(Send)} >= {"first", "second", "second-back"}
    assert evening.ms - began > 4_000
    assert evening.state == "resting"


def test_cues_follow_the_marks():
    """A mark that says 100 ms more than our clock brings every later cue 100 ms sooner."""

    def sent(ahead):
        evening = Evening(small_setup(follows=True)).opened()
        evening.set("cord", True, 30)
        began = evening.of(Begin)[0].at
        evening.wait(500)
        evening.tell(Mark(evening.at, evening.at - began.since(Time(0)) + Span.ms(ahead)))
        evening.wait(1_200)
        first = next(each for each in evening.of(Send) if each.cue == "first")
        return first.at.since(began)

    assert sent(0) - sent(100) == Span.ms(100)


def test_a_mark_that_cannot_be_true_moves_nothing():
    evening = Evening(small_setup(follows=True)).opened()
    evening.press()
    evening.tell(Mark(evening.at, Time.seconds(900)))
    assert evening.state == "playing"
    assert not [each for each in evening.of(Send) if each.cue]


def test_a_lost_player_is_said_and_the_show_plays_to_its_end():
    evening = Evening(small_setup(follows=True)).opened()
    evening.press()
    evening.tell(PlayerLost(evening.at))
    evening.wait(4_200)
    assert evening.said("player is lost")
    assert {each.cue for each in evening.of(Send)} >= {"first", "second-back"}


def test_a_failed_lamp_is_done_without_and_a_failed_valve_ends_the_show():
    evening = Evening().opened()
    evening.press()
    evening.tell(OutputFailed(evening.at, "main 3"))
    assert evening.state == "playing"
    evening.tell(OutputFailed(evening.at, "main 1"))
    assert evening.state == "stopped"


def test_jog_runs_only_as_long_as_the_word_is_renewed():
    evening = Evening()
    for _ in range(5):
        evening.tell(Jog(evening.at, "main 1", 1.0, True))
        evening.wait(200)
        assert evening.on() == {"main 1"}
    evening.wait(51)
    assert not evening.on()


def test_air_comes_to_a_jog_only_after_one_without():
    evening = Evening()
    evening.ask("air on")
    assert evening.said("Air for jogging")
    evening.tell(Jog(evening.at, "main 1", 1.0, True))
    evening.tell(Jog(evening.at, "main 1", 0.0, False))
    evening.ask("air on")
    assert evening.on() == {"main 8"}
    evening.tell(Jog(evening.at, "main 2", 1.0, True))
    assert evening.on() == {"main 8"}
    evening.wait(200)  # as long as `least off` asks
    evening.tell(Jog(evening.at, "main 1", 1.0, True))
    assert evening.on() == {"main 1", "main 8"}


def test_a_dry_run_is_lamps_only_and_counts_for_no_guest():
    evening = Evening()
    evening.ask("dry run")
    evening.opened()
    evening.press()
    evening.wait(4_500)
    sent = {each.output for each in evening.of(Send) if each.value} - {"main 8"}
    assert sent == {"main 3", "main 4"}
    assert evening.controller.now.shows == 0


@pytest.mark.parametrize(("gauge", "moves"), [(6e5, False), (3e5, True), (None, False)])
def test_at_half_pressure_nothing_moves_above_it(gauge, moves):
    setup = replace(small_setup(follows=False), rungs=())
    evening = Evening(setup, gauge=gauge)
    evening.ask("half pressure")
    evening.opened()
    evening.press()
    evening.wait(4_500)
    assert ("main 1" in {each.output for each in evening.of(Send) if each.value}) == moves


def test_locked_at_the_controls_no_press_counts():
    evening = Evening().opened()
    evening.ask("lock")
    evening.press()
    assert evening.shows == 0
    evening.ask("unlock")
    evening.wait(3_000)
    evening.press()
    assert evening.shows == 1


def test_the_whole_plan_passes_the_gate_when_nothing_is_wrong():
    """What the plan's own findings allow, the gate allows at its very instant."""
    evening = Evening().opened()
    evening.set("cord", True, 30)
    began = evening.of(Begin)[0].at
    evening.wait(4_100)
    plan = evening.setup.plans[""]
    left = {each.cue: each.at.since(began) for each in evening.of(Send) if each.cue}
    assert left == {cue.id: cue.leaves_at.since(Time(0)) for cue in plan.cues}


def test_a_setup_without_night_has_a_button_of_common_practice():
    assert Start().settles == Span.ms(30)  # within the 5 to 50 ms of common practice
