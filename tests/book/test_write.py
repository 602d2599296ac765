"""Edits keep every other byte; what is set is what is read; nobody's change is overwritten."""

import stat
from decimal import Decimal
from pathlib import Path

import pytest
from book_parts import HEAD, read
from hypothesis import given
from hypothesis import strategies as st

from thundersheet.base.finding import Refusal
from thundersheet.base.units import read_quantity
from thundersheet.book.batch import texts_set
from thundersheet.book.nodes import Listing, Mapping, Node, Scalar, nodes_of
from thundersheet.book.read import read_book
from thundersheet.book.splice import Add, Edit, Put, Remove, Set, content, find, spliced
from thundersheet.book.write import digest_of, edit_book

BOOK = (
    HEAD
    + """\
# the beats

beats:
  - {at: 0:01, what: dawn, do: lamp on}   # first light
  # a remark between
  - at: 0:05
    what: "a \\"quoted\\" one"
    do:
      - fan on   # whirr
      - lamp off

  - {at: 0:09, do: [fan off, lamp two on]}
# the end
"""
)


def tree(text: str) -> Node | None:
    return nodes_of(text, "x")[0]


def after(text: str, edit: Edit) -> str:
    root = tree(text)
    assert root is not None
    return spliced(text, root, edit, tree)


def test_a_value_is_set_and_the_remark_behind_it_stays() -> None:
    assert after(BOOK, Set(("show", "name"), "Gale two")) == BOOK.replace(
        "name: Gale   # the whole gale", "name: Gale two   # the whole gale"
    )


def test_a_value_that_needs_quotes_gets_them() -> None:
    assert 'what: "rain: heavy", do' in after(BOOK, Set(("beats", 0, "what"), "rain: heavy"))
    assert 'name: "# no remark"   # the' in after(BOOK, Set(("show", "name"), "# no remark"))


def test_an_empty_value_is_filled() -> None:
    assert after("book: 1\nair:\nshow: x\n", Set(("air",), "12 C")) == (
        "book: 1\nair: 12 C\nshow: x\n"
    )


def test_a_key_is_added_below_its_neighbours() -> None:
    assert after(BOOK, Add(("show", "programme"), "a.wav")) == BOOK.replace(
        "per minute: 120}]\n", "per minute: 120}]\n  programme: a.wav\n"
    )


def test_a_key_is_added_in_braces() -> None:
    assert after(BOOK, Add(("air", "ambient"), "12 C")) == BOOK.replace(
        "{set: 60 psi}", "{set: 60 psi, ambient: 12 C}"
    )


def test_a_key_is_added_to_an_item_behind_a_dash() -> None:
    assert after(BOOK, Add(("beats", 1, "window"), "soft")) == BOOK.replace(
        "      - lamp off\n", "      - lamp off\n    window: soft\n"
    )


def test_a_beat_is_added_at_its_place_and_at_the_end() -> None:
    beat = {"at": "0:03", "do": ["fan on", "lamp on"]}
    line = "  - {at: 0:03, do: [fan on, lamp on]}\n"
    assert after(BOOK, Add(("beats", 2), beat)) == BOOK.replace(
        "  - {at: 0:09", f"{line}  - {{at: 0:09"
    )
    assert after(BOOK, Add(("beats", -1), beat)) == BOOK.replace("# the end", f"{line}# the end")


def test_a_beat_a_key_and_an_item_are_taken_out() -> None:
    assert after(BOOK, Remove(("beats", 0))) == BOOK.replace(
        "  - {at: 0:01, what: dawn, do: lamp on}   # first light\n", ""
    )
    assert after(BOOK, Remove(("beats", 1, "at"))) == BOOK.replace(
        "  - at: 0:05\n    what", "  - what"
    )
    assert after(BOOK, Remove(("beats", 1, "do", 0))) == BOOK.replace(
        "      - fan on   # whirr\n", ""
    )
    assert after(BOOK, Remove(("beats", 2, "do", 0))) == BOOK.replace("fan off, ", "")
    assert after(BOOK, Remove(("beats", 2, "do"))) == BOOK.replace(
        ", do: [fan off, lamp two on]", ""
    )


def test_the_last_item_leaves_an_empty_list() -> None:
    text = "book: 1\nbeats:\n  - {at: 0:01}\nair:\n"
    assert content(tree(after(text, Remove(("beats", 0))))) == content(
        tree("book: 1\nbeats: []\nair:\n")
    )


