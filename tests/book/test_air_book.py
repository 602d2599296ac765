"""What the book says of its air is read whole, and what cannot be is said with what would be."""

from __future__ import annotations

from datetime import datetime

import pint
import pytest
from book_parts import WITH_AIR, codes, read, refused
from hypothesis import given
from hypothesis import strategies as st

from thundersheet.base.read_time import read_clock, read_stretch
from thundersheet.base.units import UnitError
from thundersheet.model.air import PART_KINDS, AirPart

UNITS = pint.UnitRegistry()


def with_air(lines: str) -> str:
    """The book with other lines under `air`, and no devices."""
    return f"book: 1\nshow: {{name: Gale, length: 1:24}}\nair:\n{lines}"


def test_the_whole_air_system_is_read_in_si() -> None:
    book = read(WITH_AIR)
    air, compressor = book.air, book.air.compressor
    assert compressor is not None
    # pint 0.25 converts; the book's own table must agree.
    assert compressor.delivers_m3_s == pytest.approx(UNITS("60 l/min").to("m^3/s").magnitude)
    assert compressor.also_delivers_m3_s == pytest.approx(UNITS("45 l/min").to("m^3/s").magnitude)
    assert compressor.cut_out_pa == pytest.approx(UNITS("8 bar").to("Pa").magnitude)
    assert compressor.duty == pytest.approx(0.6)
    assert [(a.s, b.s) for a, b in compressor.quiet] == [(72_000.0, 79_200.0)]
    assert [part.kind for part in air.parts][:4] == ["tank", "shut-off", "filter", "regulator"]
    near = air.parts[6]
    assert (near.fed_by, near.hose and near.hose.bore_m) == ("soft", pytest.approx(0.006))
    assert near.volume_m3 == pytest.approx(UNITS("2 l").to("m^3").magnitude)
    assert air.leak_down is not None
    assert air.leak_down.within.s == 600.0
    assert air.leak_down.loses_pa == pytest.approx(UNITS("0.5 bar").to("Pa").magnitude)
    assert book.device("shutter").air_from == "manifold"  # type: ignore[attr-defined]
    assert book.variants[0].tank_below_pa == pytest.approx(UNITS("4 bar").to("Pa").magnitude)


def test_the_evening_is_read_with_its_clock_and_its_cold() -> None:
    evening = read(WITH_AIR).evening
    assert evening is not None
    assert (evening.shows, evening.every and evening.every.s) == (40, 104.0)
    assert evening.coldest_k == pytest.approx(UNITS.Quantity(2, "degC").to("K").magnitude)
    assert (evening.begins and evening.begins.s, evening.ends and evening.ends.s) == (68400, 79200)


