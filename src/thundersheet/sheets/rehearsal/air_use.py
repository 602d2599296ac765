"""The air that each device took in a show, as bars with their litres."""

from __future__ import annotations

from thundersheet.rehearse.records import Rehearsal
from thundersheet.sheets.markup import Markup, join, say, tag
from thundersheet.sheets.rehearsal.scale import Line

WIDTH, LEFT, RIGHT = 440.0, 150.0, 370.0
ROW = 22.0
LETTERS = 22


def draw_air(found: Rehearsal) -> Markup | None:
    """Bars of free air a show, the greatest first; None where nothing took any."""
    taken: dict[str, float] = {}
    for show in found.shows:
        for device, litres in show.air_of:
            taken[device] = taken.get(device, 0.0) + litres / len(found.shows)
    used = sorted(((n, x) for n, x in taken.items() if x > 0), key=lambda e: -e[1])
    if not used:
        return None
    across = Line(0.0, used[0][1], LEFT, RIGHT)
    rows = []
    for index, (device, litres) in enumerate(used):
        y = 4 + ROW * index
        name = device if len(device) <= LETTERS else device[: LETTERS - 1] + "…"
        rows += [
            tag("text", say(name), x=LEFT - 8, y=y + 14, text_anchor="end"),
            tag("rect", x=LEFT, y=y + 3, width=max(across.at(litres) - LEFT, 1), height=15,
                class_="box"),
            tag("text", say(f"{litres:.2f} l"), x=across.at(litres) + 6, y=y + 14, class_="head"),
        ]  # fmt: skip
    total = sum(litres for _, litres in used)
    return tag(
        "svg",
        tag("title", say(f"{found.show}: {total:.2f} litres of free air a show, by device")),
        join(rows),
        viewBox=f"0 0 {WIDTH:.0f} {ROW * len(used) + 10:.0f}",
        role="img",
        class_="plot air",
        xmlns="http://www.w3.org/2000/svg",
    )
