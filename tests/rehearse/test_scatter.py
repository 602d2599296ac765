"""Shows drawn by lot: the same whatever the workers, right in closed cases, true to the stroke."""

from dataclasses import replace
from math import log, sqrt
from statistics import NormalDist

import numpy as np
import pytest
from tests.physics.cases import plain
from tests.rehearse.scatter_parts import BOOK, WIDE, doubt, study

from thundersheet.base.finding import Refusal
from thundersheet.book.read import read_text
from thundersheet.physics.gas import P_ATM
from thundersheet.physics.solve import solve
from thundersheet.plan.plan import make_plan
from thundersheet.rehearse.scatter.chunk import joined, run_chunk
from thundersheet.rehearse.scatter.draw import CHUNK, drawn, errors_ms
from thundersheet.rehearse.scatter.shows import inside_of, scatter
from thundersheet.rehearse.scatter.study import study_of
from thundersheet.rehearse.scatter.workers import errors_on

SHOWS = 4000


@pytest.fixture(scope="module")
def book():
    return read_text(BOOK)


@pytest.fixture(scope="module")
def plan(book):
    return make_plan(book)


@pytest.fixture(scope="module")
def one_stroke(book, plan):
    return study_of(book, plan)


def errors(found, seed, shows):
    return joined(errors_on("", found, seed, shows, lambda _: None).parts)


def column(found, cue):
    return [beat.cue for beat in found.beats].index(cue)


# The draws


def test_a_show_is_the_same_however_many_are_drawn(one_stroke):
    few, many = errors(one_stroke, 5, 70), errors(one_stroke, 5, CHUNK + 90)
    assert np.array_equal(few, many[:, :70])


def test_each_chunk_and_each_seed_draws_its_own(one_stroke):
    first, second, other = drawn(one_stroke, 1, 0), drawn(one_stroke, 1, 1), drawn(one_stroke, 2, 0)
    assert not np.isin(first, second).any()
    assert not np.isin(first, other).any()


def test_draws_are_standard_normal():
    # Kolmogorov-Smirnov by the asymptotic 0.1 % point, 1.95/sqrt(n) (Smirnov 1948).
    z = np.sort(np.concatenate([drawn(study(doubt("x", 1.0)), 3, c)[:, 0] for c in range(16)]))
    below = np.array([NormalDist().cdf(value) for value in z])
    steps = np.arange(1, len(z) + 1) / len(z)
    assert np.abs(below - steps).max() < 1.95 / sqrt(len(z))


# Closed cases


def test_independent_doubts_add_as_squares():
    # Variance of a sum; the sample's own sd has a relative standard error of 1/sqrt(2 n).
    found = errors(study(doubt("a", 0.003), doubt("b", 0.004)), 1, SHOWS)[0, :, 0]
    assert found.std() == pytest.approx(5.0, rel=4 / sqrt(2 * SHOWS))
    assert abs(found.mean()) < 4 * 5.0 / sqrt(SHOWS)


def test_an_even_doubt_fills_its_width():
    # A uniform distribution of half width h has the sd h/sqrt(3).
    found = errors(study(doubt("frame", 0.02, law="uniform")), 1, SHOWS)[0, :, 0]
    assert found.min() >= -20.0
    assert found.max() <= 20.0
    assert found.std() == pytest.approx(20 / sqrt(3), rel=0.05)


def test_the_share_inside_is_that_of_the_normal_distribution():
    sd = 30.0
    found = study(doubt("a", sd / 1000))
    share = inside_of(found, errors(found, 1, SHOWS))[0].mean()
    true = NormalDist(0, sd).cdf(WIDE.late.in_ms) - NormalDist(0, sd).cdf(WIDE.early.in_ms)
    assert share == pytest.approx(true, abs=4 * sqrt(true * (1 - true) / SHOWS))


