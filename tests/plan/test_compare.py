"""Observed against planned."""

from __future__ import annotations

from plan_parts import Simple, beat, book, do

from thundersheet.base.time import Span, Time
from thundersheet.plan.compare import Observed, compare, summary
from thundersheet.plan.plan import make_plan

PLAN = make_plan(
    book(
        (Simple(name="lamp", needs=Span.ms(10)),),
        (beat(5, do("lamp", "on")), beat(6, do("lamp", "off")), beat(7, do("lamp", "on"))),
    )
)


def test_every_planned_cue_has_one_row_and_strangers_come_after() -> None:
    rows = compare(
        PLAN,
        [
            Observed("lamp-on-1", Time.seconds(4.99), Time.seconds(5.02)),
            Observed("lamp-off-1", Time.seconds(5.99)),
            Observed("lamp-on-1", Time.seconds(5.5)),
            Observed("nobody", Time.seconds(9)),
        ],
    )
    assert [(row.id, row.state) for row in rows] == [
        ("lamp-on-1", "in window"),
        ("lamp-off-1", "sent"),
        ("lamp-on-2", "missing"),
        ("lamp-on-1", "twice"),
        ("nobody", "extra"),
    ]
    first = rows[0]
    assert first.sent_error == Span(0)
    assert first.landing_error == Span.ms(20)
    assert first.lead == Span.ms(30)


def test_a_landing_beyond_its_window_is_early_or_late() -> None:
    late = compare(PLAN, [Observed("lamp-on-1", None, Time.seconds(5.041))])[0]
    early = compare(PLAN, [Observed("lamp-on-1", None, Time.seconds(4.919))])[0]
    assert (late.state, early.state) == ("late", "early")


def test_the_summary_says_a_show_in_one_sentence() -> None:
    found = summary(
        compare(
            PLAN,
            [
                Observed("lamp-on-1", None, Time.seconds(5.01)),
                Observed("lamp-off-1", None, Time.seconds(6.05)),
            ],
        )
    )
    assert (found.planned, found.seen, found.in_window) == (3, 2, 1)
    assert found.mean_ms == 30.0
    assert str(found) == (
        "1 of 3 cues landed in their windows, 1 missing; worst lamp-off-1, +50.0 ms."
    )
