"""A programme cut again, markers and timecode."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_parts import Simple, beat, book, do

from thundersheet.base.source import Origin, Place
from thundersheet.base.time import Span, Time
from thundersheet.book.read import read_book
from thundersheet.book.splice import Set
from thundersheet.book.write import edit_book
from thundersheet.model.show import Beat, Show, Tempo
from thundersheet.plan.markers import (
    Marker,
    exact,
    from_csv,
    from_edl,
    markers_of,
    to_csv,
    to_edl,
)
from thundersheet.plan.plan import make_plan
from thundersheet.plan.recut import Cut, cuts_between, moved, recut
from thundersheet.plan.timecode import Frames, frame_at, read_timecode, time_of, timecode

PAL = Frames.of(25)
NTSC = Frames.of(29.97)
DROP = Frames.of(29.97, drop=True)
LAMP = (Simple(name="lamp"),)


def written(each: Beat, text: str) -> Beat:
    place = Place("book.yaml", each.origin.place.line, 10)
    return replace(each, origin=Origin(each.origin.place, {"at": place}, {"at": text}))


# SMPTE ST 12-1: numbers 0 and 1 are dropped each minute but the tenth; an hour is 107 892 frames.
@pytest.mark.parametrize(
    ("index", "text"),
    [
        (0, "00:00:00;00"),
        (1799, "00:00:59;29"),
        (1800, "00:01:00;02"),
        (17_981, "00:09:59;29"),
        (17_982, "00:10:00;00"),
        (107_892, "01:00:00;00"),
    ],
)
def test_drop_frame_numbers_skip_as_the_standard_says(index: int, text: str) -> None:
    assert timecode(time_of(index, DROP), DROP) == text
    assert frame_at(read_timecode(text, DROP), DROP) == index


def test_a_dropped_number_and_an_overrun_are_no_timecode() -> None:
    with pytest.raises(ValueError, match="is a number that is dropped"):
        read_timecode("00:01:00;01", DROP)
    with pytest.raises(ValueError, match="beyond 24 frames"):
        read_timecode("00:00:00:25", PAL)
    with pytest.raises(ValueError, match=r"only at 29\.97 and 59\.94"):
        Frames.of(25, drop=True)


RATES = st.sampled_from([PAL, NTSC, DROP, Frames.of(24), Frames.of(59.94, drop=True)])


@given(RATES, st.integers(0, 3_000_000))
def test_timecode_comes_back_for_every_frame(frames: Frames, index: int) -> None:
    text = timecode(time_of(index, frames), frames)
    assert frame_at(read_timecode(text, frames), frames) == index


def test_without_dropping_the_count_runs_behind_the_clock() -> None:
    # 30 numbers to 30000/1001 frames a second: after an hour shown, 3.6 s have gone by unshown.
    hour = read_timecode("01:00:00:00", NTSC)
    assert hour == Time.seconds(Fraction(3600 * 1001, 1000))


MARKERS = (
    Marker(Time.seconds(12.48), "shutter slams open", "shutter-open-1"),
    Marker(Time.seconds(41.5), 'the "one", fright', ""),
)


def test_markers_come_back_from_csv_however_a_spreadsheet_writes_it() -> None:
    assert from_csv(to_csv(MARKERS)) == MARKERS
    semicolons = "\ufeffName;Colour;Time\r\nbang;red;0:12.480\r\n;;\r\n"
    assert from_csv(semicolons) == (Marker(Time.seconds(12.48), "bang"),)
    with pytest.raises(ValueError, match=r"line 3: `soon` is no time"):
        from_csv("time,name\n0:01,a\nsoon,b\n")


@given(
    st.lists(
        st.tuples(
            st.integers(0, 200_000),
            st.text(st.characters(codec="ascii", categories=["L", "N"]), min_size=1),
        ),
        max_size=20,
    ),
    st.sampled_from([PAL, NTSC, DROP]),
)
def test_markers_come_back_from_an_edit_decision_list(
    pairs: list[tuple[int, str]], frames: Frames
) -> None:
    start = read_timecode("01:00:00:00", frames)
    marks = tuple(Marker(time_of(i, frames), name, f"beat-{i}") for i, name in pairs)
    assert from_edl(to_edl(marks, frames, "Gale", start), frames, start) == marks


def test_an_edit_decision_list_looks_as_tape_suites_wrote_it() -> None:
    text = to_edl(MARKERS[:1], PAL, "Gale", Time.seconds(3600))
    assert text == (
        "TITLE: Gale\nFCM: NON-DROP FRAME\n\n"
        "001  AX       V     C        "
        "00:00:12:12 00:00:12:13 01:00:12:12 01:00:12:13\n"
        "* NAME: shutter slams open\n* BEAT: shutter-open-1\n"
    )


def test_a_plan_has_one_marker_a_beat() -> None:
    made = book(
        LAMP,
        (
            beat(5, do("lamp", "on"), what="light"),
            beat(7, do("lamp", "off"), times=2, every=Span.seconds(1)),
        ),
    )
    assert markers_of(make_plan(made)) == (
        Marker(Time.seconds(5), "light", "lamp-on-1"),
        Marker(Time.seconds(7), "lamp-off-1", "lamp-off-1"),
        Marker(Time.seconds(8), "lamp-off-2", "lamp-off-1"),
    )


CUTS = (Cut(Time.seconds(10), Span.seconds(2)), Cut(Time.seconds(20), Span.seconds(-3)))


def test_everything_after_a_cut_moves_and_what_was_cut_out_is_reported() -> None:
    made = book(
        LAMP,
        (
            written(beat(5, do("lamp", "on")), "0:05.000"),
            written(beat(12, do("lamp", "off")), "frame 300"),
            written(beat(21, do("lamp", "on"), what="gone"), "0:21"),
            written(beat(30, do("lamp", "off")), "0:30"),
        ),
        show=Show(name="T", length=Time.seconds(60), frame_rate=25.0),
    )
    found = recut(made, CUTS)
    assert [(e.what, e.old, e.new) for e in found.edits] == [
        ("beat 0:12.000", "frame 300", "frame 350"),
        ("beat 0:30.000", "0:30", "0:29.000"),
        ("show length", "1:00.000", "0:59.000"),
    ]
    assert [(f.code, "(gone)" in f.says) for f in found.findings] == [("CUT-01", True)]


def test_beats_in_bars_move_with_their_tempo_unless_the_cut_goes_through_it() -> None:
    def made(cut: float) -> list[tuple[str, str]]:
        tempo = Tempo(at=Time.seconds(24), per_minute=96.0, counts=3)
        bars = (
            written(beat(24, do("lamp", "on")), "bar 1"),
            written(beat(30, do("lamp", "off")), "bar 4 count 2"),
        )
        show = Show(name="T", length=Time.seconds(60), tempo=(tempo,))
        found = recut(book(LAMP, bars, show=show), (Cut(Time.seconds(cut), Span.seconds(1)),))
        return [(e.what.split()[0], e.new) for e in found.edits]

    assert made(10) == [("tempo", "0:25.000"), ("show", "1:01.000")]
    assert made(26) == [("beat", "0:31.000"), ("show", "1:01.000")]


def test_cuts_are_found_from_two_lists_of_markers() -> None:
    old = [Marker(Time.seconds(s), f"m{s}") for s in (5, 12, 19, 30)]
    new = [Marker(moved(m.at, CUTS), m.name) for m in old]
    cuts = cuts_between(old, new)
    assert [moved(m.at, cuts) for m in old] == [m.at for m in new]


@given(st.integers(0, 10**12))
def test_a_time_written_exactly_loses_nothing(ns: int) -> None:
    ((at,),) = [[m.at for m in from_csv(f"time\n{exact(Time(ns))}\n")]]
    assert at == Time(ns)


def test_a_books_own_lines_are_moved_and_nothing_else_of_it(tmp_path: Path) -> None:
    text = (
        "book: 1\nshow: {name: T, length: 1:00, frame rate: 25}  # a minute\n"
        "devices:\n  lamp: {kind: lamp, volts: 24 V, current: 0.1 A}\n"
        "beats:\n  - {at: 0:05, do: lamp on}\n  - {at: frame 300, do: lamp off}   # mind the dog\n"
    )
    path = tmp_path / "book.yaml"
    path.write_text(text)
    found = recut(read_book(path), (Cut(Time.seconds(10), Span.seconds(2)),))
    edit_book(path, [Set(edit.path, edit.new) for edit in found.edits])
    moved_text = text.replace("frame 300", "frame 350").replace("1:00", "1:02.000")
    assert path.read_text() == moved_text
