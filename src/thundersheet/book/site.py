"""A site from its file: ``read_site`` gives a ``Site`` and its books, or all that is wrong.

The same reader, the same findings and places as a book's; books are named from the site's folder.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from thundersheet.base.finding import Finding, Refusal
from thundersheet.base.source import Place
from thundersheet.book.files import open_text
from thundersheet.book.nodes import Mapping, Scalar, nodes_of
from thundersheet.book.read import read_book
from thundersheet.book.reading import Reading
from thundersheet.book.structure import record_from
from thundersheet.model.book import Book
from thundersheet.model.site import VERSION, Site, SiteBook

EXPLAINS = {
    "SITE-01": "A site's file names several books that share one compressor: `site: 1`, `air:` "
    "with its compressor and tank, and `books:`. A book itself begins with `book: 1`.",
    "SITE-02": "A site without books has nothing to feed.",
    "SITE-03": "A book that a site names could not be read; its own findings follow.",
}
FORM = (
    f"Write `site: {VERSION}`, `air: {{compressor: {{...}}, tank: 200 l}}` and "
    "`books: [{book: lamp-room/book.yaml}]`."
)


@dataclass(frozen=True, slots=True)
class Fed:
    """One book of a site, read."""

    entry: SiteBook
    book: Book


def read_site(path: Path | str) -> tuple[Site, tuple[Fed, ...]]:
    """The site in a file and its books; a Refusal with every finding when they cannot be had."""
    file = Path(path)
    root = _root(file)
    reading = Reading()
    site = record_from(Site, root, "a site", reading)
    findings = sorted(dict.fromkeys(reading.findings), key=lambda each: (each.place, each.code))
    if site is None or any(each.grade == "refuse" for each in findings):
        raise Refusal(*findings)
    if not site.books:
        says = "This site names no books."
        raise Refusal.because("SITE-02", says, FORM, site.origin.of("books"))
    return site, _books(site, file.parent)


def _root(file: Path) -> Mapping:
    """The tree of a site's file, in this program's version; else a Refusal."""
    source = open_text(file, str(file), "A site's file is a YAML file that names several books.")
    root, findings = nodes_of(source.text, source.file)
    if findings:
        raise Refusal(*findings)
    if not isinstance(root, Mapping) or root.get("site") is None:
        place = root.place if root is not None else Place(source.file)
        raise Refusal.because("SITE-01", "There is no site in this file.", FORM, place)
    written = root.get("site")
    if isinstance(written, Scalar) and written.text.strip() != str(VERSION):
        says = f"`site: {written.text}` is no version that this program reads."
        raise Refusal.because("SITE-01", says, f"It reads version {VERSION}.", written.place)
    return root


def _books(site: Site, folder: Path) -> tuple[Fed, ...]:
    fed: list[Fed] = []
    wrong: list[Finding] = []
    for entry in site.books:
        try:
            fed.append(Fed(entry, read_book(folder / entry.book)))
        except Refusal as refusal:
            says = f"The book `{entry.book}` cannot be used."
            place = entry.origin.of("book")
            wrong.append(Finding(code="SITE-03", grade="refuse", place=place, says=says))
            wrong += refusal.findings
    if wrong:
        raise Refusal(*wrong)
    return tuple(fed)
