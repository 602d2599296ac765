"""Air records whose values have to agree with each other: what the reader says against them."""

from __future__ import annotations

from typing import Any

from thundersheet.base.source import Place
from thundersheet.base.units import UnitStyle
from thundersheet.book.nodes import Mapping, Node
from thundersheet.book.reading import Reading

EXPLAINS = {
    "BOOK-56": "A part of the plumbing has a key that belongs to another kind of part: only a "
    "regulator is `set`, only tanks and manifolds hold a `volume`, and so on.",
    "BOOK-57": "A compressor starts at the lower of its two pressures and stops at the higher one; "
    "and where what it delivers is given twice, it is given at two different pressures, the "
    "higher one with the smaller delivery.",
    "BOOK-58": "Leaks are said once: as `leaks`, a flow, or as `leak down`, a fall of the gauge "
    "that was measured.",
    "BOOK-59": "The evening contradicts itself: it ends when it begins, or is coldest where it is "
    "warmest.",
}

Values = dict[str, Any]

# Keys that only some kinds of part have; all others go with every kind.
_ONLY = {
    "volume": ("tank", "manifold"),
    "set": ("regulator",),
    "drop": ("regulator",),
    "ambient": ("tank",),
    "filled": ("tank",),
    "drained": ("tank",),
    "flow": ("shut-off", "filter", "dryer", "regulator", "lubricator", "dump valve",
             "soft-start valve", "check valve"),
}  # fmt: skip
_ONLY["port"] = _ONLY["flow"]
_BAR = UnitStyle()


def air_part(values: Values, node: Mapping, name: str, reading: Reading) -> Values:
    """Keys that do not suit the part's kind; a tank without a volume; a part that feeds itself."""
    kind = values.get("kind")
    if kind is None:
        return {}
    for key, value in node.entries:
        suits = _ONLY.get(key.text)
        if suits is not None and kind not in suits:
            says = f"`{name}` is a {kind}, and `{key.text}` belongs to a {_or(suits)}."
            reading.say("BOOK-56", key.place, says, f"Remove `{key.text}`, or mend its `kind`.")
        elif key.text == "from" and values.get("fed_by") == name:
            says = f"`{name}` cannot feed itself."
            reading.say("BOOK-46", value.place, says, "Name the part before it.")
    if kind == "tank" and node.get("volume") is None:
        reading.say("BOOK-21", node.place, f"`{name}` has no `volume`.", "Write `volume: 24 l`.")
    return {}


def _or(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def compressor(values: Values, node: Mapping, _name: str, reading: Reading) -> Values:
    """Pressures in order, and a second delivery with its pressure."""
    starts, stops = values.get("cut_in_pa"), values.get("cut_out_pa")
    if starts is not None and stops is not None and starts >= stops:
        says = f"The compressor cuts in at {_pressure(starts)} and out at {_pressure(stops)}."
        reading.say("BOOK-57", _at(node, "cut in"), says, "It cuts in below where it cuts out.")
    also = [key for key in ("also delivers", "also at") if node.get(key) is not None]
    if len(also) == 1:
        says = f"The compressor has `{also[0]}` alone."
        reading.say("BOOK-57", _at(node, also[0]), says, "Write `also delivers` and `also at`.")
    elif also and node.get("at") is None:
        says = "The compressor says at what pressure it `also delivers`, but not for the first."
        reading.say("BOOK-57", _at(node, "delivers"), says, "Write `at: 6 bar` beside `delivers`.")
    elif also:
        _two_points(values, node, reading)
    return {}


def _two_points(values: Values, node: Mapping, reading: Reading) -> None:
    low, high = values.get("at_pa"), values.get("also_at_pa")
    much, less = values.get("delivers_m3_s"), values.get("also_delivers_m3_s")
    if None in (low, high, much, less):
        return
    assert low is not None
    assert high is not None
    assert much is not None
    assert less is not None
    if low >= high:
        says = f"`also at` is {_pressure(high)}, and `at` is {_pressure(low)}."
        reading.say("BOOK-57", _at(node, "also at"), says, "The second pressure is the higher one.")
    elif less > much:
        says = "The compressor delivers more at the higher of its two pressures."
        reading.say("BOOK-57", _at(node, "also delivers"), says, "Exchange the two.")


def _pressure(pa: float) -> str:
    return _BAR.show(pa, "pressure")


def _at(node: Mapping, key: str) -> Place:
    found: Node | None = node.get(key)
    return node.place if found is None else found.place


def air(values: Values, node: Mapping, _name: str, reading: Reading) -> Values:
    """Leaks said once; what a compressor fills and what leaks is there."""
    if node.get("leaks") is not None and node.get("leak down") is not None:
        says = "The leaks are said twice, as `leaks` and as `leak down`."
        reading.say("BOOK-58", _at(node, "leak down"), says, "Keep what was measured.")
    for key in ("leaks", "leak down", "compressor"):
        if node.get(key) is not None and node.get("parts") is None:
            says = f"`{key}` needs the tank that it is about."
            allowed = "Write `parts: {tank: {kind: tank, volume: 24 l}, ...}`."
            reading.say("BOOK-21", _at(node, key), says, allowed)
    del values
    return {}


def evening(values: Values, node: Mapping, _name: str, reading: Reading) -> Values:
    """An end that is not the beginning; cold below warm."""
    begins, ends = values.get("begins"), values.get("ends")
    if begins is not None and begins == ends:
        reading.say("BOOK-59", _at(node, "ends"), "The evening ends when it begins.")
    cold, warm = values.get("coldest_k"), values.get("warmest_k")
    if cold is not None and warm is not None and cold > warm:
        says = "`coldest` is warmer than `warmest`."
        reading.say("BOOK-59", _at(node, "coldest"), says, "Exchange the two.")
    return {}
