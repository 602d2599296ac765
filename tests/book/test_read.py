"""A book that is right: every value read, with its place and the text that was written."""

from pathlib import Path

import pytest
from book_parts import HEAD, read

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.base.time import Span, Time
from thundersheet.book.read import book_path, read_book
from thundersheet.model.device import Move
from thundersheet.model.show import WINDOWS, Window


def test_values_come_in_si_and_exact_time() -> None:
    book = read(HEAD)
    assert book.show.length == Time.seconds(84)
    assert book.air.set_pa == pytest.approx(413685.4375901)
    assert [device.name for device in book.devices] == ["window", "lamp", "lamp two", "fan"]
    assert book.device("fan").KIND == "fan"


def test_every_value_knows_its_place_and_its_text() -> None:
    book = read(HEAD)
    origin = book.air.origin
    assert origin.of("set_pa") == Place("book.yaml", 7, 12)
    assert origin.texts["set_pa"] == "60 psi"
    assert not origin.wrote("ambient_k")
    lamp = book.device("lamp").origin
    assert lamp.place == Place("book.yaml", 12, 9)
    assert lamp.of("on") == Place("book.yaml", 12, 55)


def test_messages_will_use_the_units_that_the_builder_writes_most() -> None:
    units = read(HEAD).units
    assert units.show(413685.4375901, "pressure") == "60 psi"
    assert units.units["current"] == "A"  # twice, against mA once


def test_words_that_other_yaml_turns_into_numbers_or_flags_stay_text() -> None:
    book = read(HEAD.replace("name: Gale", "name: 12:30") + "beats:\n  - {at: 0:01, what: no}\n")
    assert book.show.name == "12:30"
    assert book.beats[0].what == "no"


def test_beats_are_understood_as_moves() -> None:
    book = read(
        HEAD
        + """\
beats:
  - {at: 0:12.480, what: both, do: [lamp on, lamp two burn], window: -20..+40 ms}
  - {at: frame 312, do: lamp two off, window: Soft}
  - {at: bar 2 count 3, do: fan on, times: 2, every: 0.6 s}
"""
    )
    first, second, third = book.beats
    assert first.moves == (
        Move(device="lamp", action="on"),
        Move(device="lamp two", action="on"),
    )
    assert first.window == Window(Span.ms(-20), Span.ms(40))
    assert (second.at, second.window) == (Time.seconds(12.48), WINDOWS["soft"])
    assert second.moves == (Move(device="lamp two", action="off"),)
    assert third.at == Time.seconds(13)  # four counts and two more at 120 a minute, from 0:10


def test_rules_variants_and_measurements_are_understood_too() -> None:
    book = read(
        HEAD
        + """\
rules:
  - {never together: [lamp on, fan on], because: fuse}
  - {first: lamp on, then: fan on, apart: 2 s}
beats:
  - {at: 0:05, name: dawn, do: lamp on}
variants:
  quiet: {leave out: [fan, lamp on, dawn], instead: {lamp two burn: lamp on}, louder: -10 dB}
measured:
  lamp two burn: {lead: 31 ms}
"""
    )
    on, fan = Move(device="lamp", action="on"), Move(device="fan", action="on")
    assert book.rules[0].states == (on, fan)
    assert (book.rules[1].first_move, book.rules[1].then_move) == (on, fan)
    quiet = book.variants[0]
    assert (quiet.without_devices, quiet.without_beats) == (("fan",), ("dawn",))
    assert quiet.without_moves == (on,)
    assert quiet.swaps == ((Move(device="lamp two", action="on"), on),)
    assert book.measured[0].move == Move(device="lamp two", action="on")


def test_an_alias_stands_for_one_whole_value() -> None:
    book = read(HEAD.replace("volts: 24 V", "volts: &rail 24 V") + "supplies: {a: {volts: *rail, "
                "current: 2 A}}\n")  # fmt: skip
    assert book.supplies[0].volts_v == 24.0


def test_an_empty_group_is_as_good_as_none() -> None:
    assert read(HEAD + "guests:\nrules:\nbeats:\n").beats == ()


def test_one_record_may_stand_for_a_list_of_one() -> None:
    assert len(read(HEAD + "beats: {at: 0:01, do: fan on}\n").beats) == 1


def test_windows_line_ends_and_a_byte_order_mark_change_nothing(tmp_path: Path) -> None:
    path = tmp_path / "book.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + HEAD.replace("\n", "\r\n").encode())
    assert read_book(path) == read(HEAD)
    path.write_bytes(b"\xff\xfe" + HEAD.encode("utf-16-le"))
    assert read_book(path).air == read(HEAD).air


def test_a_folder_stands_for_the_book_in_it(tmp_path: Path) -> None:
    (tmp_path / "book.yaml").write_text(HEAD)
    assert book_path(tmp_path) == tmp_path / "book.yaml"
    assert read_book(tmp_path).show.name == "Gale"


def test_groups_may_live_in_files_beside_the_book(tmp_path: Path) -> None:
    (tmp_path / "more").mkdir()
    (tmp_path / "more/lights.yaml").write_text(
        "lamp: {kind: lamp, volts: 12 V, current: 1 A, on: main 1}\n"
    )
    (tmp_path / "beats.csv").write_text("at,do\n0:03,lamp on\n0:04,lamp off\n")
    (tmp_path / "book.yaml").write_text(
        "book: 1\nshow: {name: x, length: 0:20}\nboards: {main: {terminals: 4}}\n"
        "devices: more/lights.yaml\n"
        "beats:\n  - {at: 0:01, do: lamp on}\n  - beats.csv\n  - {at: 0:09, do: lamp off}\n"
    )
    book = read_book(tmp_path / "book.yaml")
    assert [beat.at.s for beat in book.beats] == [1, 3, 4, 9]
    assert book.beats[1].origin.place == Place(str(tmp_path / "beats.csv"), 2, 1)


@pytest.mark.parametrize("name", ["../beats.csv", "/etc/beats.csv", "a/../../beats.csv"])
def test_no_file_outside_of_the_books_folder_is_read(tmp_path: Path, name: str) -> None:
    (tmp_path / "beats.csv").write_text("at,do\n0:03,lamp on\n")
    folder = tmp_path / "show"
    folder.mkdir()
    (folder / "a").mkdir()
    (folder / "book.yaml").write_text(HEAD + f"beats: {name}\n")
    with pytest.raises(Refusal) as caught:
        read_book(folder / "book.yaml")
    (finding,) = caught.value.findings
    assert finding.says == f"`{name}` does not lie in the book's folder."
    assert finding.code == "BOOK-09"


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "beats.csv").write_text("at,do\n0:03,lamp on\n")
    folder = tmp_path / "show"
    folder.mkdir()
    (folder / "beats.csv").symlink_to(tmp_path / "beats.csv")
    (folder / "book.yaml").write_text(HEAD + "beats: beats.csv\n")
    with pytest.raises(Refusal, match="does not lie in the book's folder"):
        read_book(folder / "book.yaml")
