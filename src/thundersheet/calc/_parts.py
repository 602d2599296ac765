"""Parts that air flows through in a row, as typed or as JSON gives them.

In comes `2.1 dm3/(s bar) b 0.3, 0.4 Cv` or `[{"C": 2.1e-8, "b": 0.3, "m": 0.5}, ...]` (SI, ISO
6358's letters); out go the physics' restrictions. ValueError says what a part must be.
"""

from __future__ import annotations

import json
from itertools import pairwise
from typing import Any

from thundersheet.base.units import read_quantity
from thundersheet.calc._read import is_bare, number_in
from thundersheet.physics.gas import Restriction

LETTERS = ("C", "b", "m")
USUAL = (0.0, 0.3, 0.5)
"""b and m where a maker does not say (ISO 6358-1 takes m as 0.5)."""


def parts_in(text: str) -> tuple[Restriction, ...]:
    """The parts that a text names, in their order."""
    if text.lstrip().startswith(("[", "{")):
        return _from_json(text)
    return tuple(_typed(each) for each in text.split(",") if each.strip())


def _typed(text: str) -> Restriction:
    """`0.4 Cv b 0.25 m 0.5`: a conductance, then its ratio and index where they are known."""
    words = text.split()
    given = dict(pairwise(words))
    plain = next((i for i, word in enumerate(words) if word in ("b", "m")), len(words))
    rating = " ".join(words[:plain])
    return _part(
        {
            "C": number_in(rating) if is_bare(rating) else read_quantity(rating, "conductance"),
            "b": given.get("b", USUAL[1]),
            "m": given.get("m", USUAL[2]),
        }
    )


def _from_json(text: str) -> tuple[Restriction, ...]:
    found = json.loads(text)
    return tuple(_part(each) for each in (found if isinstance(found, list) else [found]))


def _part(given: Any) -> Restriction:
    if isinstance(given, (int, float)):
        given = {"C": given}
    if isinstance(given, str):
        return _typed(given)
    if not isinstance(given, dict) or "C" not in given or set(given) - set(LETTERS):
        raise ValueError('a part is a number (C, SI) or {"C": ..., "b": ..., "m": ...}')
    c, b, m = (given.get(key, usual) for key, usual in zip(LETTERS, USUAL, strict=True))
    return Restriction(number_in(c), number_in(b), number_in(m))
