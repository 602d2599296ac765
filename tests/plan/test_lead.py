"""Targets to cues: state carried, fixed point, measured leads, what cannot be done."""

from __future__ import annotations

import pytest
from plan_parts import Glass, Hammer, Simple, Slide, beat, book, do

from thundersheet.base.time import Span, Time
from thundersheet.model.air import Air
from thundersheet.model.book import Book, Measured
from thundersheet.model.device import Device
from thundersheet.model.show import Beat, Show
from thundersheet.model.wiring import Board
from thundersheet.plan.lead import atmosphere, leads
from thundersheet.plan.records import Cue
from thundersheet.plan.timeline import timeline


def cues(of: Book) -> tuple[Cue, ...]:
    return leads(of, timeline(of).targets).cues


def codes(of: Book) -> list[str]:
    return [finding.code for finding in leads(of, timeline(of).targets).findings]


def one(device: Device, *beats: Beat, **more: object) -> Book:
    return book((device,), beats, **more)


def test_lead_and_time_since_the_last_command_agree_at_the_fixed_point() -> None:
    # Solved by hand: lead = 300 + 100 (1 - since/500), since = 600 - lead + 300 (the first one's
    # lead), hence lead = 400 - (900 - lead)/5, lead = 275 is below 300, where the extra is nil
    # only from since >= 500: at a gap of 600 ms since is 600, at 450 it is 450 - (lead - 300).
    slide = Slide(name="s", lags=Span.ms(100))
    made = one(slide, beat(10, do("s", "out")), beat(10.45, do("s", "back")))
    first, second = cues(made)
    since = second.at.since(first.at).in_ms
    assert second.lead.total.in_ms == pytest.approx(300 + 100 * (1 - since / 500), abs=0.06)
    # lead = 400 - (750 - lead - t0)/5 with t0 the first command at 9.7 s: 0.8 lead = 250 ... 312.5
    assert second.lead.total.in_ms == pytest.approx(312.5, abs=0.06)


def test_a_boards_delay_is_a_part_of_its_own() -> None:
    made = one(
        Simple(name="lamp", on="relays 3", needs=Span.ms(10)),
        beat(5, do("lamp", "on")),
        boards=(Board(name="relays", takes=Span.ms(8)),),
    )
    (cue,) = cues(made)
    assert [(p.name, p.span) for p in cue.lead.parts] == [
        ("board", Span.ms(8)),
        ("lamp", Span.ms(10)),
    ]
    assert cue.at == Time.seconds(4.982)
    assert cue.lead.curve[0][0] == pytest.approx(0.008)


def test_a_measured_lead_overrides_the_model_and_its_spread_is_the_band() -> None:
    made = one(
        Slide(name="s", on="relays 1"),
        beat(5, do("s", "out")),
        boards=(Board(name="relays", takes=Span.ms(8)),),
        measured=(
            Measured(
                name="s out",
                lead=Span.ms(312),
                spread=Span.ms(4),
                firings=10,
                move=do("s", "out"),
            ),
        ),
    )
    (cue,) = cues(made)
    assert (cue.lead.basis, cue.lead.total) == ("measured", Span.ms(312))
    # One more firing after ten: t(0.975, 9) = 2.262 (NIST/SEMATECH e-Handbook 1.3.6.7.2).
    assert cue.lead.late.in_ms == pytest.approx(4 * 2.262 * 1.1**0.5, abs=1e-3)


def test_a_command_before_zero_is_refused_unless_its_window_bears_it() -> None:
    slow = Simple(name="lamp", needs=Span.ms(200))
    assert codes(one(slow, beat(0.1, do("lamp", "on")))) == ["MOVE-04"]
    assert codes(one(slow, beat(0.1, do("lamp", "on"), window="soft"))) == []


def test_a_move_not_finished_before_the_next_is_refused_with_the_beat_that_would_do() -> None:
    made = one(Slide(name="s"), beat(10, do("s", "out")), beat(10.2, do("s", "back")))
    (finding,) = leads(made, timeline(made).targets).findings
    assert finding.code == "MOVE-02"
    assert finding.says == (
        "s back cannot land at 0:10.200: it needs 300 ms from the command, and s out of 0:10.000 "
        "is at rest only 100 ms after that."
    )
    assert finding.allowed == "Move the beat to 0:10.30 or later."


def test_a_light_may_be_told_something_else_before_it_is_full() -> None:
    slow = Simple(name="lamp", needs=Span.ms(800))
    made = one(slow, beat(10, do("lamp", "on")), beat(10.2, do("lamp", "off")))
    assert codes(made) == []


def test_a_hammer_must_fall_back_before_the_next_strike() -> None:
    made = one(Hammer(name="h"), beat(10, do("h", "strike"), times=2, every=Span.ms(90)))
    (finding,) = leads(made, timeline(made).targets).findings
    assert finding.code == "MOVE-03"
    assert "120 ms between the two: move the beat to 0:10.12 or later" in finding.allowed


def test_what_never_lands_is_refused_in_the_kinds_own_words() -> None:
    made = one(Slide(name="s", why_never="it has no air"), beat(10, do("s", "out")))
    (finding,) = leads(made, timeline(made).targets).findings
    assert str(finding).endswith("s out at 0:10.000 never arrives: it has no air.  [MOVE-01]")


def test_only_the_first_stroke_after_a_dump_meets_no_back_pressure() -> None:
    made = one(
        Slide(name="s"), beat(10, do("s", "out")), beat(12, do("s", "back")), air=Air(dumped=True)
    )
    energies = [cue.lead.impact.energy_j for cue in cues(made) if cue.lead.impact]
    assert energies == [2.0, 0.5]


def test_lag_of_the_screen_moves_the_command_not_the_lead() -> None:
    made = book(
        (Simple(name="lamp"), Glass(name="sea", lag=Span.ms(45))),
        (beat(5, do("lamp", "on")),),
        show=Show(name="T", length=Time.seconds(60), meets="sea"),
    )
    (cue,) = cues(made)
    assert cue.lead.total == Span.ms(2)
    assert cue.at == Time.seconds(5.043)


def test_air_outside_gets_thinner_as_the_standard_atmosphere_says() -> None:
    # ISO 2533 table: 1000 m 898.746 hPa, 3000 m 701.085 hPa (geopotential).
    assert atmosphere(Air(altitude_m=1000.0)) == pytest.approx(89_874.6, rel=2e-4)
    assert atmosphere(Air(altitude_m=3000.0)) == pytest.approx(70_108.5, rel=2e-4)


def test_a_later_beat_never_makes_an_earlier_command() -> None:
    # The slide's lead shrinks by at most 0.2 ms for each ms it is given (100 ms within 500 ms).
    slide = Slide(name="s", lags=Span.ms(100))

    def leaves(at: float) -> Time:
        return cues(one(slide, beat(10, do("s", "out")), beat(at, do("s", "back"))))[1].at

    instants = [leaves(10.4 + 0.01 * n) for n in range(40)]
    assert instants == sorted(instants)
