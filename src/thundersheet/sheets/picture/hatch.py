"""Hatches that tell a lead's parts apart without colour, and the legend that names them.

The parts every workshop knows keep their hatch on every sheet; other names take the free ones in
turn.
"""

from __future__ import annotations

from collections.abc import Sequence

from thundersheet.sheets.markup import Markup, join, say, tag

# Each fills a 6 x 6 tile; what happens first is darkest, what is seen is lightest.
TILES = {
    "solid": '<rect width="6" height="6" class="ink"/>',
    "dense": '<path d="M0 1h6M0 3h6M0 5h6" class="inked"/>',
    "slant": '<path d="M-1 1l2 -2M0 6l6 -6M5 7l2 -2" class="inked"/>',
    "counter": '<path d="M-1 5l2 2M0 0l6 6M5 -1l2 2" class="inked"/>',
    "dots": '<path d="M0.5 0.5h2v2h-2zM3.5 3.5h2v2h-2z" class="ink"/>',
    "upright": '<path d="M1.5 0v6M4.5 0v6" class="inked"/>',
    "cross": '<path d="M0 6l6 -6M0 0l6 6" class="inked"/>',
    "grid": '<path d="M0 3h6M3 0v6" class="inked"/>',
    "waves": '<path d="M0 1.5l3 2l3 -2M0 4.5l3 2l3 -2" class="inked"/>',
    "sparse": '<path d="M2 2h2v2h-2z" class="ink"/>',
    "half": '<path d="M0 0h3v6h-3z" class="ink"/>',
    "rows": '<path d="M0 3h6" class="inked"/>',
    "clear": "",
}  # fmt: skip
KNOWN = {
    "valve": "solid",
    "relay": "dense",
    "board": "dense",
    "hose": "slant",
    "filling": "dots",
    "moving": "clear",
    "rise": "upright",
    "strike": "cross",
    "answer": "counter",
    "speed-up": "grid",
    "gust": "rows",
    "turning": "waves",
}


def hatches(names: Sequence[str], prefix: str) -> dict[str, str]:
    """The pattern's id for each part; `prefix` keeps the drawings of one page apart."""
    taken = [KNOWN[name] for name in names if name in KNOWN]
    free = [tile for tile in TILES if tile not in taken] or list(TILES)
    others = [name for name in names if name not in KNOWN]
    chosen = {name: KNOWN[name] for name in names if name in KNOWN}
    chosen |= {name: free[index % len(free)] for index, name in enumerate(others)}
    return {name: f"{prefix}-{chosen[name]}" for name in names}


def definitions(chosen: dict[str, str]) -> Markup:
    """The patterns in use."""
    return tag("defs", join(_pattern(ident) for ident in dict.fromkeys(chosen.values())))


def _pattern(ident: str) -> Markup:
    tile = Markup(TILES[ident.rpartition("-")[2]])
    ground = tag("rect", width=6, height=6, class_="part-ground")
    return tag("pattern", ground, tile, id=ident, width=6, height=6, patternUnits="userSpaceOnUse")


def legend(chosen: dict[str, str], x: float, y: float) -> Markup:
    """The named hatches in a row."""
    items = []
    for name, ident in chosen.items():
        items.append(
            tag("rect", x=x, y=y - 9, width=11, height=11, class_="lead", fill=f"url(#{ident})")
        )
        items.append(tag("text", say(name), x=x + 15, y=y))
        x += 27 + 6.2 * len(name)
    return tag("g", join(items), class_="legend")