def test_a_book_with_a_set_pressure_alone_has_no_plumbing_and_no_evening() -> None:
    book = read("book: 1\nshow: {name: Gale, length: 1:24}\nair: {set: 60 psi}\n")
    assert book.air.set_pa == pytest.approx(UNITS("60 psi").to("Pa").magnitude)
    assert (book.air.parts, book.air.compressor, book.evening) == ((), None, None)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "from: shut-off,",
            "from: shut-of,",
            ("`from` names the part `shut-of`, which is not in the book. Did you mean `shut-off`? "
            "Known here: dump, filter, manifold, near, regulator, shut-off, soft, tank.  "
            "[BOOK-46]"),
        ),
        (
            "air from: near,",
            "air from: nearby,",
            ("`air from` names the part `nearby`, which is not in the book. Did you mean `near`? "
            "Known here: dump, filter, manifold, near, regulator, shut-off, soft, tank.  "
            "[BOOK-46]"),
        ),
        (
            "fills: tank",
            "fills: tanks",
            ("`fills` names the part `tanks`, which is not in the book. Did you mean `tank`? "
            "Known here: dump, filter, manifold, near, regulator, shut-off, soft, tank.  "
            "[BOOK-46]"),
        ),
        (
            "kind: soft-start valve",
            "kind: soft start valve",
            ("`kind` cannot be `soft start valve`. Did you mean `soft-start valve`? Known here: "
            "check valve, dryer, dump valve, filter, lubricator, manifold, regulator, shut-off, "
            "soft-start valve, tank.  [BOOK-32]"),
        ),
        (
            "kind: dump valve, from: regulator",
            "kind: dump valve, from: regulator, set: 3 bar",
            ("`dump` is a dump valve, and `set` belongs to a regulator. Remove `set`, or mend its "
            "`kind`.  [BOOK-56]"),
        ),
        (
            "from: filter, set: 2.5 bar",
            "from: filter, volume: 2 l",
            ("`regulator` is a regulator, and `volume` belongs to a tank or manifold. Remove "
            "`volume`, or mend its `kind`.  [BOOK-56]"),
        ),
        (
            "volume: 24 l",
            "volume: 24 bar",
            "`volume`: `24 bar` is a pressure, where a volume is wanted.",
        ),
        (
            "flow: 1 Cv",
            "flow: 300 l/min",
            ("`flow`: `300 l/min` will not do here: a flow depends on the pressures; if it is the "
            "nominal flow (6 to 5 bar gauge), write `Qn 250 l/min`.  [BOOK-30]"),
        ),
        (
            "cut in: 6 bar, cut out: 8 bar",
            "cut in: 8 bar, cut out: 6 bar",
            ("The compressor cuts in at 8 bar and out at 6 bar. It cuts in below where it cuts "
            "out.  [BOOK-57]"),
        ),
        (
            "also at: 8 bar",
            "also at: 5 bar",
            ("`also at` is 5 bar, and `at` is 6 bar. The second pressure is the higher one."
            "  [BOOK-57]"),
        ),
        (
            "also delivers: 45 l/min",
            "also delivers: 75 l/min",
            ("The compressor delivers more at the higher of its two pressures. Exchange the two."
            "  [BOOK-57]"),
        ),
        (
            "also at: 8 bar,",
            "",
            ("The compressor has `also delivers` alone. Write `also delivers` and `also at`."
            "  [BOOK-57]"),
        ),
        (
            "delivers: 60 l/min, at: 6 bar,",
            "delivers: 60 l/min,",
            ("The compressor says at what pressure it `also delivers`, but not for the first. "
            "Write `at: 6 bar` beside `delivers`.  [BOOK-57]"),
        ),
        (
            "quiet: 20:00-22:00",
            "quiet: evenings",
            ("`quiet`: `evenings` is no stretch of the day. Write it from clock to clock: "
            "`20:00-22:00`.  [BOOK-30]"),
        ),
        (
            "quiet: 20:00-22:00",
            "quiet: 20:00-25:00",
            ("`quiet`: `25:00` is a time that no clock shows. Write a time of day as in `19:30` or "
            "`7:30 pm`.  [BOOK-30]"),
        ),
        (
            "begins: 19:00",
            "begins: 19",
            ("`begins`: `19` is no time of day. Write a time of day as in `19:30` or `7:30 pm`."
            "  [BOOK-30]"),
        ),
        (
            "delivers: 60 l/min, at",
            "delivers: 60 scfm, at",
            ("`delivers`: `60 scfm` will not do here: here the volume counts as it is sucked in or "
            "pumped, not as standard air: write `cfm`.  [BOOK-30]"),
        ),
        (
            "leak down: {",
            "leaks: 0.5 l/min\n  leak down: {",
            ("The leaks are said twice, as `leaks` and as `leak down`. Keep what was measured."
            "  [BOOK-58]"),
        ),
        (
            "coldest: 2 C",
            "coldest: 20 C",
            "`coldest` is warmer than `warmest`. Exchange the two.  [BOOK-59]",
        ),
        (
            "ends: 10 pm",
            "ends: 7 pm",
            "The evening ends when it begins.  [BOOK-59]",
        ),
        (
            "shut-off:  {kind: shut-off, from: tank}",
            "shut-off:  {kind: shut-off, from: shut-off}",
            "`shut-off` cannot feed itself. Name the part before it.  [BOOK-46]",
        ),
        (
            "volume: 24 l, ",
            "",
            "`tank` has no `volume`. Write `volume: 24 l`.  [BOOK-21]",
        ),
    ],
)  # fmt: skip
def test_what_contradicts_itself_is_said_in_one_sentence(old: str, new: str, message: str) -> None:
    assert old in WITH_AIR
    (said,) = refused(WITH_AIR.replace(old, new, 1))
    assert said.split(": ", 1)[1].startswith(message)


def test_a_misspelt_key_of_a_part_names_the_nearest_one() -> None:
    (said,) = refused(WITH_AIR.replace("port: 3/8", "prot: 3/8"))
    assert "Did you mean `port`?" in said


def test_a_compressor_or_a_leak_without_a_tank_is_refused() -> None:
    assert codes(with_air("  leaks: 1 l/min\n")) == ["BOOK-21"]
    assert codes(
        with_air("  compressor: {delivers: 60 l/min, cut in: 6 bar, cut out: 8 bar}\n")
    ) == ["BOOK-21"]


def test_a_variant_chosen_by_the_tank_needs_a_tank() -> None:
    book = "book: 1\nshow: {name: Gale, length: 1:24}\nair: {set: 2 bar}\nvariants:\n"
    assert codes(f"{book}  air low: {{tank below: 4 bar}}\n") == ["BOOK-47"]


@given(st.integers(0, 23), st.integers(0, 59))
def test_a_time_of_day_is_read_as_the_standard_library_reads_it(hour: int, minute: int) -> None:
    for pattern in ("%H:%M", "%I:%M %p"):
        text = datetime(2026, 10, 31, hour, minute).strftime(pattern)
        at = datetime.strptime(text, pattern)
        assert read_clock(text).s == 3600 * at.hour + 60 * at.minute


@pytest.mark.parametrize("text", ["24:01", "7:60", "0 pm", "13 pm", "19", "noon", "", "7:3"])
def test_what_no_clock_shows_is_no_time_of_day(text: str) -> None:
    with pytest.raises(UnitError):
        read_clock(text)


def test_a_stretch_may_pass_midnight_but_not_be_nothing() -> None:
    begins, ends = read_stretch("22:00 - 6:00")
    assert (begins.s, ends.s) == (79_200.0, 21_600.0)
    with pytest.raises(UnitError, match="begins and ends at once"):
        read_stretch("20:00-8 pm")


@pytest.mark.parametrize("kind", PART_KINDS)
def test_a_part_passes_more_the_larger_its_port_is(kind: str) -> None:
    flows = [AirPart(kind=kind, port=port).passes_m3_s_pa for port in ("1/8", "1/4", "3/8", "1/2")]
    assert flows == sorted(flows)
    written = AirPart(kind=kind, flow_m3_s_pa=1e-8)
    assert written.passes_m3_s_pa == 1e-8