@pytest.mark.parametrize(
    ("path", "old", "new"),
    [
        (("air", "set"), "{set: 60 psi}", "{set: 9 m}"),
        (("air", "ambient"), "{set: 60 psi}", "{set: 60 psi, ambient: 9 m}"),
        (("show", "cue track", "tone"), "120}]\n", "120}]\n  cue track: {tone: 9 m}\n"),
        (
            ("measured", "fan on", "lead"),
            "# the end",
            "measured: {fan on: {lead: 9 m}}\n# the end",
        ),
    ],
)
def test_a_value_is_put_where_it_is_or_where_it_belongs(
    path: tuple[str, ...], old: str, new: str
) -> None:
    assert after(BOOK, Put(path, "9 m")) == BOOK.replace(old, new)


def test_a_value_is_put_into_a_group_that_is_still_empty() -> None:
    assert after(
        "book: 1\nmeasured:   # none yet\n", Put(("measured", "fan on", "lead"), "9 ms")
    ) == ("book: 1\nmeasured: {fan on: {lead: 9 ms}}   # none yet\n")


@pytest.mark.parametrize(
    ("edit", "message"),
    [
        (Put(("show", "name", "x"), "y"), "`show: name: x` cannot be added there."),
        (Set(("show", "nam"), "x"), "`show: nam` is not in the book."),
        (Add(("show", "name"), "x"), "`show: name` is there already."),
        (Remove(("beats", 9)), "`beats: 9` is not in the book."),
        (Add(("beats", "name"), "x"), "`beats: name` cannot be added there."),
    ],
)
def test_an_edit_of_what_is_not_there_is_refused(edit: Edit, message: str) -> None:
    with pytest.raises(Refusal) as caught:
        after(BOOK, edit)
    assert caught.value.findings[0].says == message


def test_an_edit_that_would_change_an_alias_elsewhere_is_refused() -> None:
    text = "a: &v {b: 1}\nc: *v\n"
    with pytest.raises(Refusal, match=r"`c: b` cannot be changed without touching"):
        after(text, Set(("c", "b"), "2"))