def test_tuning_leaves_only_what_varies():
    both = study(doubt("a", 0.003, drawn="fixed"), doubt("b", 0.004))
    alone = study(doubt("a", 0.003, drawn="fixed"))
    assert errors(both, 1, SHOWS)[1, :, 0].std() == pytest.approx(4.0, rel=0.05)
    assert np.ptp(errors(alone, 1, 300)[1]) == 0.0


# The stroke


def test_a_drawn_show_lands_as_its_stroke_reckoned_by_itself(one_stroke):
    """Every number of the draw put into a stroke by hand, run by the solver of single strokes."""
    beat = one_stroke.beats[column(one_stroke, "arm-lands")]
    z = drawn(one_stroke, 11, 0)[:5]
    for row, error in zip(z, errors_ms(beat, z, one_stroke), strict=True):
        acts = {}
        for effect in beat.effects:
            acts.setdefault(effect.on, []).append(effect.sd * row[effect.column])
        lands = solve(by_hand(beat.stroke, acts)).t_full_s
        assert error == pytest.approx(1000 * (beat.base_s + lands + sum(acts["late"])), abs=0.1)


def by_hand(stroke, acts):
    share = {on: np.exp(amounts[0]) for on, amounts in acts.items() if on != "ambient"}
    air, kelvins = stroke.first_air, acts["ambient"][0]

    def pa(value):
        return P_ATM + (value - P_ATM) * share["supply"]

    def parts(group, by):
        return tuple(replace(part, c_m3_s_pa=part.c_m3_s_pa * by) for part in group)

    def tube(old):
        return replace(old, length_m=old.length_m * share["hose"])

    sides = ("drive", "exhaust", "drive_tube", "exhaust_tube")
    moved = {f"{s}_pa": pa(getattr(air, f"{s}_pa")) for s in sides}
    moved |= {f"{s}_k": getattr(air, f"{s}_k") + kelvins for s in sides}
    return replace(
        stroke,
        valve_delay_s=stroke.valve_delay_s + sum(acts["delay"]),
        supply_pa=pa(stroke.supply_pa),
        ambient_k=stroke.ambient_k + kelvins,
        air=replace(air, **moved),
        breakaway_n=stroke.breakaway_n * share["friction"],
        coulomb_n=stroke.coulomb_n * share["friction"],
        drive_valve=parts(stroke.drive_valve, share["valve flow"]),
        exhaust_valve=parts(stroke.exhaust_valve, share["valve flow"]),
        exhaust_end=parts(stroke.exhaust_end, share["flow control"]),
        drive_tube=tube(stroke.drive_tube),
        exhaust_tube=tube(stroke.exhaust_tube),
        load_kg=stroke.load_kg * share["load"],
    )


@pytest.mark.parametrize(
    ("on", "unit", "amount", "later_ms"),
    [
        ("supply", "share", log(0.9), 2.5),
        ("load", "share", log(2.0), 6.8),
        ("flow control", "share", log(0.9), 9.9),
        ("hose", "share", log(4.0 / 3.0), 32.0),
        ("delay", "s", 0.005, 5.0),
        ("ambient", "K", -20.0, 9.4),
    ],
)
def test_what_moves_the_hit_moves_it_as_in_the_prototype(on, unit, amount, later_ms):
    # Reference model, section 8 (an independent prototype): pressure -10 % +2.5 ms, mass x2 +6.8,
    # flow control -10 % +9.9, tube +1 m +32, valve +5 ms +5, 20 K colder +9.4.
    stroke = plain()
    one = study(doubt(on, amount, unit=unit), on=(on,), stroke=stroke, lead_s=0.0)
    still, moved = errors_ms(one.beats[0], np.array([[0.0], [1.0]]), one)
    assert moved - still == pytest.approx(later_ms, abs=0.1 + 0.06 * later_ms)


def test_with_nothing_off_every_cue_lands_where_the_plan_expects_it(one_stroke, plan):
    nothing = np.zeros((1, len(one_stroke.doubts)))
    for beat, cue in zip(one_stroke.beats, plan.cues, strict=True):
        planned = cue.expected_error.in_ms
        assert errors_ms(beat, nothing, one_stroke)[0] == pytest.approx(planned, abs=0.1)


