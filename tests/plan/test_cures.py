"""Cures are tried, cheapest first, and say what they cost."""

from __future__ import annotations

from plan_parts import Blinker, Hammer, Simple, Slide, beat, book, do

from thundersheet.base.finding import Finding
from thundersheet.base.time import Span, Time
from thundersheet.model.book import Book
from thundersheet.model.show import Guests
from thundersheet.model.wiring import Board, Supply
from thundersheet.plan.plan import make_plan


def the_one(of: Book, code: str) -> Finding:
    (finding,) = [f for f in make_plan(of, cures=True).findings if f.code == code]
    return finding


def cures(of: Book, code: str) -> list[str]:
    return [cure.do for cure in the_one(of, code).cures]


def test_an_unfinished_move_is_cured_by_the_least_shift_that_works() -> None:
    made = book(
        (Slide(name="s"),),
        (beat(10, do("s", "out")), beat(10.2, do("s", "back"))),
    )
    assert cures(made, "MOVE-02") == [
        "Move the beat of `s back` to 0:10.30.",
        "Move the beat of `s out` to 0:09.90.",
    ]


def test_a_shift_that_would_make_other_trouble_is_no_cure() -> None:
    made = book(
        (Slide(name="s"),),
        (
            beat(10, do("s", "out")),
            beat(10.2, do("s", "back")),
            beat(10.55, do("s", "out")),
            beat(20, do("s", "back")),
        ),
    )
    # Later than 0:10.25 the way out would come too soon after it: only the first may move.
    assert cures(made, "MOVE-02")[0] == "Move the beat of `s out` to 0:09.90."


def test_a_trill_is_cured_by_wider_or_fewer_strikes() -> None:
    trill = beat(10, do("h", "strike"), times=2, every=Span.ms(90))
    assert cures(book((Hammer(name="h"),), (trill,)), "MOVE-03") == [
        "Write `every: 120 ms`.",
        "Leave out the repeats.",
    ]


def test_flashes_are_cured_by_numbers_that_pass() -> None:
    panel = Blinker(name="panel", lit_share=0.4)
    made = book((panel,), (beat(10, do("panel", "flash"), times=4, every=Span.ms(240)),))
    assert cures(made, "FLASH-01") == ["Write `every: 340 ms`.", "Write `times: 3`."]


def test_the_start_lock_and_a_missing_way_home_are_cured_in_the_book() -> None:
    made = book(
        (Slide(name="s"),),
        (beat(10, do("s", "out")), beat(59, do("s", "back"))),
        guests=Guests(again=Time.seconds(58.5)),
    )
    assert cures(made, "RULE-05")[0] == "Write `again: 0:59.00` under `guests`."
    left = book((Slide(name="s"),), (beat(10, do("s", "out")),))
    assert cures(left, "RULE-06") == ["Add a beat `s back` at 1:00.000 or before."]


def test_wires_terminals_and_supplies_are_cured_with_figures() -> None:
    hammers = tuple(Hammer(name=f"h{n}", amps_a=1.0) for n in range(5))
    chord = beat(10, *(do(f"h{n}", "strike") for n in range(5)))
    thin = Supply(name="main", volts_v=24.0, current_a=7.0, wire_ohm=0.94)
    assert (
        "Wire `main` with 2 times the copper"
        in cures(book(hammers, (chord,), supplies=(thin,)), "POWER-02")[0]
    )
    weak = Supply(name="main", volts_v=24.0, current_a=4.0)
    assert "Fit a supply of 5 A for `main`." in cures(
        book(hammers, (chord,), supplies=(weak,)), "POWER-01"
    )
    two = (Simple(name="a", on="main 4"), Simple(name="b", on="main 4"))
    on_one = book(two, (), boards=(Board(name="main", terminals=8),))
    assert cures(on_one, "POWER-03") == ["Wire b to `main 1`, which is free."]


def test_nothing_is_tried_where_nothing_is_wrong_and_notes_stay_plain() -> None:
    made = book((Simple(name="lamp", band=Span.ms(90)),), (beat(5, do("lamp", "on")),))
    (note,) = make_plan(made, cures=True).findings
    assert (note.code, note.cures) == ("SHOW-06", ())
