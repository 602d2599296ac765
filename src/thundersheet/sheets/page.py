"""One HTML page: self-contained, without scripts, without a request to anywhere."""

from __future__ import annotations

from typing import Literal

from thundersheet.sheets.markup import Markup, join, say, tag
from thundersheet.sheets.render import style

Paper = Literal["A4", "Letter"] | None


def page(title: str, *body: Markup, stamp: str = "", paper: Paper = None, kind: str = "") -> str:
    """The whole document; `stamp` is printed at the foot of each page beside the page number.

    `paper` None leaves the size to the printer: all pages fit A4 and Letter, portrait.
    """
    foot = _printed_foot(stamp, paper)
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("title", say(title)),
        Markup(f"<style>\n{style()}{foot}</style>"),
    )
    document = tag("html", head, tag("body", join(body), class_=kind or None), lang="en")
    return f"<!DOCTYPE html>\n{document}\n"


def _printed_foot(stamp: str, paper: Paper) -> str:
    size = f" size: {paper} portrait;" if paper else ""
    left = f" @bottom-left {{ content: {_css_string(stamp)}; }}" if stamp else ""
    pages = ' @bottom-right { content: "page " counter(page) " of " counter(pages); }'
    return f"@page {{{size}{left}{pages} }}\n"


def _css_string(text: str) -> str:
    """A CSS string in which nothing can end the string or the style element."""
    safe = "".join(c if c.isalnum() or c in " .,:()+-" else f"\\{ord(c):x} " for c in text)
    return f'"{safe}"'
