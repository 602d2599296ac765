"""One cue for a whole evening: the least bad instant, against brute force over all instants."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from air_parts import BAR, LITRE, aired, cylinder, part
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_parts import beat, book, do

from thundersheet.base.time import Span
from thundersheet.book.read import read_book
from thundersheet.devices._air_parts import Hose, Valve
from thundersheet.devices._cylinder.stroke import area_m2, stroke_of
from thundersheet.devices.air_cylinder import AirCylinder
from thundersheet.model.air import Air, Compressor, Evening
from thundersheet.model.book import Book, Measured
from thundersheet.model.device import Device, Lead, Part, Setting
from thundersheet.model.show import WINDOWS, Window
from thundersheet.physics.gas import GRAVITY
from thundersheet.physics.solve import solve
from thundersheet.plan.air.serve import serve, served_total
from thundersheet.plan.lead import Leads, leads
from thundersheet.plan.plan import make_plan
from thundersheet.plan.timeline import timeline

COLD, WARM = 275.15, 288.15
SMALL = Compressor(delivers_m3_s=1e-6, at_pa=6 * BAR, cut_in_pa=5 * BAR, cut_out_pa=6 * BAR)
MS = 1_000_000


def led(made: Book) -> Leads:
    return leads(made, timeline(made).targets)


def rushed(*devices: Device, shows: int = 45, litres: float = 4.0, **more: object) -> Book:
    """A small tank that a weak compressor does not refill, in cold and mild air."""
    parts = (
        part("tank", "tank", volume_m3=litres * LITRE),
        part("regulator", "regulator", "tank", set_pa=3 * BAR, flow_m3_s_pa=4e-8),
        part("block", "manifold", "regulator", hose=(6.0, 1.0)),
    )
    evening = Evening(shows=shows, every=Span.seconds(60), coldest_k=COLD, warmest_k=WARM)
    return aired(parts, *devices, evening=evening, compressor=SMALL, **more)


def lead_of(ms: float, never: str = "") -> Lead:
    return Lead(
        parts=(Part(name="valve", span=Span.ms(15)), Part(name="moving", span=Span.ms(ms - 15))),
        early=Span.ms(5),
        late=Span.ms(5),
        basis="estimated",
        rest=Span.ms(ms + 5),
        state=None,
        never=never,
    )


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.integers(20, 2000), min_size=2, max_size=6),
    st.integers(-300, 0),
    st.integers(0, 300),
)
def test_no_other_instant_has_a_better_worst_landing(
    totals: list[int], early: int, late: int
) -> None:
    window = Window(Span.ms(early), Span.ms(late))
    found = [lead_of(ms) for ms in totals]
    served, error = serve(window, found, [str(ms) for ms in totals])
    assert error is not None
    assert served.total == served_total(window, found)
    assert all(part.span.ns >= 0 for part in served.parts)
    assert error.early <= Span(0) <= error.late
    assert error.late - error.early == Span.ms(max(totals) - min(totals))

    def worst(lead_ms: float) -> float:
        errors = [ms - lead_ms for ms in totals]
        return max(
            max(max(errors), 0.0) / max(late, 1e-9), max(-min(errors), 0.0) / max(-early, 1e-9)
        )

    if early < 0 < late:
        mine = worst(served.total.in_ms)
        assert all(worst(lead) >= mine - 1e-5 for lead in range(min(totals), max(totals) + 1))
        fits = max(totals) - min(totals) <= late - early
        assert (window.holds(error.early) and window.holds(error.late)) == fits


def test_parts_are_those_of_the_quickest_state_and_the_evening_is_the_rest() -> None:
    served, error = serve(WINDOWS["soft"], [lead_of(300), lead_of(290), lead_of(330)], "abc")
    assert error is not None
    assert {each.name: each.span.in_ms for each in served.parts} == {
        "valve": 15.0,
        "moving": 275.0,
        "evening": 20.0,
    }
    assert (error.early_in, error.late_in) == ("b", "c")
    assert served.bands["evening"] == Span.ms(20)
    assert served.early == served.late == Span.ms(25)  # the worst show is late by all of it


def test_a_state_in_which_it_never_lands_has_no_say_and_is_named() -> None:
    served, error = serve(
        WINDOWS["hit"], [lead_of(300), lead_of(900, "it stalls")], ["usual", "low"]
    )
    assert error is not None
    assert served.total == Span.ms(300)
    assert (error.never_in, error.never) == ("low", "it stalls")


def brute(
    airs: Sequence[Setting], device: AirCylinder, window: Window
) -> tuple[float, list[float]]:
    """The lead in ms with the least worst share of the window, tried each 0.05 ms; and landings.

    Strokes from rest by the stroke solver, which knows nothing of leads.
    """
    landings = []
    for each in airs:
        full = solve(stroke_of(device, each, out=True)).t_full_s
        assert full is not None
        landings.append(1000.0 * full)

    def worst(lead_ms: float) -> float:
        errors = [landing - lead_ms for landing in landings]
        return max(max(errors) / window.late.in_ms, min(errors) / window.early.in_ms)

    tried = [
        min(landings) + 0.05 * k for k in range(int((max(landings) - min(landings)) / 0.05) + 2)
    ]
    return min(tried, key=worst), landings


@pytest.mark.parametrize("window", ["hit", "soft", "tight"])
def test_the_cue_leaves_where_a_search_over_all_instants_would_let_it(window: str) -> None:
    device = cylinder("lid")
    made = rushed(device)
    made = replace(made, beats=(beat(10.0, do("lid", "out"), window=window),))
    found = led(made)
    (cue,) = found.cues
    assert found.airs is not None
    assert cue.evening is not None
    airs = found.airs.settings[cue.id]
    assert len({(each.supply_pa, each.ambient_k) for each in airs}) == 6  # full, half, low; 2 warm
    lead, landings = brute(airs, device, WINDOWS[window])
    assert cue.lead.total.in_ms == pytest.approx(lead, abs=0.1)
    assert cue.evening.early.in_ms == pytest.approx(min(landings) - lead, abs=0.1)
    assert cue.evening.late.in_ms == pytest.approx(max(landings) - lead, abs=0.1)


def test_extremes_lie_at_the_corners_of_pressure_and_temperature() -> None:
    device = cylinder("lid")
    (cue,) = (found := led(rushed(device))).cues
    assert found.airs is not None
    assert cue.evening is not None
    airs = found.airs.settings[cue.id]
    supplies = [each.supply_pa or 0.0 for each in airs]
    kelvins = [each.ambient_k for each in airs]
    low, high, cold, warm = min(supplies), max(supplies), min(kelvins), max(kelvins)
    assert high - low > 20_000.0
    for i, k in product(range(5), range(5)):
        inside = replace(
            airs[0],
            supply_pa=low + (high - low) * i / 4,
            ambient_k=cold + (warm - cold) * k / 4,
        )
        full = solve(stroke_of(device, inside, out=True)).t_full_s
        assert full is not None
        error = 1000.0 * full - cue.lead.total.in_ms
        assert cue.evening.early.in_ms - 0.05 <= error <= cue.evening.late.in_ms + 0.05


@settings(max_examples=25, deadline=None)
@given(st.floats(2.0, 6.0), st.floats(0.05, 0.3), st.floats(5e-9, 2e-8), st.floats(0.2, 0.5))
def test_a_load_that_is_lifted_never_comes_earlier_for_less_pressure(
    bar: float, less: float, meter: float, share: float
) -> None:
    """As in the reference model's section 8, where 15 kg straight up lose 8.5 ms to 5 psi."""
    plain = Setting(supply_pa=bar * BAR + 101_325.0)
    weak = replace(plain, supply_pa=bar * BAR * (1.0 - less) + 101_325.0)
    thrust = bar * BAR * (1.0 - less) * area_m2(cylinder(), True)
    device = replace(quick(meter), incline="up", moves_kg=share * thrust / GRAVITY)
    assert total_in(device, weak) >= total_in(device, plain)


