"""Rules of the book and of any show."""

from __future__ import annotations

from plan_parts import Simple, Slide, beat, book, do

from thundersheet.base.finding import Finding
from thundersheet.base.time import Span, Time
from thundersheet.model.book import Book
from thundersheet.model.rules import Rule
from thundersheet.model.show import Guests, Show
from thundersheet.plan.plan import plan_cues

SHUTTER = Slide(name="shutter", words=(("open", "out"), ("shut", "back")))
HATCH = Slide(name="hatch", words=(("open", "out"), ("shut", "back")))
APART = Rule(
    never_together=("shutter open", "hatch open"),
    states=(do("shutter", "out"), do("hatch", "out")),
    because="they would meet",
)


def findings(of: Book, topic: str = "RULE") -> list[Finding]:
    return [f for f in plan_cues(of)[1] if f.code.startswith(topic)]


def two(hatch_open: float, shutter_shut: float = 15.0) -> Book:
    return book(
        (SHUTTER, HATCH),
        (
            beat(10, do("shutter", "out")),
            beat(shutter_shut, do("shutter", "back")),
            beat(hatch_open, do("hatch", "out")),
            beat(hatch_open + 2, do("hatch", "back")),
        ),
        rules=(APART,),
    )


def test_two_states_clash_from_the_start_of_one_motion_to_the_rest_of_the_other() -> None:
    # The hatch starts to move 240 ms before it arrives; the shutter is at rest at 15.000.
    (finding,) = findings(two(hatch_open=15.2))
    assert finding.code == "RULE-01"
    assert "hatch open begins at 0:14.960, while shutter open holds until 0:15.000" in finding.says
    assert findings(two(hatch_open=15.25)) == []


def test_a_clash_is_found_whichever_comes_first() -> None:
    assert [f.code for f in findings(two(hatch_open=8.5))] == ["RULE-01"]
    assert findings(two(hatch_open=7.7)) == []


def test_what_comes_first_must_be_at_rest_before_the_next_begins() -> None:
    rule = Rule(
        first="shutter shut",
        then="hatch open",
        first_move=do("shutter", "back"),
        then_move=do("hatch", "out"),
        apart=Span.ms(500),
    )

    def made(hatch: float) -> Book:
        return book(
            (SHUTTER, HATCH),
            (
                beat(5, do("hatch", "out")),  # shutter is shut from the start
                beat(7, do("hatch", "back")),
                beat(10, do("shutter", "out")),
                beat(15, do("shutter", "back")),
                beat(hatch, do("hatch", "out")),
                beat(hatch + 2, do("hatch", "back")),
            ),
            rules=(rule,),
        )

    assert findings(made(15.75)) == []
    (finding,) = findings(made(15.7))
    assert finding.code == "RULE-02"
    assert "shutter shut is done only at 0:15.000" in finding.says
    assert [f.code for f in findings(made(12.0))] == ["RULE-02"]


def test_one_output_told_two_things_at_once_is_refused_and_twice_the_same_warned_of() -> None:
    lamp = (Simple(name="lamp"),)
    contradiction = book(lamp, (beat(5, do("lamp", "on")), beat(5, do("lamp", "off"))))
    assert [f.code for f in findings(contradiction)] == ["RULE-03"]
    repetition = book(lamp, (beat(5, do("lamp", "on")), beat(5, do("lamp", "on"))))
    assert [(f.code, f.grade) for f in findings(repetition)] == [("RULE-04", "warn")]


def test_the_start_stays_locked_until_the_last_device_is_at_rest() -> None:
    def made(again: float) -> Book:
        return book(
            (SHUTTER,),
            (beat(10, do("shutter", "out")), beat(58, do("shutter", "back"))),
            guests=Guests(again=Time.seconds(again)),
        )

    (finding,) = findings(made(57.9))
    assert finding.code == "RULE-05"
    assert "shutter shut is at rest only at 0:58.000" in finding.says
    assert findings(made(58.0)) == []


def test_a_device_left_away_from_home_is_warned_of() -> None:
    made = book((SHUTTER,), (beat(10, do("shutter", "out")),))
    assert [(f.code, f.grade) for f in findings(made)] == [("RULE-06", "warn")]


def test_more_shows_than_fit_into_an_hour_are_warned_of() -> None:
    show = Show(name="T", length=Time.seconds(84), rest=Span.seconds(20))
    fits = book((), (), show=show, guests=Guests(shows_per_hour=34.6))
    assert findings(fits) == []
    too_many = book((), (), show=show, guests=Guests(shows_per_hour=35.0))
    (finding,) = findings(too_many)
    assert (finding.code, finding.allowed) == ("RULE-07", "34.6 an hour at most.")


def test_telling_a_device_what_it_already_does_is_warned_of() -> None:
    made = book(
        (SHUTTER,),
        (
            beat(10, do("shutter", "out")),
            beat(12, do("shutter", "out")),
            beat(20, do("shutter", "back")),
        ),
    )
    (finding,) = findings(made)
    assert (finding.code, finding.grade) == ("RULE-04", "warn")
    assert finding.says.endswith("does nothing: it has been so since 0:10.000.")