def paths(node: Node, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Paths of all texts in a tree."""
    if isinstance(node, Mapping):
        return [p for key, value in node.entries for p in paths(value, (*path, key.text))]
    if isinstance(node, Listing):
        return [p for i, item in enumerate(node.items) for p in paths(item, (*path, i))]
    return [path]


ROOT = tree(BOOK)
assert ROOT is not None
PRINTABLE = st.text(
    st.characters(blacklist_categories=("Cs", "Cc"), blacklist_characters="\ufeff\ufffe\uffff"),
    max_size=30,
)  # fmt: skip


@given(st.sampled_from(paths(ROOT)), PRINTABLE, st.sampled_from(["\n", "\r\n"]))
def test_a_value_set_is_read_back_and_all_other_bytes_stay(
    path: tuple[str | int, ...], value: str, newline: str
) -> None:
    text = BOOK.replace("\n", newline)
    root = tree(text)
    assert root is not None
    old = find(root, path)
    assert isinstance(old, Scalar)
    new = after(text, Set(path, value))
    assert new.startswith(text[: old.start])
    assert new.endswith(text[old.end :])
    changed = tree(new)
    assert changed is not None
    assert content(find(changed, path)) == value


def alike(one: str, other: str) -> int:
    """How many letters two texts begin with alike."""
    pairs = zip(one, other, strict=False)
    return next((i for i, (a, b) in enumerate(pairs) if a != b), min(len(one), len(other)))


UNITS = st.sampled_from(["psi", "bar", "kPa"])


@given(st.decimals(Decimal("0.2"), Decimal("9.9"), places=3), UNITS)
def test_a_quantity_set_is_the_one_that_the_book_then_holds(number: Decimal, unit: str) -> None:
    written = f"{number * (100 if unit == 'kPa' else 10 if unit == 'psi' else 1)} {unit}"
    book = read(after(BOOK, Set(("air", "set"), written)))
    assert book.air.set_pa == read_quantity(written, "pressure")
    assert book.air.origin.texts["set_pa"] == written


@given(st.sampled_from(paths(ROOT)))
def test_what_is_taken_out_is_one_piece(path: tuple[str | int, ...]) -> None:
    new = after(BOOK, Remove(path))
    changed = tree(new)
    assert changed is not None
    assert alike(BOOK, new) + alike(BOOK[::-1], new[::-1]) >= len(new) - len("[]\n")
    assert len(new) < len(BOOK)


GROUPS = [path[:-1] for path in paths(ROOT) if len(path) > 1]


@given(st.sampled_from(GROUPS), PRINTABLE, st.integers(-1, 3), st.sampled_from(["\n", "\r\n"]))
def test_what_is_added_is_one_piece(
    path: tuple[str | int, ...], value: str, at: int, newline: str
) -> None:
    text = BOOK.replace("\n", newline)
    root = tree(text)
    assert root is not None
    group = find(root, path)
    last = "a new key" if isinstance(group, Mapping) else at
    new = after(text, Add((*path, last), {"k": value} if at > 1 else value))
    assert alike(text, new) + alike(text[::-1], new[::-1]) >= len(text)


def test_files_keep_mark_line_ends_and_mode(tmp_path: Path) -> None:
    path = tmp_path / "book.yaml"
    data = b"\xef\xbb\xbf" + BOOK.replace("\n", "\r\n").encode()
    path.write_bytes(data)
    path.chmod(0o640)
    edit_book(path, [Set(("air", "set"), "55 psi"), Add(("beats", -1), {"at": "0:10"})])
    wanted = data.replace(b"60 psi", b"55 psi").replace(
        b"# the end", b"  - {at: 0:10}\r\n# the end"
    )
    assert path.read_bytes() == wanted
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [each.name for each in tmp_path.iterdir()] == ["book.yaml"]


def test_a_book_in_utf_16_stays_one(tmp_path: Path) -> None:
    path = tmp_path / "book.yaml"
    path.write_bytes(b"\xff\xfe" + BOOK.encode("utf-16-le"))
    edit_book(path, [Set(("show", "name"), "Bö")])
    wanted = BOOK.replace("name: Gale ", "name: Bö ")
    assert path.read_bytes() == b"\xff\xfe" + wanted.encode("utf-16-le")


def test_a_link_to_a_book_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.yaml").write_text(BOOK)
    (tmp_path / "book.yaml").symlink_to(tmp_path / "real.yaml")
    edit_book(tmp_path / "book.yaml", [Set(("air", "set"), "55 psi")])
    assert (tmp_path / "book.yaml").is_symlink()
    assert "55 psi" in (tmp_path / "real.yaml").read_text()


def test_a_book_changed_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "book.yaml"
    path.write_text(BOOK)
    digest = digest_of(path)
    path.write_text(BOOK.replace("60 psi", "50 psi"))
    with pytest.raises(Refusal) as caught:
        edit_book(path, [Set(("show", "name"), "x")], digest)
    assert str(caught.value) == (
        f"{path}: The book has been changed since it was read; nothing was written. Read it "
        "again.  [BOOK-72]"
    )
    assert "50 psi" in path.read_text()


def test_the_digest_that_an_edit_returns_allows_the_next_edit(tmp_path: Path) -> None:
    path = tmp_path / "book.yaml"
    path.write_text(BOOK)
    digest = edit_book(path, [Set(("show", "name"), "x")], digest_of(path))
    edit_book(path, [Set(("show", "name"), "y")], digest)
    assert read_book(path).show.name == "y"


def test_one_bad_edit_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "book.yaml"
    path.write_text(BOOK)
    with pytest.raises(Refusal):
        edit_book(path, [Set(("show", "name"), "x"), Set(("nothing",), "y")])
    assert path.read_text() == BOOK


def test_a_folder_that_cannot_be_written_to_is_said(tmp_path: Path) -> None:
    path = tmp_path / "book.yaml"
    path.write_text(BOOK)
    aside = tmp_path / f".{path.name}"
    assert not aside.exists()
    long = tmp_path / ("b" * 250 + ".yaml")  # its name leaves no room for one aside
    long.write_text(BOOK)
    with pytest.raises(Refusal, match=r"The file cannot be written: File name too long\."):
        edit_book(long, [Set(("show", "name"), "x")])
    assert long.read_text() == BOOK


CSV = 'at,what,do\r\n0:01,"dawn, slowly",lamp on\r\n0:02,,fan on\r\n\r\n0:03\r\n'


@pytest.fixture
def with_rows(tmp_path: Path) -> Path:
    (tmp_path / "beats.csv").write_bytes(CSV.encode())
    (tmp_path / "book.yaml").write_text(HEAD + "beats: beats.csv\n")
    return tmp_path


@pytest.mark.parametrize(
    ("edit", "old", "new"),
    [
        (Set(("beats", 0, "at"), "0:01.5"), "0:01,", "0:01.5,"),
        (Set(("beats", 0, "what"), "dusk"), '"dawn, slowly"', "dusk"),
        (Set(("beats", 1, "do"), ["fan on", "lamp off"]), ",fan on", ',"fan on; lamp off"'),
        (Add(("beats", 1, "what"), 'a "b"'), "0:02,,", '0:02,"a ""b""",'),
        (Add(("beats", 2, "do"), "fan off"), "0:03\r\n", "0:03,,fan off\r\n"),
        (Remove(("beats", 0, "what")), '"dawn, slowly"', ""),
        (Remove(("beats", 1)), "0:02,,fan on\r\n", ""),
        (Add(("beats", 1), {"do": "fan on", "at": "0:01.2"}), "0:02", "0:01.2,,fan on\r\n0:02"),
        (Add(("beats", -1), {"at": "0:04"}), "0:03\r\n", "0:03\r\n0:04,,\r\n"),
    ],
)
def test_a_cell_or_row_is_changed_and_nothing_else(
    with_rows: Path, edit: Edit, old: str, new: str
) -> None:
    edit_book(with_rows, [edit])
    assert (with_rows / "beats.csv").read_bytes() == CSV.replace(old, new, 1).encode()
    assert (with_rows / "book.yaml").read_text() == HEAD + "beats: beats.csv\n"


