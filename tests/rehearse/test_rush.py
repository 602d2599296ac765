"""Shows one after the other on one tank: the air, the ladder, the button, the answers."""

from __future__ import annotations

from functools import cache

import pytest
from small import small_book

from thundersheet.plan.plan import make_plan
from thundersheet.rehearse.arrivals import fixed
from thundersheet.rehearse.faults_read import read_faults
from thundersheet.rehearse.findings import judge
from thundersheet.rehearse.ladder import choose
from thundersheet.rehearse.records import Rehearsal
from thundersheet.rehearse.rush import rehearse_evening, rehearse_rush
from thundersheet.rehearse.world import rehearse_show

WITHOUT = {
    "  compressor: {delivers: 30 l/min, cut in: 6 bar, cut out: 8 bar, duty: 80 %}\n": "",
    "{tank below: 5 bar, why": "{why",
    "{tank below: 4 bar, why": "{why",
}
"""A tank that nobody fills, and no lesser version."""


@cache
def rush(shows: int, *faults: str, tank: str = "10 l", variant: str = "") -> Rehearsal:
    book = small_book(tank=tank)
    plan = make_plan(book, variant)
    return rehearse_rush(book, plan, shows, 16.0, read_faults(faults, book))


def test_the_first_show_lands_as_the_coupled_solver_says():
    book = small_book()
    plan = make_plan(book)
    one = {each.cue: each.error_ms for each in rehearse_show(book, plan).shows[0].landed}
    for each in rush(3).shows[0].landed:
        # Two solvers, one a quasi-steady picture of the other's feeds.
        assert each.error_ms == pytest.approx(one[each.cue], abs=1.5), each.cue


def test_the_tank_falls_by_what_the_shows_take_and_rises_by_what_is_delivered():
    found = rush(40)
    tank, litres = found.tank, sum(show.air_l for show in found.shows)
    # 30 l/min of free air at 101 325 Pa; standard litres are at 100 kPa and 20 C (ISO 8778), and
    # the book's air is at 20 C: p V over 100 kPa.
    ran_s = sum(end - begin for begin, end in tank.compressor_on)
    came = 0.5 * ran_s * 101_325.0 / 100_000.0
    # All the air that stands behind the tank is back where it was, within a hundredth of a litre.
    grew = 10.0 * (tank.pa[-1] - tank.pa[0]) / 100_000.0
    assert came - litres == pytest.approx(grew, abs=0.4)
    assert ran_s > 60.0


def test_the_compressor_runs_no_more_than_its_duty_in_any_ten_minutes():
    found = rush(60, "leak: 30 l/min")
    assert found.tank.worst_duty <= 0.8 + 1e-6
    assert found.tank.worst_duty == pytest.approx(0.8, abs=0.01)


def test_the_ladder_is_asked_at_each_start_and_says_why():
    found = rush(12, "leak: 200 l/min")
    for show in found.shows:
        gauge = show.tank_pa - 101_325.0
        wanted = "no air" if gauge < 4e5 else "air low" if gauge < 5e5 else ""
        assert show.variant == wanted
        assert bool(show.why) == bool(wanted)
    lesser = {show.variant: {each.cue for each in show.landed} for show in found.shows}
    # Repeats that may be dropped go first, then all that the air moves.
    assert "again" in lesser[""]
    assert "again" not in lesser["air low"]
    assert "bang" in lesser["air low"]
    assert "bang" not in lesser["no air"]
    assert "glow" in lesser["no air"]


def test_whoever_asks_for_a_variant_gets_no_other():
    found = rush(6, "leak: 200 l/min", variant="air low")
    assert {show.variant for show in found.shows} == {"air low"}
    assert {show.why for show in found.shows} == {""}


@pytest.mark.parametrize(
    ("gauge", "variant"),
    [(9e5, ""), (5e5, ""), (4.9e5, "air low"), (4e5, "air low"), (1e5, "no air")],
)
def test_of_several_rungs_the_lowest_that_holds_plays(gauge, variant):
    assert choose(small_book(), gauge + 101_325.0, 101_325.0)[0] == variant


def test_a_supply_without_end_asks_no_ladder():
    assert choose(small_book(), None, 101_325.0) == ("", "")


