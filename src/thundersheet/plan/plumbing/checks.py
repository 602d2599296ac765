"""What is wrong or unwise in a plumbing: pressures that never come, plates, the order of parts.

In: a book and its cues. Out: findings of the whole plumbing, those of `venting`, `feeds` and
`night` among them. What an evening makes of leads is not judged here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.source import Place
from thundersheet.model.air import AirPart
from thundersheet.model.book import Book
from thundersheet.plan.plumbing.feeds import feeds
from thundersheet.plan.plumbing.graph import Plumbing, plumbing_of
from thundersheet.plan.plumbing.hours import hours
from thundersheet.plan.plumbing.night import night
from thundersheet.plan.plumbing.pressures import behind, highest_pa, lowest_pa, set_of
from thundersheet.plan.plumbing.venting import venting
from thundersheet.plan.records import Cue
from thundersheet.plan.wording import shown

EXPLAINS = {
    "AIR-19": "A regulator only lowers what comes. Where it is set higher than what arrives when "
    "the tank is at its lowest, less what the regulator itself needs, the devices behind it get "
    "less than the book says, and are later the emptier the tank is.",
    "AIR-20": "More pressure comes to a part than its plate allows. Tanks and bowls burst: never "
    "run them above their rating, and never without a safety valve that opens below it.",
    "AIR-21": "The usual order is shut-off, filter, regulator, lubricator, dump valve, soft-start "
    "valve: dirt and water ruin regulators and valves, oil gums up what stands behind a lubricator "
    "and is not meant for it, and a soft start has to come after what lets the air off.",
    "AIR-25": "Without this pressure nothing can be reckoned: a regulator's set pressure, or how "
    "full a tank is that no compressor fills.",
    "AIR-26": "No regulator stands between the tank and this device. What it gets rises and falls "
    "with the tank, and so do its force and its timing.",
}


def plumbing(book: Book, cues: Sequence[Cue]) -> tuple[Finding, ...]:
    """Everything that can be said about a book's plumbing and evening; nothing without them."""
    tree, faults = plumbing_of(book)
    faults = (*faults, *hours(book))
    if tree is None:
        return faults
    return (
        *faults,
        *_unknown(book, tree),
        *_never_reached(book, tree),
        *_over_rated(book, tree),
        *_unregulated(book, tree),
        *_order(tree),
        *venting(book, tree),
        *feeds(book, tree, cues),
        *night(book, tree, cues),
    )


def _unknown(book: Book, tree: Plumbing) -> Iterator[Finding]:
    air = book.air
    for part in tree.parts.values():
        if part.kind == "regulator" and set_of(air, part) == inf:
            yield Finding(
                code="AIR-25",
                grade="refuse",
                place=part.origin.place,
                says=f"`{part.name}` does not say what it is set to, and neither does `air`.",
                allowed="Write `set: 2.5 bar` there.",
                about=(part.name,),
            )
    if highest_pa(air, tree.root) is None:
        yield Finding(
            code="AIR-25",
            grade="refuse",
            place=tree.root.origin.place,
            says=f"Nobody says how full `{tree.root.name}` is: it has no compressor.",
            allowed="Write `filled: 8 bar` there, or a `compressor` under `air`.",
            about=(tree.root.name,),
        )


def _never_reached(book: Book, tree: Plumbing) -> Iterator[Finding]:
    """Regulators and devices that are set to more than comes when the tank is at its lowest."""
    air = book.air
    low = lowest_pa(air, tree.root)
    if low is None:
        return
    for part in tree.parts.values():
        comes = behind(air, tree.way_to(part.name)[:-1], low) - part.drop_pa
        if part.kind == "regulator" and comes < set_of(air, part) < inf:
            place = part.origin.of("set_pa")
            yield _short(book, part.name, set_of(air, part), comes, place)
    for device in book.devices:
        own: float | None = getattr(device, "pressure_pa", None)
        if own is None or device.name not in tree.hangs:
            continue
        comes = behind(air, tree.way_to(tree.hangs[device.name]), low) - AirPart.drop_pa
        if comes < own:
            place = device.origin.of("pressure_pa")
            yield _short(book, device.name, own, comes, place)


def _short(book: Book, name: str, asked: float, comes: float, place: Place) -> Finding:
    gets = shown(book, max(comes, 0.0), "pressure")
    return Finding(
        code="AIR-19",
        grade="warn",
        place=place,
        says=f"`{name}` is set to {shown(book, asked, 'pressure')}, and with the tank at its "
        f"lowest only {gets} come out of its regulator.",
        allowed=f"Set it to {gets} or less.",
        cures=(
            Cure(do="Let the compressor cut in at a higher pressure", cost="it runs more often"),
            Cure(do="Take the air from a part before the lower regulator"),
        ),
        about=(name,),
    )


def _over_rated(book: Book, tree: Plumbing) -> Iterator[Finding]:
    high = highest_pa(book.air, tree.root)
    if high is None:
        return
    for part in tree.parts.values():
        comes = behind(book.air, tree.way_to(part.name)[:-1], high)
        if part.rated_pa is not None and comes > part.rated_pa:
            yield Finding(
                code="AIR-20",
                grade="refuse",
                place=part.origin.of("rated_pa"),
                says=f"Up to {shown(book, comes, 'pressure')} come to `{part.name}`, which is "
                f"rated for {shown(book, part.rated_pa, 'pressure')}.",
                allowed="No more may come than its plate allows, whatever fails.",
                about=(part.name,),
            )


def _unregulated(book: Book, tree: Plumbing) -> Iterator[Finding]:
    for device in book.devices:
        end = tree.hangs.get(device.name)
        if end is None or getattr(device, "pressure_pa", None) is not None:
            continue
        if not any(part.kind == "regulator" for part in tree.way_to(end)):
            yield Finding(
                code="AIR-26",
                grade="warn",
                place=device.origin.of("air_from"),
                says=f"No regulator stands between `{tree.root.name}` and {device.name}.",
                allowed="Put one before it, or give it its own `pressure`.",
                about=(device.name,),
            )


# What has to come before what, and why; by kind of part.
_BEFORE = {
    "regulator": ("filter", "dirt keeps a regulator's seat from closing"),
    "lubricator": ("filter", "oil makes a paste of dirt"),
    "soft-start valve": ("dump valve", "after a dump the air has to come back slowly"),
}
_NOT_BEHIND_OIL = ("filter", "dryer", "regulator", "tank", "check valve")


def _order(tree: Plumbing) -> Iterator[Finding]:
    for part in tree.parts.values():
        before = {each.kind for each in tree.way_to(part.name)[:-1]}
        wanted, why = _BEFORE.get(part.kind, ("", ""))
        if wanted and wanted not in before:
            yield _note(part, f"No {wanted} stands before `{part.name}`: {why}.")
        oiled = _gummed(tree, part) if part.kind == "lubricator" else []
        if oiled:
            says = f"The oil of `{part.name}` gums up what stands behind it: {oiled[0]}."
            yield _note(part, says)


def _gummed(tree: Plumbing, oiler: AirPart) -> list[str]:
    """What stands behind a lubricator and is not meant for oil."""
    return [
        f"`{each.name}`, a {each.kind}"
        for each in tree.parts.values()
        if each.kind in _NOT_BEHIND_OIL and oiler in tree.way_to(each.name)[:-1]
    ]


def _note(part: AirPart, says: str) -> Finding:
    return Finding(
        code="AIR-21",
        grade="note",
        place=part.origin.place,
        says=says,
        allowed="Usual: shut-off, filter, regulator, lubricator, dump valve, soft-start valve.",
        about=(part.name,),
        source="common practice, no source",
    )
