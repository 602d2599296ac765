"""The plumbing as a tree: which part feeds which, and on which part each device hangs.

In: a book. Out: the tree, or why there is none. No pressure and no flow is known here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from thundersheet.base.finding import Finding
from thundersheet.model.air import Air, AirPart
from thundersheet.model.book import Book
from thundersheet.model.device import Device

EXPLAINS = {
    "AIR-10": "Every part of the plumbing but the first names the part that feeds it (`from`), and "
    "every cylinder and jet hangs on one (`air from`). Only where the plumbing has a single end "
    "does a device without `air from` hang on that.",
    "AIR-11": "Parts that feed each other in a ring are fed by nothing: air comes from the tank "
    "that the compressor fills, and runs from part to part to the valves.",
    "AIR-12": "The plumbing begins with one tank, which the compressor fills or which is filled "
    "beforehand. A line of the house's counts as a large tank.",
    "AIR-13": "Nothing hangs on this end of the plumbing: it holds air and may leak, and does "
    "nothing.",
}


@dataclass(frozen=True, slots=True)
class Plumbing:
    """A tree of parts with devices on it."""

    parts: Mapping[str, AirPart]
    """The root first, every other one after the part that feeds it."""
    hangs: Mapping[str, str]
    """By device: the part that feeds its valve."""

    @property
    def root(self) -> AirPart:
        """The tank that everything is fed from."""
        return next(iter(self.parts.values()))

    def way_to(self, part: str) -> tuple[AirPart, ...]:
        """The parts that air passes on its way to this one, the root first and itself last."""
        found = [self.parts[part]]
        while found[-1].fed_by:
            found.append(self.parts[found[-1].fed_by])
        return tuple(reversed(found))

    def fed_by(self, part: str) -> tuple[str, ...]:
        """The parts that hang on this one directly."""
        return tuple(each.name for each in self.parts.values() if each.fed_by == part)

    def devices_at(self, part: str) -> tuple[str, ...]:
        """The devices that hang on this one directly."""
        return tuple(device for device, end in self.hangs.items() if end == part)

    def devices_behind(self, part: str) -> tuple[str, ...]:
        """The devices whose air passes this part."""
        return tuple(
            device
            for device, end in self.hangs.items()
            if any(each.name == part for each in self.way_to(end))
        )


def breathes(device: Device) -> bool:
    """Whether a device takes air: whether it can say where from."""
    return hasattr(device, "air_from")


def plumbing_of(book: Book) -> tuple[Plumbing | None, tuple[Finding, ...]]:
    """The tree, None where there are no parts or none that hangs together; and what is wrong."""
    parts = {part.name: part for part in book.air.parts}
    if not parts:
        return None, ()
    faults = list(_rings(book.air, parts))
    root = _root(book.air, parts)
    faults += _beginning(book.air, root)
    order = _from_the_root(parts, root)
    faults += _unfed_parts(parts, order, root)
    hangs, unfed = _hung(book, order)
    faults += unfed
    if root is None or root.kind != "tank" or root.fed_by:
        return None, tuple(faults)
    tree = Plumbing(order, hangs)
    return tree, (*faults, *_dead_ends(tree))


def _root(air: Air, parts: Mapping[str, AirPart]) -> AirPart | None:
    """What the compressor fills, or the first tank that nothing feeds."""
    if air.compressor is not None and air.compressor.fills in parts:
        return parts[air.compressor.fills]
    starts = [part for part in parts.values() if not part.fed_by]
    return next((part for part in starts if part.kind == "tank"), next(iter(starts), None))


def _beginning(air: Air, root: AirPart | None) -> Iterator[Finding]:
    if root is None:
        return
    if root.fed_by:
        assert air.compressor is not None
        yield Finding(
            code="AIR-12",
            grade="refuse",
            place=air.compressor.origin.of("fills"),
            says=f"The compressor fills `{root.name}`, which `{root.fed_by}` feeds as well.",
            allowed="It fills the tank that has no `from`.",
            about=(root.name,),
        )
    elif root.kind != "tank":
        yield Finding(
            code="AIR-12",
            grade="refuse",
            place=root.origin.place,
            says=f"The plumbing begins with `{root.name}`, a {root.kind}.",
            allowed="It begins with a tank: `tank: {kind: tank, volume: 24 l}`.",
            about=(root.name,),
        )


def _rings(air: Air, parts: Mapping[str, AirPart]) -> Iterator[Finding]:
    """One finding for each ring, at the first of its parts."""
    del air
    done: set[str] = set()
    for start in parts:
        way: list[str] = []
        name = start
        while name in parts and name not in done and name not in way:
            way.append(name)
            name = parts[name].fed_by
        if name in way:
            ring = way[way.index(name) :]
            shown = " from ".join(f"`{each}`" for each in (*ring, name))
            yield Finding(
                code="AIR-11",
                grade="refuse",
                place=parts[name].origin.of("fed_by"),
                says=f"These parts feed each other in a ring: {shown}.",
                allowed="One of them has to be fed from elsewhere.",
                about=tuple(ring),
            )
        done.update(way)


def _from_the_root(parts: Mapping[str, AirPart], root: AirPart | None) -> dict[str, AirPart]:
    """What the root feeds, each part after the one before it; a root that is fed is cut off."""
    if root is None:
        return {}
    feeds: dict[str, list[AirPart]] = {}
    for part in parts.values():
        feeds.setdefault(part.fed_by, []).append(part)
    order: dict[str, AirPart] = {}
    waiting = [root]
    while waiting:
        part = waiting.pop(0)
        if part.name not in order:
            order[part.name] = part
            waiting += feeds.get(part.name, [])
    return order


def _unfed_parts(
    parts: Mapping[str, AirPart], order: Mapping[str, AirPart], root: AirPart | None
) -> Iterator[Finding]:
    for part in parts.values():
        if part.name in order or part.fed_by in parts or (root is not None and root.fed_by):
            continue  # fed; or at a ring or behind another unfed one, which is said there
        begins = f"`{root.name}`" if root is not None else "a tank"
        yield Finding(
            code="AIR-10",
            grade="refuse",
            place=part.origin.place,
            says=f"Nothing feeds `{part.name}`.",
            allowed=f"The plumbing begins with {begins}: write `from:` and the part before it.",
            about=(part.name,),
        )


def _hung(book: Book, order: Mapping[str, AirPart]) -> tuple[dict[str, str], list[Finding]]:
    """The part that each device hangs on, and the devices that hang on none."""
    fed = {part.fed_by for part in order.values()}
    ends = [name for name in order if name not in fed]
    hangs: dict[str, str] = {}
    unfed: list[Finding] = []
    for device in book.devices:
        if not breathes(device):
            continue
        end = getattr(device, "air_from", "") or (ends[0] if len(ends) == 1 else "")
        if end in order:
            hangs[device.name] = end
        elif order:
            unfed.append(_unfed(device, end, ends))
    return hangs, unfed


def _unfed(device: Device, end: str, ends: list[str]) -> Finding:
    listed = ", ".join(f"`{name}`" for name in ends)
    why = (
        f"`{end}`, from which {device.name} takes its air, is not fed itself."
        if end
        else f"{device.name} does not say what feeds it, and the plumbing has several ends."
    )
    return Finding(
        code="AIR-10",
        grade="refuse",
        place=device.origin.of("air_from"),
        says=why,
        allowed=f"Write `air from:` and one of the ends, {listed}, or a part before them.",
        about=(device.name,),
    )


def _dead_ends(tree: Plumbing) -> Iterator[Finding]:
    if not tree.hangs:
        return
    for name, part in tree.parts.items():
        if not tree.fed_by(name) and not tree.devices_at(name):
            yield Finding(
                code="AIR-13",
                grade="note",
                place=part.origin.place,
                says=f"Nothing hangs on `{name}`.",
                allowed="Let a device take its air from it, or leave it out.",
                about=(name,),
            )