def test_a_weak_show_is_found_and_named():
    book = small_book(tank="3 l", **WITHOUT)
    plan = make_plan(book)
    found = rehearse_rush(book, plan, 8, 16.0)
    weak = found.first_weak
    assert weak is not None
    assert weak.number > 1
    # An emptier tank pushes less: what still lands does so later, show by show.
    bangs = [
        next(each.error_ms for each in show.landed if each.cue == "bang")
        for show in found.shows[: weak.number]
    ]
    assert bangs == sorted(bangs)
    (finding,) = judge(found)
    assert finding.code == "REHEARSE-02"
    assert f"Show {weak.number} of 8" in finding.says


def test_a_stuck_valve_stays_stuck_in_the_shows_that_follow():
    found = rush(3, "stuck valve: hatch from 0:05")
    errors = [
        {each.cue: each.error_ms for each in show.landed if each.device == "hatch"}
        for show in found.shows
    ]
    assert errors[0]["bang"] is not None
    assert errors[0]["to"] is None
    assert errors[1]["bang"] is None


def test_a_hammered_start_plays_back_to_back_and_never_two_at_once():
    found = rush(5, "start button hammered every 0.3 s")
    # 16 s till it may start again: the next press after that is the 54th, at 16.2 s.
    assert [show.start_s for show in found.shows] == pytest.approx([16.2 * k for k in range(5)])


def test_a_start_that_sticks_gives_one_show_and_no_more():
    found = rush(5, "start button stuck")
    assert len(found.shows) == 1


def test_an_evening_plays_as_guests_come():
    book = small_book()
    found = rehearse_evening(book, make_plan(book), fixed(20.0, 100.0), 100.0)
    assert [show.start_s for show in found.shows] == [0.0, 20.0, 40.0, 60.0, 80.0]
    assert found.queue.mean_wait_s == 0.0
    assert found.guests_per_hour == pytest.approx(5 * 36.0)


def test_guests_an_hour_are_a_full_show_every_so_many_seconds():
    assert rush(3).guests_per_hour == pytest.approx(4 * 3600.0 / 16.0)


def test_shows_with_the_compressor_off_are_those_the_gas_law_gives():
    answer = next(a for a in rush(3).answers if a.asks == "shows with the compressor off")
    litres = rush(3).shows[0].air_l
    # 10 l from 8 bar down to what a regulator at 3 bar needs, 3.3 bar; at 100 kPa and 20 C.
    assert answer.value == pytest.approx(10.0 * 4.7 / litres, abs=1.0)


def test_leaks_cost_what_eight_hours_of_them_are():
    found = rush(1, "leak: 0.5 l/min")
    answer = next(a for a in found.answers if a.asks == "what leaks cost a night")
    # 0.5 l/min at 8 bar, less where the tank stands lower, never below cut-in.
    assert 0.7 * 240.0 < answer.value < 240.0


def test_an_evening_of_many_shows_finds_no_fault_of_its_own():
    assert list(judge(rush(40))) == []
    assert rush(40).first_weak is None


def test_at_the_rest_that_is_said_a_weak_compressor_keeps_up():
    book = small_book(**{"delivers: 30 l/min": "delivers: 4 l/min", "duty: 80 %": "duty: 100 %"})
    plan = make_plan(book)
    rest = rehearse_rush(book, plan, 1)
    assert "compressor" in rest.rest_why
    assert rest.rest_s > 4.0
    every = 12.0 + rest.rest_s
    # What it gives in that time is what a show takes, within what two solvers and the slope of its
    # delivery leave: the tank stays between the compressor's two pressures, evening long.
    found = rehearse_rush(book, plan, 50, every)
    late = [pa for at, pa in zip(found.tank.at_s, found.tank.pa, strict=True) if at > 25 * every]
    assert min(late) > found.tank.cut_in_pa - 30_000.0
    assert found.first_weak is None
    # And in two thirds of that time it does not.
    hurried = rehearse_rush(book, plan, 50, max(12.0, 0.66 * every))
    assert hurried.shows[-1].tank_pa < found.tank.cut_in_pa - 30_000.0


def test_a_compressor_keeps_its_quiet_hours_by_the_clock():
    book = small_book(tank="3 l", **{"duty: 80 %": "duty: 100 %, quiet: 19:00-19:10"})
    plan = make_plan(book)
    seven = rehearse_rush(book, plan, 50, 16.0, from_s=19 * 3600.0)
    assert min(begin for begin, _ in seven.tank.compressor_on) >= 600.0 - 1e-6
    eight = rehearse_rush(book, plan, 5, 16.0, from_s=20 * 3600.0)
    assert min(begin for begin, _ in eight.tank.compressor_on) < 80.0