@settings(max_examples=25, deadline=None)
@given(st.floats(2.0, 6.0), st.floats(1.0, 25.0), st.floats(5e-9, 2e-8), st.floats(0.2, 3.0))
def test_no_stroke_comes_earlier_for_more_cold(
    bar: float, colder: float, meter: float, load: float
) -> None:
    """Sound and flow go with the root of the temperature (ISO 6358-1); air.md: 20 K are 9.4 ms."""
    plain = Setting(supply_pa=bar * BAR + 101_325.0)
    cold = replace(plain, ambient_k=plain.ambient_k - colder)
    device = replace(quick(meter), moves_kg=load)
    assert total_in(device, cold) >= total_in(device, plain)


def quick(meter: float) -> AirCylinder:
    return replace(
        cylinder(),
        exhaust_restriction_m3_s_pa=meter,
        hose=Hose(bore_m=6e-3, length_m=1.0),
        valve=Valve(flow_m3_s_pa=3e-8),
    )


def total_in(device: AirCylinder, air: Setting) -> float:
    """Milliseconds to the landing, to what the stroke's accuracy is."""
    air = replace(air, landing_only=True)
    found = device.lead(do("lid", "out"), "arrives", device.at_rest(air), None, air)
    return round(found.total.in_ms, 1)


def test_each_state_of_the_air_carries_its_own_state_from_stroke_to_stroke() -> None:
    device = cylinder("lid")
    made = rushed(device)
    beats = (beat(10.0, do("lid", "out")), beat(11.0, do("lid", "back"), window="soft"))
    found = led(replace(made, beats=beats))
    out, back = found.cues
    assert found.airs is not None
    assert back.evening is not None
    since = back.at.since(out.at)
    totals = []
    for first, second in zip(
        found.airs.settings[out.id], found.airs.settings[back.id], strict=True
    ):
        before = device.lead(do("lid", "out"), "arrives", device.at_rest(first), None, first)
        then = device.lead(do("lid", "back"), "arrives", before.state, since, second)
        totals.append(then.total.in_ms)
    assert back.lead.total.in_ms == pytest.approx(
        served_total(WINDOWS["soft"], [lead_of(ms) for ms in totals]).in_ms, abs=0.1
    )


