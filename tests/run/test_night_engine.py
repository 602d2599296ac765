"""The engine: cues whole, in order, once, and none so late that guests have moved on."""

from __future__ import annotations

from dataclasses import replace

import pytest
from night_parts import BOOK, Evening, small_setup

from thundersheet.base.time import Span
from thundersheet.book.read import read_text
from thundersheet.model.device import Command
from thundersheet.plan.plan import make_plan
from thundersheet.run.events import Asked, Begin, Event, Jog, Say, Send
from thundersheet.run.setup import setup_of


def hatch_at(seconds):
    """The small show with the hatch so soon after the flap that the rule has to part them."""
    text = (BOOK % "ignore").replace("0:02.600, do: hatch out", f"0:0{seconds}, do: hatch out")
    book = read_text(text)
    return setup_of(book, [make_plan(book)])


def times(evening):
    began = evening.of(Begin)[0].at
    return {each.cue: each.at.since(began).in_ms for each in evening.of(Send) if each.cue}


def test_a_cue_that_has_to_wait_waits_until_the_other_rests():
    setup = hatch_at("1.500")
    cues = {cue.id: cue for cue in setup.plans[""].cues}
    evening = Evening(setup).opened()
    evening.press()
    evening.wait(4_100)
    left = times(evening)
    back, out = cues["first-back"], cues["second"]
    rests = left["first-back"] + back.lead.rest.in_ms
    assert left["second"] > out.leaves_at.s * 1e3
    starts = rests - left["second"]  # it may leave so long before as it needs to begin to move
    assert 0.0 < starts <= out.lead.total.in_ms


def test_a_cue_that_would_wait_for_longer_than_its_window_is_left_out_and_said():
    evening = Evening(hatch_at("1.000")).opened()
    evening.press()
    evening.wait(4_100)
    assert "second" not in times(evening)
    assert evening.said("second was left out: never together with flap out")


def test_after_a_gap_in_time_moves_are_left_out_and_what_makes_safe_is_not():
    """The process had no time for 2 s: the flap's way out is over half a second late."""
    evening = Evening().opened()
    evening.press(lasts=40, pause=0)
    began = evening.of(Begin)[0].at
    evening.tell(Event(began + Span.seconds(2.1)))
    assert "first" not in times(evening)
    assert {"first-back"} <= set(times(evening))
    assert evening.said("first was left out: it would have left")


def test_a_gap_over_the_whole_show_sends_no_cue_at_all():
    evening = Evening().opened()
    evening.press(lasts=40, pause=0)
    evening.tell(Event(evening.of(Begin)[0].at + Span.seconds(60)))
    assert not times(evening)
    assert not evening.on() - {"main 8"}


def test_cues_leave_in_their_order_and_once():
    evening = Evening().opened()
    evening.press()
    evening.wait(4_100)
    sent = [each.cue for each in evening.of(Send) if each.cue]
    assert sent == [cue.id for cue in evening.setup.plans[""].cues]


def test_half_a_cue_never_goes():
    """Of a cue with two outputs one is refused: the other is not sent either."""
    setup = small_setup(follows=False)
    plan = setup.plans[""]
    double = tuple(
        replace(cue, commands=(*cue.commands, Command(output="main 8", value=1.0)))
        if cue.id == "second"
        else cue
        for cue in plan.cues
    )
    evening = Evening(replace(setup, plans={**setup.plans, "": replace(plan, cues=double)}))
    evening.opened()
    evening.press()
    evening.wait(4_100)
    assert "second" not in times(evening)
    assert evening.said("second was left out: `main 8` lets the air in, which no plan does")


def test_an_output_is_let_go_at_its_limit_and_the_board_is_told_when():
    setup = small_setup(follows=False)
    lines = {**setup.lines, "main 1": replace(setup.lines["main 1"], most_on=Span.ms(300))}
    evening = Evening(replace(setup, lines=lines)).opened()
    evening.press(lasts=40, pause=0)
    evening.wait(4_100)
    sent = [each for each in evening.of(Send) if each.output == "main 1"]
    on = next(each for each in sent if each.value)
    off = next(each for each in sent if not each.value and each.at > on.at)
    assert on.lets_go == off.at == on.at + Span.ms(300)


@pytest.mark.parametrize("follows", [False, True])
def test_a_shift_of_the_clock_repeats_no_cue(follows):
    evening = Evening(small_setup(follows=follows)).opened()
    evening.press(lasts=40, pause=0)
    evening.wait(1_000)
    evening.controller.engine.shift(evening.of(Begin)[0].at + Span.ms(600))
    evening.wait(3_500)
    sent = [each.cue for each in evening.of(Send) if each.cue]
    assert len(sent) == len(set(sent))


def test_a_pressed_stop_is_stopped_even_in_the_dark():
    evening = Evening()
    evening.set("mushroom", False)
    assert evening.state == "stopped"
    evening.set("mushroom", True, 100)
    evening.tell(Asked(evening.at, "release"))
    assert evening.state == "dark"


def test_every_refusal_to_start_says_why():
    evening = Evening().opened()
    evening.ask("lock")
    evening.press()
    assert [each.text for each in evening.of(Say)] == ["No start: it is locked at the controls."]


def test_a_jog_renewed_after_the_board_let_go_is_a_new_one():
    """Seed 3000091 of a night by lot: the word came 1 ms after the board's own end, before ours."""
    evening = Evening()
    evening.tell(Jog(evening.at, "main 1", 1.0, True))
    evening.ms += 251  # no tick in between
    evening.out.clear()
    evening.tell(Jog(evening.at, "main 1", 1.0, True))
    assert [each.value for each in evening.of(Send)] == [0.0]
    assert evening.said("`main 1` has to stay off for 200 ms")
