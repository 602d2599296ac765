"""The JSON Schema for editors: valid by its own standard, and of one mind with the reader."""

from pathlib import Path

import pytest
import yaml
from book_parts import HEAD, WITH_AIR
from jsonschema import Draft202012Validator

from thundersheet.book.new import new_book
from thundersheet.book.schema import book_schema
from thundersheet.devices import all_kinds


class Editor(yaml.SafeLoader):
    """YAML 1.2's core schema, as editors read it: `0:12` and `no` are text (YAML 1.2.2, 10.3.2)."""


Editor.yaml_implicit_resolvers = {}
for tag, pattern, first in (
    ("null", r"(?:|~|null|Null|NULL)", ["~", "n", "N", ""]),
    ("bool", r"(?:true|True|TRUE|false|False|FALSE)", list("tTfF")),
    ("int", r"[-+]?[0-9]+", list("-+0123456789")),
    ("float", r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?", list("-+.0123456789")),
):
    import re

    Editor.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(f"^{pattern}$"), first)


BOOKS = sorted((Path(__file__).parents[2] / "examples").glob("*/*.yaml"))


@pytest.fixture(scope="module")
def editor() -> Draft202012Validator:
    return Draft202012Validator(book_schema())


def complaints(editor: Draft202012Validator, text: str) -> list[str]:
    found = yaml.load(text, Loader=Editor)  # a SafeLoader with other implicit types
    return [each.json_path for each in editor.iter_errors(found)]


def test_it_is_a_schema_by_the_standards_own_measure() -> None:
    Draft202012Validator.check_schema(book_schema())


@pytest.mark.parametrize("text", [HEAD, WITH_AIR, new_book("Gale")], ids=["parts", "air", "new"])
def test_a_book_that_reads_fits_the_schema(editor: Draft202012Validator, text: str) -> None:
    assert complaints(editor, text) == []


@pytest.mark.parametrize("book", BOOKS, ids=lambda book: f"{book.parent.name}-{book.stem}")
def test_every_example_fits_the_schema(editor: Draft202012Validator, book: Path) -> None:
    assert complaints(editor, book.read_text()) == []


@pytest.mark.parametrize("kind", all_kinds(), ids=lambda kind: kind.KIND)
def test_the_example_of_every_kind_fits_the_schema(
    editor: Draft202012Validator, kind: type
) -> None:
    text = "book: 1\nshow: {name: x, length: 1:00}\n" + kind.EXAMPLE
    assert complaints(editor, text) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("book: 1", "book: 2"),
        ("length: 1:24", "lenght: 1:24"),
        ("kind: fan", "kind: fam"),
        ("lag: 45 ms", "lug: 45 ms"),
        ("terminals: 8", "terminals: many"),
        ("  name: Gale   # the whole gale\n", ""),
    ],
)
def test_what_the_reader_refuses_the_schema_marks(
    editor: Draft202012Validator, old: str, new: str
) -> None:
    assert complaints(editor, HEAD.replace(old, new))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("kind: dump valve", "kind: dump"),
        ("port: 3/8", "port: 3/7"),
        ("quiet: 20:00-22:00", "quiet: evenings"),
        ("begins: 19:00", "begins: seven"),
        ("cut out: 8 bar, ", ""),
        ("when vented: stays", "when vented: floats"),
        ("shows: 40", "shows: many"),
    ],
)
def test_what_the_reader_refuses_of_the_air_the_schema_marks(
    editor: Draft202012Validator, old: str, new: str
) -> None:
    assert old in WITH_AIR
    assert complaints(editor, WITH_AIR.replace(old, new))