@pytest.mark.parametrize(
    "more",
    [
        "exact flow: yes",
        "acting: single",
        "cushion: {length: 10 mm}",
        "hose: {bore: 4 mm, length: 3 m}",
        (
            "linkage: lid\n    lid: {hinge to foot: 300 mm, hinge to pin: 200 mm, angle: 60 deg, "
            "length: 600 mm}"
        ),
    ],
)
def test_cylinders_of_every_sort_scatter_about_where_the_plan_expects_them(more):
    text = BOOK.replace("    moves: 1 kg\n", f"    moves: 1 kg\n    {more}\n")
    if "hose" in more:
        text = text.replace("    hose: {bore: 4 mm, length: 1 m}\n", "")
    book, plan = planned(text)
    one = study_of(book, plan)
    assert {beat.by for beat in one.beats} == {"stroke by stroke", "linear"}
    z = np.concatenate((np.zeros((1, len(one.doubts))), drawn(one, 1, 0)[:40]))
    for beat, cue in zip(one.beats, plan.cues, strict=True):
        still, *moved = errors_ms(beat, z, one)
        assert still == pytest.approx(cue.expected_error.in_ms, abs=0.1)
        # The plan's own band is meant as 95 % from the same doubts, one value at a time.
        band = max(cue.lead.early.in_ms, cue.lead.late.in_ms)
        assert np.std(moved) == pytest.approx(band / 1.96, rel=0.6)


def test_a_value_that_a_device_has_once_is_drawn_once_a_show(one_stroke):
    columns = {(each.name, each.of): at for at, each in enumerate(one_stroke.doubts)}
    out = one_stroke.beats[column(one_stroke, "arm-lands")].columns
    back = one_stroke.beats[column(one_stroke, "arm-home")].columns
    for shared in (("friction", "arm"), ("pressure", ""), ("temperature", "")):
        assert columns[shared] in out
        assert columns[shared] in back
    assert columns["valve jitter", "arm-lands"] not in back
    assert columns["flow control", "arm out"] not in back


def test_what_the_book_says_of_spreads_is_drawn():
    said = BOOK + (
        "spreads: {friction: 10 %, flow control: 0 %, pressure: 2 %, temperature: 3, jitter: 1 ms,"
        " decoding: 4 ms}\n"
    )
    found = {each.name: each for each in study_of(*planned(said)).doubts}
    usual = {each.name: each for each in study_of(*planned(BOOK)).doubts}
    # 95 % of a normal distribution lie within 1.96 of its standard deviations.
    assert found["friction"].sd == pytest.approx(log(1.1) / 1.96, rel=1e-4)
    assert found["pressure"].sd == pytest.approx(log(1.02) / 1.96, rel=1e-4)
    assert found["temperature"].sd == pytest.approx(3 / 1.96, rel=1e-4)
    assert (found["valve jitter"].sd, found["decoding"].sd) == (0.001, 0.004)
    assert "flow control" in usual
    assert "flow control" not in found
    assert {found[name].source for name in ("friction", "valve jitter", "decoding")} == {
        "the book's `spreads`"
    }
    assert found["load"] == usual["load"]


def planned(text):
    book = read_text(text)
    return book, make_plan(book)


# The result


def test_the_result_says_beat_by_beat_what_the_errors_are(book, plan, one_stroke):
    found = scatter(book, plan, 500, 9)
    raw = errors(one_stroke, 9, 500)
    at = column(one_stroke, "knock")
    knock = next(each for each in found.spreads if each.cue == "knock")
    assert knock.mean_ms == raw[0, :, at].mean()
    assert knock.sd_ms == raw[0, :, at].std(ddof=1)
    assert dict(knock.quantiles)[0.5] == np.median(raw[0, :, at])
    assert knock.inside == np.mean(np.abs(raw[0, :, at]) <= 5.0)
    every = inside_of(one_stroke, raw)[0].all(axis=1).mean()
    assert found.all_inside == every <= min(each.inside for each in found.spreads)
    assert found.tuned_all_inside >= found.all_inside


