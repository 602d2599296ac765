"""A site: several books that hang on one compressor and one tank, and when it is open."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, clock, number, quantity, record, records, span, text
from thundersheet.base.shape import whole as whole_number
from thundersheet.base.time import Span
from thundersheet.model.air import Compressor

VERSION = 1
"""The version of a site's file that this program reads."""


@dataclass(frozen=True, kw_only=True)
class SiteAir(Record):
    """The air that all books of a site share, before any regulator."""

    compressor: Compressor = record(Compressor, "What fills the common tank.")
    tank_m3: float = quantity(
        "volume", "All tanks that stand at its pressure, together.", low=1e-4, high=100.0,
        example="200 l", key="tank",
    )  # fmt: skip
    leaks_m3_s_anr: float = quantity(
        "flow", "What all leaks lose with the tank full, the books' own included.", default=0.0,
        low=0.0, high=1.0, example="2 l/min", key="leaks",
    )  # fmt: skip
    ambient_k: float = quantity(
        "temperature", "How warm it is where the tank is.", default=293.15, low=233.15,
        high=333.15, example="12 C",
    )  # fmt: skip
    altitude_m: float = quantity(
        "length", "Height above the sea.", default=0.0, low=-400.0, high=4500.0, example="250 m"
    )


@dataclass(frozen=True, kw_only=True)
class SiteBook(Record):
    """One of the books that share the air."""

    book: str = text(
        "The book: a file, or the folder that holds book.yaml, seen from the site's folder.",
        example="lamp-room/book.yaml",
    )
    shows_per_hour: float | None = number(
        "Shows an hour at the busiest; left out: as the book's `guests` say, else as fast as its "
        "length and its `rest` allow.",
        default=None,
        low=0.01,
        high=3600.0,
        example="34",
    )
    needs_pa: float | None = quantity(
        "pressure", "Gauge pressure in the common tank below which its shows are weak; left out: "
        "what its regulators and cylinders are set to.", default=None, low=10_000.0,
        high=3_000_000.0, example="3 bar", key="needs",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Site(Record):
    """Several books on one compressor."""

    site: int = whole_number("Version of this file's format.", low=1, example="1")
    name: str = text("What the place is called.", default="", example="the old pier")
    air: SiteAir = record(SiteAir, "The air that they share.")
    books: tuple[SiteBook, ...] = records(SiteBook, "The books that share it.")
    opens: Span | None = clock("When the first show may start.", default=None, example="19:00")
    lasts: Span = span(
        "How long it is open.", default=Span.seconds(3 * 3600), low=60.0, high=7 * 86_400.0,
        example="3 h",
    )  # fmt: skip