def test_a_measured_lead_is_kept_and_the_evening_spreads_about_it() -> None:
    device = cylinder("lid")
    made = rushed(device)
    (model,) = led(made).cues
    assert model.evening is not None
    spread = model.evening.late - model.evening.early
    measured = Measured(
        name="lid out", lead=Span.ms(250), spread=Span.ms(3), firings=10, move=do("lid", "out")
    )
    (cue,) = led(replace(made, measured=(measured,))).cues
    assert cue.evening is not None
    assert cue.lead.basis == "measured"
    usual = led(replace(made, evening=None)).cues[0].lead.total
    ratio = 250.0 / usual.in_ms
    assert (cue.evening.late - cue.evening.early).in_ms == pytest.approx(spread.in_ms * ratio, 0.02)
    assert cue.lead.total + cue.evening.early <= Span.ms(250) <= cue.lead.total + cue.evening.late


def test_an_evening_that_never_changes_changes_no_cue() -> None:
    """`set` alone and one temperature: the same cues to the nanosecond, the same fingerprint."""
    device = cylinder("lid", pressure_pa=3 * BAR)
    made = book(
        (device,),
        (beat(10.0, do("lid", "out")), beat(12.0, do("lid", "back"))),
        air=Air(set_pa=3 * BAR, ambient_k=285.15),
    )
    evening = replace(made, evening=Evening(shows=40, every=Span.seconds(90)))
    one, other = make_plan(made), make_plan(evening)
    assert [cue.at for cue in one.cues] == [cue.at for cue in other.cues]
    assert one.fingerprint == other.fingerprint
    assert all(
        cue.evening is not None and cue.evening.early == cue.evening.late == Span(0)
        for cue in other.cues
    )
    assert one.evening is None
    assert all(cue.evening is None for cue in one.cues)


@pytest.mark.parametrize(
    ("scenario", "fingerprint"), [("lamp-room", "a37928d4"), ("number-three-cage", "b63e470f")]
)
def test_books_without_plumbing_and_evening_plan_as_before_there_were_any(
    scenario: str, fingerprint: str
) -> None:
    """Fingerprints, hence every cue to the nanosecond, of version 1 of these books."""
    made = read_book(Path(__file__).parents[2] / "examples" / scenario / "book.yaml")
    bare = replace(made.air, parts=(), compressor=None, leaks_m3_s_anr=None, leak_down=None)
    assert make_plan(replace(made, evening=None, air=bare)).fingerprint == fingerprint
    assert make_plan(made).evening is not None