def test_a_stroke_that_stalls_in_some_shows_counts_as_missing_there():
    # 60 N of push at 4 bar less friction that is tripled in the upper half: it stalls there.
    stuck = plain(breakaway_n=300.0, coulomb_n=290.0)
    half = study(
        doubt("friction", 1.5, unit="share"), on=("friction",), stroke=stuck, base_s=0.0, lead_s=0.0
    )
    found = errors(half, 1, 200)[0, :, 0]
    push = stuck.drive_area_m2 * (stuck.supply_pa - P_ATM)
    z = drawn(half, 1, 0)[:200, 0]
    stalls = 300.0 * np.exp(1.5 * z) > push
    assert stalls.any()
    assert np.array_equal(np.isnan(found), stalls)
    assert not inside_of(half, errors(half, 1, 200))[0, stalls].any()


def test_a_cue_that_never_lands_is_missing_in_every_show():
    # 4 bar on 25 mm push with 196 N; 40 kg straight up weigh 392 N.
    book, plan = planned(BOOK.replace("moves: 1 kg", "moves: 40 kg\n    incline: up"))
    found = scatter(book, plan, 20, 1)
    arm = found.spreads[0]
    assert (arm.cue, arm.missing, arm.inside, found.all_inside) == ("arm-lands", 20, 0.0, 0.0)
    assert next(f.about for f in found.findings if f.grade == "warn") == ("arm-lands",)


def test_a_measured_lead_scatters_as_it_was_measured():
    # 25 firings, sd 6 ms: from firing to firing 6 ms, its mean known to 6/sqrt(25).
    text = BOOK.replace("exhaust restriction: 0.08 Cv", "") + (
        "measured:\n  arm out: {lead: 250 ms, spread: 6 ms, firings: 25}\n"
    )
    measured = read_text(text)
    found = scatter(measured, make_plan(measured), SHOWS, 2)
    arm = next(each for each in found.spreads if each.cue == "arm-lands")
    assert arm.by == "measured"
    sds = {each.name: each.sd for each in found.doubts}
    assert sds["measured spread"] == 0.006
    assert sds["measured lead"] == pytest.approx(0.006 / 5)
    # What a colder night adds on top is the model's, and small here.
    assert 6.0 < arm.tuned_sd_ms < 9.0
    assert abs(arm.mean_ms) < 1.0


def test_a_beat_that_too_many_shows_miss_is_said(book):
    narrow = read_text(BOOK.replace("-5..+5 ms", "-1..+1 ms"))
    found = scatter(narrow, make_plan(narrow), 500, 1).findings
    assert [(f.code, f.grade, f.about) for f in found if "knock" in f.about] == [
        ("SCAT-10", "warn", ("knock",))
    ]
    assert scatter(book, make_plan(book), 500, 1).findings == ()


# The workers


def test_processes_of_this_machine_give_the_same_numbers(one_stroke):
    here = errors(one_stroke, 4, 2 * CHUNK + 30)
    steps = []
    there = errors_on("2", one_stroke, 4, 2 * CHUNK + 30, steps.append)
    assert np.array_equal(joined(there.parts), here, equal_nan=True)
    assert steps == [1 / 3, 2 / 3, 1.0]


@pytest.mark.parametrize("words", ["0", "many", "host:8786", "http://host:8786", "300", "-2"])
def test_workers_that_mean_nothing_are_refused(one_stroke, words):
    with pytest.raises(Refusal, match="SCAT-02"):
        errors_on(words, one_stroke, 1, 10, lambda _: None)


def test_a_chunk_holds_as_many_shows_as_are_left(one_stroke):
    assert run_chunk(one_stroke, 1, 1, CHUNK + 7).shape == (2, 7, len(one_stroke.beats))
