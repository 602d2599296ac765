"""Beats to targets: ids, repeats, variants, lag."""

from __future__ import annotations

import pytest
from plan_parts import Glass, Simple, Slide, beat, book, do

from thundersheet.base.finding import Refusal
from thundersheet.base.time import Span, Time
from thundersheet.model.book import Book
from thundersheet.model.show import Show, Variant, Window
from thundersheet.plan.timeline import timeline

DEVICES = (
    Slide(name="shutter", words=(("open", "out"), ("shut", "back"))),
    Simple(name="lamp"),
    Glass(name="sea", lag=Span.ms(45)),
)


def ids(of: Book, variant: str = "") -> list[str]:
    return [target.id for target in timeline(of, variant).targets]


def codes(of: Book) -> list[str]:
    return [finding.code for finding in timeline(of).findings]


def test_ids_are_the_users_words_and_an_ordinal_in_show_order() -> None:
    made = book(DEVICES, (beat(20, do("shutter", "out")), beat(10, do("shutter", "out"))))
    assert ids(made) == ["shutter-open-1", "shutter-open-2"]
    first = timeline(made).targets[0]
    assert first.beat_at == Time.seconds(10)


def test_a_named_beat_gives_its_own_id_and_its_repeats_count_on() -> None:
    made = book(
        DEVICES,
        (
            beat(5, do("lamp", "on"), name="The Fright"),
            beat(10, do("lamp", "off"), name="knock", times=3, every=Span.ms(600)),
        ),
    )
    assert ids(made) == ["the-fright", "knock-1", "knock-2", "knock-3"]
    assert {t.beat for t in timeline(made).targets} == {"the-fright", "knock"}


def test_a_beat_with_two_moves_makes_two_cues_of_one_beat() -> None:
    made = book(DEVICES, (beat(5, do("shutter", "out"), do("lamp", "on")),))
    found = timeline(made).targets
    assert [t.id for t in found] == ["shutter-open-1", "lamp-on-1"]
    assert {t.beat for t in found} == {"shutter-open-1"}


def test_a_beats_name_never_collides_with_a_dealt_id() -> None:
    made = book(
        DEVICES,
        (beat(5, do("lamp", "on")), beat(6, do("lamp", "off"), name="lamp-on-1")),
    )
    assert ids(made) == ["lamp-on-2", "lamp-on-1"]


def test_two_beats_of_one_name_are_reported_and_still_have_ids_of_their_own() -> None:
    made = book(
        DEVICES, (beat(5, do("lamp", "on"), name="x"), beat(6, do("lamp", "off"), name="x"))
    )
    assert codes(made) == ["SHOW-02"]
    assert len(set(ids(made))) == 2


def test_repeats_come_at_their_distance_exactly() -> None:
    every = Span(625_000_000 // 3)
    made = book(DEVICES, (beat(5, do("lamp", "on"), times=1000, every=every),))
    last = timeline(made).targets[-1]
    assert last.beat_at.ns == 5_000_000_000 + 999 * every.ns


def test_a_screens_lag_is_added_once_and_only_to_what_meets_it() -> None:
    made = book(
        DEVICES,
        (beat(5, do("lamp", "on")), beat(6, do("lamp", "off"), meets="sound")),
        show=Show(name="T", length=Time.seconds(60), meets="sea"),
    )
    on, off = timeline(made).targets
    assert (on.beat_at, on.land_at) == (Time.seconds(5), Time.seconds(5.045))
    assert off.land_at == off.beat_at


VARIANTS = (
    Variant(
        name="quiet",
        without_devices=("shutter",),
        without_beats=("bang",),
        swaps=((do("lamp", "on"), do("lamp", "off")),),
    ),
)


def test_a_variant_leaves_out_and_swaps_while_the_rest_keeps_its_ids() -> None:
    made = book(
        DEVICES,
        (
            beat(1, do("lamp", "off")),
            beat(2, do("lamp", "off"), without=("quiet",)),
            beat(3, do("lamp", "off")),
            beat(4, do("shutter", "out")),
            beat(5, do("lamp", "on")),
            beat(6, do("lamp", "off"), name="bang"),
            beat(7, do("lamp", "off"), only=("quiet",)),
        ),
        variants=VARIANTS,
    )
    assert "lamp-off-4" not in ids(made)
    assert ids(made, "quiet") == [
        "lamp-off-1",
        "lamp-off-3",
        "lamp-off-for-lamp-on-1",
        "lamp-off-4",
    ]


def test_an_unknown_variant_is_refused_with_those_there_are() -> None:
    made = book(DEVICES, (), variants=VARIANTS)
    with pytest.raises(Refusal, match=r"no variant `loud`\. It has: `quiet`\."):
        timeline(made, "loud")


def test_beats_and_repeats_outside_the_show_are_reported() -> None:
    made = book(
        DEVICES,
        (beat(59, do("lamp", "on"), times=3, every=Span.seconds(1)), beat(-1, do("lamp", "on"))),
    )
    assert codes(made) == ["SHOW-01", "SHOW-01"]


def test_a_window_that_does_not_hold_its_beat_is_reported() -> None:
    lopsided = beat(5, do("lamp", "on"))
    object.__setattr__(lopsided, "window", Window(Span.ms(10), Span.ms(40)))
    assert codes(book(DEVICES, (lopsided,))) == ["SHOW-04"]


def test_a_landing_that_no_move_of_the_beat_has_is_refused_with_those_it_has() -> None:
    (finding,) = timeline(book(DEVICES, (beat(5, do("shutter", "out"), land="full"),))).findings
    assert finding.code == "SHOW-09"
    assert finding.allowed == "It has `arrives`, `starts`, `half-way`."
    both = beat(5, do("shutter", "out"), do("lamp", "on"), land="full")
    assert codes(book(DEVICES, (both,))) == []
