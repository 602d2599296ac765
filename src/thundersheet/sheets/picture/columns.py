"""The devices' columns: a slanted name with the kind's symbol, stripes to follow down the page."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from thundersheet.sheets.markup import Markup, join, say, tag
from thundersheet.sheets.picture.layout import Column, Layout

Symbols = Mapping[str, str]
"""By device: the SVG fragment of its kind, in a 24 x 24 box (`Device.SYMBOL`)."""
NO_SYMBOLS: Symbols = MappingProxyType({})

SLANT = -52
NAME_LETTERS = 20


def head_height(layout: Layout, symbols: Symbols) -> float:
    """Room for the slanted names, as much as the longest needs, and for the symbols."""
    names = [_fitted(column.device) for column in layout.columns] + ["cue track"]
    drawn = any(column.device in symbols for column in layout.columns)
    return 14 + 4.9 * max(map(len, names)) + (18 if drawn else 0)


def draw_columns(layout: Layout, top: float, bottom: float, symbols: Symbols) -> Markup:
    """All columns from top to bottom with their heads above."""
    return join(
        _column(column, index, top, bottom, symbols.get(column.device, ""))
        for index, column in enumerate(layout.columns)
    )


def _column(column: Column, index: int, top: float, bottom: float, symbol: str) -> Markup:
    stripe = tag(
        "rect",
        x=column.left,
        y=top,
        width=column.width,
        height=bottom - top,
        class_="column" if index % 2 else "stripe",
    )
    middle = column.left + column.width / 2
    name = _slanted(column.device, middle, top - (24 if symbol else 6))
    box = f"translate({middle - 8:.1f} {top - 20:.1f}) scale(0.66)"
    drawn = tag("g", Markup(symbol), transform=box, class_="symbol")
    return tag("g", tag("title", say(column.device)), stripe, name, drawn)


def draw_lanes(layout: Layout, top: float) -> Markup:
    """The heads of the two lanes that are no devices: the sound and its cue track."""
    sound = _slanted("sound", layout.spine, top - 6)
    return tag("g", sound, _slanted("cue track", layout.tones + 5, top - 6), class_="what")


def _slanted(name: str, x: float, y: float) -> Markup:
    turn = f"rotate({SLANT} {x:.1f} {y:.1f})"
    return tag("text", say(_fitted(name)), x=x, y=y, transform=turn)


def _fitted(name: str) -> str:
    return name if len(name) <= NAME_LETTERS else name[: NAME_LETTERS - 1] + "…"
