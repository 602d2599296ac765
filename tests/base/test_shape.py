"""Records say once what may be written; their names say the unit that they hold."""

from dataclasses import dataclass

import pytest

from thundersheet.base.shape import Record, Spec, key_of, specs, text
from thundersheet.base.unit_table import DIMENSIONS
from thundersheet.devices import all_kinds
from thundersheet.model.book import Book

UNIT_FREE = {"share", "level"}
"""Dimensions that need no unit in a name: a share is a plain number, a level always in dB."""


def records(start: type[Record]) -> set[type[Record]]:
    """A record and all that may stand inside of it."""
    found: set[type[Record]] = set()
    left = [start]
    while left:
        each = left.pop()
        if each not in found:
            found.add(each)
            left += [spec.of for spec in specs(each) if spec.of is not None]
    return found


ALL = sorted(
    set().union(records(Book), *(records(kind) for kind in all_kinds())),
    key=lambda each: (each.__module__, each.__name__),
)
FIELDS = [(record, spec) for record in ALL for spec in specs(record)]


def suffix_of(si: str) -> str:
    """`m3/(s Pa)` as the end of a name: `m3_s_pa`."""
    plain = si.lower().replace("(", "").replace(")", "").replace(" ", "_")
    return plain.replace("n/m", "n_per_m").replace("/", "_")


def names_its_unit(spec: Spec) -> bool:
    wanted = suffix_of(DIMENSIONS[spec.dimension].si)
    return spec.name.endswith((f"_{wanted}", f"_{spec.dimension}"))


def test_a_quantity_carries_its_si_unit_in_its_name() -> None:
    quantities = [(r, s) for r, s in FIELDS if s.form == "quantity"]
    wrong = [
        f"{record.__name__}.{spec.name}"
        for record, spec in quantities
        if spec.dimension not in UNIT_FREE and not names_its_unit(spec)
    ]
    assert quantities
    assert not wrong


def test_a_key_is_plain_words_that_no_other_field_of_its_record_has() -> None:
    for record in ALL:
        keys = [spec.key for spec in specs(record)]
        assert len(keys) == len(set(keys)), record
        assert all(key.replace(" ", "").isalpha() for key in keys), record


def test_every_field_is_explained_in_a_sentence() -> None:
    assert not [f"{r.__name__}.{s.name}" for r, s in FIELDS if not s.doc.endswith(".")]


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("supply_pa", "supply"),
        ("flow_m3_s_pa", "flow"),
        ("spring_rate_n_per_m", "spring rate"),
        ("speed_rad_s", "speed"),
        ("torque_n_m", "torque"),
        ("lit_share", "lit share"),
    ],
)
def test_the_key_of_a_quantity_leaves_the_unit_out(name: str, key: str) -> None:
    assert key_of(name, "quantity") == key


def test_only_a_quantity_loses_the_end_of_its_name() -> None:
    assert key_of("plan_a", "text") == "plan a"


def test_a_default_that_could_be_changed_later_is_refused() -> None:
    with pytest.raises(TypeError, match="immutable"):

        @dataclass(frozen=True, kw_only=True)
        class Loose(Record):
            name: str = text("A name.", default=[])
