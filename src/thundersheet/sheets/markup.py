"""HTML and SVG as text that cannot forget to escape: words become Markup in one place.

In: user's text and our own tags. Out: Markup, a string that is safe to put into a page.
"""

from __future__ import annotations

import html
from collections.abc import Iterable
from typing import NewType

Markup = NewType("Markup", str)
NOTHING = Markup("")

VOID = frozenset({"br", "hr", "img", "meta", "link", "col"})
"""HTML's elements without an end tag; SVG has none of these names."""

Value = str | float | int | None


def say(text: object) -> Markup:
    """The user's text, escaped for both element and attribute; control characters are dropped."""
    kept = "".join(c for c in str(text) if c.isprintable() or c in "\n\t")
    return Markup(html.escape(kept, quote=True))


def tag(name: str, /, *children: Markup, **attributes: Value) -> Markup:
    """One element; `class_` and `for_` lose their underscore, others turn it into a hyphen.

    An attribute that is None is left out; numbers are written with at most two decimals.
    """
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_attribute(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    if name in VOID:
        return Markup(f"<{name}{written}>")
    return Markup(f"<{name}{written}>{''.join(children)}</{name}>")


def join(parts: Iterable[Markup], between: str = "") -> Markup:
    """Pieces of markup one after another."""
    return Markup(say(between).join(parts))


def number(value: float) -> str:
    """A coordinate: two decimals at most, no minus zero, no exponent."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _attribute(value: str | float) -> Markup:
    if isinstance(value, str):
        return say(value)
    return Markup(number(value))