@pytest.mark.parametrize(
    ("edit", "message"),
    [
        (Set(("beats", 0, "wat"), "x"), "No column is called `wat`."),
        (Set(("beats", 7, "at"), "x"), "There is no row 7 below the header."),
        (Set(("beats", 0), "x"), "Set the cells of a row one by one."),
        (Add(("beats", 0), {"wat": "x"}), "No column is called `wat`."),
    ],
)
def test_an_edit_that_no_cell_can_take_is_refused(
    with_rows: Path, edit: Edit, message: str
) -> None:
    with pytest.raises(Refusal) as caught:
        edit_book(with_rows, [edit])
    assert caught.value.findings[0].says == message


CELL = st.text(st.sampled_from('ab;,"\n é.0'), max_size=8).map(str.strip)


@given(st.sampled_from([0, 1, 2]), st.sampled_from(["at", "what", "do"]), CELL)
def test_a_cell_set_is_read_back(row: int, key: str, value: str) -> None:
    from thundersheet.book.cells import cell_spliced
    from thundersheet.book.rows import rows_of

    new = cell_spliced(CSV, "b.csv", Set((row, key), value))
    rows = rows_of(new, "b.csv")[0]
    if value or len(rows.items) == 3:
        found = find(rows, (row, key))
        assert (found.text if isinstance(found, Scalar) else "") == value


def test_a_list_of_beats_and_files_is_edited_where_each_beat_lives(tmp_path: Path) -> None:
    (tmp_path / "more.csv").write_text("at,do\n0:03,lamp on\n0:04,lamp off\n")
    (tmp_path / "book.yaml").write_text(
        HEAD + "beats:\n  - {at: 0:01}\n  - more.csv\n  - {at: 0:09}\n"
    )
    edit_book(tmp_path, [Set(("beats", 2, "at"), "0:05"), Set(("beats", 3, "at"), "0:10")])
    assert [beat.at.s for beat in read_book(tmp_path).beats] == [1, 3, 5, 10]


def test_two_thousand_beats_are_moved_together(tmp_path: Path) -> None:
    beats = "".join(f"  - {{at: 0:{i / 100:.2f}, what: 'beat {i}'}}\n" for i in range(2000))
    (tmp_path / "book.yaml").write_text(f"{HEAD}beats:\n{beats}")
    edits = [Set(("beats", i, "at"), f"1:{i / 100:.2f}") for i in range(2000)]
    edit_book(tmp_path, edits)
    moved = beats.replace("{at: 0:", "{at: 1:")
    assert (tmp_path / "book.yaml").read_text() == f"{HEAD}beats:\n{moved}"


def test_many_cells_are_set_together(with_rows: Path) -> None:
    edit_book(with_rows, [Set(("beats", i, "at"), f"0:1{i}") for i in range(3)])
    assert (with_rows / "beats.csv").read_bytes() == CSV.replace("0:01", "0:10").replace(
        "0:02", "0:11"
    ).replace("0:03", "0:12").encode()


@given(st.lists(st.tuples(st.sampled_from(paths(ROOT)), PRINTABLE), min_size=2, max_size=4))
def test_values_set_together_are_those_set_one_by_one(
    changes: list[tuple[tuple[str | int, ...], str]],
) -> None:
    edits = [Set(path, value) for path, value in dict(changes).items()]
    root = tree(BOOK)
    assert root is not None
    together = texts_set(BOOK, root, edits, tree)
    one_by_one = BOOK
    for edit in edits:
        one_by_one = after(one_by_one, edit)
    assert together is None or content(tree(together)) == content(tree(one_by_one))
