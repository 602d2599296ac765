"""Degraded, not dead: which version of the show plays when the tank stands low at its start.

In: a book and a pressure. Out: the variant to play and why. The rule is the book's own (`tank
below` of its variants); it is asked at the start of a show and never during one.
"""

from __future__ import annotations

from thundersheet.model.book import Book
from thundersheet.model.show import Variant


def rungs(book: Book) -> tuple[Variant, ...]:
    """The variants that play by themselves, from the highest pressure down."""
    found = [each for each in book.variants if each.tank_below_pa is not None]
    return tuple(sorted(found, key=lambda each: -(each.tank_below_pa or 0.0)))


def choose(book: Book, tank_pa: float | None, atmosphere_pa: float) -> tuple[str, str]:
    """The variant that a show starts with, and why; both empty for the show as written.

    ``tank_pa`` is absolute; None: the supply has no end. Of several rungs the lowest that holds.
    """
    if tank_pa is None:
        return "", ""
    gauge = tank_pa - atmosphere_pa
    holds = [each for each in rungs(book) if gauge < (each.tank_below_pa or 0.0)]
    if not holds:
        return "", ""
    rung = holds[-1]
    stands = book.units.show(float(f"{max(gauge, 0.0):.2g}"), "pressure")
    below = book.units.show(rung.tank_below_pa or 0.0, "pressure")
    return rung.name, f"the tank stood at {stands}, under {below}"
