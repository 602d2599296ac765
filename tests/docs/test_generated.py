"""What is generated is what the code says now; every printed document fits its schema."""

import importlib.util
import json

import jsonschema
import pytest
from tests.conftest import ROOT

from thundersheet.cli import main


def generator():
    spec = importlib.util.spec_from_file_location("generate", ROOT / "tools" / "generate.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_no_generated_file_is_stale():
    stale = [
        str(path.relative_to(ROOT))
        for path, text in generator().generated().items()
        if not path.exists() or path.read_text() != text
    ]
    assert not stale, "run `make generated`"


@pytest.mark.parametrize("name", ["book", "plan", "check", "listen", "proof", "calc"])
def test_every_schema_is_a_schema(name):
    schema = json.loads((ROOT / "schema" / f"{name}.json").read_text())
    # jsonschema 4.26, metaschema of JSON Schema 2020-12
    jsonschema.Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("plan", ["plan", "{book}", "--json"]),
        ("check", ["check", "{book}", "--json"]),
        ("calc", ["calc", "stroke", "bore=25mm", "stroke=50mm", "pressure=4bar", "valve=0.4Cv",
                  "moves=1kg", "--json"]),
    ],
)  # fmt: skip
def test_what_a_verb_prints_fits_its_schema(name, words, example_book, capsys):
    main([word.format(book=example_book) for word in words])
    schema = json.loads((ROOT / "schema" / f"{name}.json").read_text())
    jsonschema.validate(json.loads(capsys.readouterr().out), schema)
