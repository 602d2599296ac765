"""One variant of a show made ready: what every output does, and how each device follows.

In: a book, a plan of it, faults. Out: a `Staged` show: tracks of the devices, the switches that the
air plant gets, and where all that uses no air landed. It is the same in every show of an evening,
so it is made once; what the air makes of it is `air`'s.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from thundersheet.model.book import Book
from thundersheet.model.device import Device, ValveWay, Wire
from thundersheet.model.wiring import Supply
from thundersheet.physics.plant.records import Path, Switch
from thundersheet.plan.plumbing import plant_of
from thundersheet.plan.records import Cue, Plan
from thundersheet.plan.setting import bare_setting
from thundersheet.plan.timeline import beats_by_id
from thundersheet.rehearse.faults import (
    Fault,
    LatePlayer,
    Sag,
    on_leaving,
    picture_late,
)
from thundersheet.rehearse.motion import Steps, Track, follow
from thundersheet.rehearse.records import Landed
from thundersheet.rehearse.wires import Told, outputs_of, told_by

AFTER_S = 30.0
"""So long after the programme's end the devices are still followed, until they are at rest."""
LIKE_VOLTS = 0.02
"""A device belongs to a supply when their voltages agree this closely."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A cue in a show, with what it meets."""

    cue: Cue
    left_s: float | None
    """When its command left; None: never."""
    told_s: float | None
    """When its output switched; None: never."""
    until_s: float
    """When the device is told anew."""
    beat_s: float


@dataclass(frozen=True, slots=True)
class Feed:
    """What feeds a device: a body of the plant, and the path from it."""

    body: str
    path: Path

    def before_valve(self, pa: float) -> float:
        """What stands before its valve, nothing flowing, when so much stands in the body."""
        return min(self.path.set_pa, pa - self.path.drop_pa)


@dataclass(frozen=True, slots=True, kw_only=True)
class Staged:
    """One variant of the show, ready to be played any number of times."""

    book: Book
    plan: Plan
    faults: tuple[Fault, ...]
    leaves_s: Mapping[str, float]
    """By cue, seconds of the programme; a cue that never leaves is not there."""
    tracks: Mapping[str, Track]
    """By device, those with outputs or a picture; an air device's is its valve's coils."""
    switches: tuple[Switch, ...]
    """What the air plant is told, seconds of the programme."""
    landed: tuple[Landed, ...]
    """Of the cues that need no air, in the plan's order."""
    air_cues: tuple[Placed, ...]
    feeds: Mapping[str, Feed]
    """By device that the air moves."""
    volts: Mapping[str, Steps]
    """By supply: the share of its voltage that arrives."""

    @property
    def length_s(self) -> float:
        """Of the programme."""
        return self.plan.length.s


def stage(
    book: Book, plan: Plan, faults: Sequence[Fault] = (), volts: Mapping[str, Steps] | None = None
) -> Staged:
    """The show of a plan with what is wrong in it; `volts` by supply, None: as the faults say."""
    ends_s = plan.length.s + AFTER_S
    leaves = on_leaving(faults, plan)
    told = told_by(book, plan.cues, leaves)
    shares = _sags(book, faults, ends_s) if volts is None else volts
    tracks = {
        device.name: follow(
            device, told, ends_s, bare_setting(book, device), _volts(book, device, shares)
        )
        for device in book.devices
    }
    cues = tuple(_placed(book, plan, faults, leaves, told))
    on_air = {device.name for device in book.devices if _uses_air(tracks[device.name])}
    return Staged(
        book=book,
        plan=plan,
        faults=tuple(faults),
        leaves_s=leaves,
        tracks=tracks,
        switches=tuple(_switches(tracks, told, on_air, plan.length.s)),
        landed=tuple(
            _by_itself(tracks[each.cue.target.move.device], each, faults)
            for each in cues
            if each.cue.target.move.device not in on_air
        ),
        air_cues=tuple(each for each in cues if each.cue.target.move.device in on_air),
        feeds=_feeds(book) if on_air else {},
        volts=shares,
    )


def _feeds(book: Book) -> dict[str, Feed]:
    plant = plant_of(book)
    found = {each.name: Feed(each.body, each.path) for each in plant.cylinders}
    return found | {each.name: Feed(each.body, each.path) for each in plant.jets}


def supply_of(book: Book, device: Device) -> Supply | None:
    """What feeds a device: the supply that lists it, else one of its voltage without a list."""
    volts = getattr(device, "volts_v", None) or getattr(
        getattr(device, "valve", None), "volts_v", None
    )
    listed = [supply for supply in book.supplies if device.name in supply.feeds]
    if listed:
        return listed[0]
    if volts is None:
        return None
    return next(
        (
            supply
            for supply in book.supplies
            if not supply.feeds and abs(supply.volts_v - volts) <= LIKE_VOLTS * supply.volts_v
        ),
        None,
    )


def _sags(book: Book, faults: Iterable[Fault], ends_s: float) -> dict[str, Steps]:
    found: dict[str, Steps] = {supply.name: ((0.0, 1.0),) for supply in book.supplies}
    for fault in faults:
        if isinstance(fault, Sag):
            found[fault.supply] = fault.steps(ends_s)
    return found


def _volts(book: Book, device: Device, shares: Mapping[str, Steps]) -> Steps:
    supply = supply_of(book, device)
    return ((0.0, 1.0),) if supply is None else shares.get(supply.name, ((0.0, 1.0),))


def _uses_air(track: Track) -> bool:
    return bool(track.device.tells_valve(track.pieces[0].state))


def _switches(
    tracks: Mapping[str, Track],
    told: Mapping[str, Sequence[Told]],
    on_air: set[str],
    over_s: float,
) -> Iterator[Switch]:
    """Every change of a valve's command, with the cue that asked for it, in order of time.

    When the programme is over, valves are let go, so that the next show finds them at rest.
    """
    found = []
    for name in sorted(on_air):
        track = tracks[name]
        rows = [row for out in outputs_of(track.device) for row in told.get(out, ())]
        before = track.device.tells_valve(track.device.begins(track.setting))
        for piece in track.pieces:
            way = track.device.tells_valve(piece.state)
            if way and way != before:
                cue = _asks(rows, piece.at_s)
                found.append(Switch(at_s=piece.at_s, device=name, way=way, cue=cue))
            before = way
        rests = _when_let_go(track)
        if rests and rests != before:
            found.append(Switch(at_s=over_s, device=name, way=rests))
    yield from sorted(found)


def _when_let_go(track: Track) -> ValveWay:
    """Where a valve stands once the show is over and its outputs have their safe values."""
    device = track.device
    wires = tuple(Wire.at(out.safe) for out in device.outputs())
    state = device.step(track.pieces[-1].state, wires, 1.0, 0.0, track.setting)
    return device.tells_valve(state)


def _asks(rows: Sequence[Told], at_s: float) -> str:
    """The cue for which a valve shifts: the one just told, or the last, if its coil had to wait."""
    just = [row for row in rows if row.at_s == at_s]
    if just:
        return next((row.cue for row in just if row.cue), "")
    before = [row for row in rows if row.at_s < at_s]
    return max(before, key=lambda row: row.at_s).cue if before else ""


def _placed(
    book: Book,
    plan: Plan,
    faults: Sequence[Fault],
    leaves: Mapping[str, float],
    told: Mapping[str, Sequence[Told]],
) -> Iterator[Placed]:
    """Each cue with when its output switched, when its device is told anew, and its beat."""
    at = {row.cue: row.at_s for rows in told.values() for row in rows if row.cue}
    beats = beats_by_id(book)
    instants: dict[str, list[float]] = {}
    for cue in plan.cues:
        if cue.id in at:
            instants.setdefault(cue.target.move.device, []).append(at[cue.id])
    for own in instants.values():
        own.sort()
    for cue in plan.cues:
        mine = at.get(cue.id)
        own = instants.get(cue.target.move.device, [])
        later = own[bisect_right(own, mine) :] if mine is not None else []
        beat = beats[cue.target.beat]
        meets = beat.meets or book.show.meets
        land_s = cue.target.land_at.s
        yield Placed(
            cue=cue,
            left_s=leaves.get(cue.id),
            told_s=mine,
            until_s=later[0] if later else plan.length.s + AFTER_S,
            beat_s=land_s + picture_late(faults, meets, land_s),
        )


def _by_itself(track: Track, placed: Placed, faults: Sequence[Fault]) -> Landed:
    """Where a cue of a device that uses no air landed."""
    target = placed.cue.target
    if not placed.cue.commands:  # a screen, or a player that runs by itself: nothing to switch
        return landed_at(placed, target.land_at.s)
    if placed.told_s is None:
        return landed_at(placed, None, why="its word of the cue track was lost")
    at = track.lands(target.move, target.land, placed.told_s, placed.until_s)
    why = next((why for fault in faults if (why := fault.why(target.move.device))), "")
    late = sum(
        f.by_s for f in faults if isinstance(f, LatePlayer) and f.player == track.device.name
    )
    return landed_at(
        placed, None if at is None else at + late, why=why or _why_not(track, placed, at)
    )


def _why_not(track: Track, placed: Placed, at: float | None) -> str:
    if at is not None or placed.told_s is None:
        return ""
    weakest = min(piece.volts for piece in track.pieces)
    if weakest < 1.0:
        return f"its supply gave {weakest:.0%} of its voltage"
    return "it was told anew before it was there"


def landed_at(placed: Placed, at_s: float | None, *, why: str = "", **more: float | None) -> Landed:
    """One cue's row; times are seconds of the programme."""
    left = placed.left_s
    cue = placed.cue
    return Landed(
        cue=cue.id,
        device=cue.target.move.device,
        land=cue.target.land,
        beat_s=placed.beat_s,
        window=cue.target.window,
        planned_ms=usual_ms(cue),
        error_ms=None if at_s is None else rounded_ms(at_s - placed.beat_s),
        lead_ms=None if at_s is None or left is None else rounded_ms(at_s - left),
        impact_m_s=more.get("impact_m_s"),
        impact_j=more.get("impact_j"),
        supply_pa=more.get("supply_pa"),
        why=why,
    )


def usual_ms(cue: Cue) -> float:
    """Where the plan expects a cue against its beat with a full tank and the book's ambient."""
    usual = cue.evening.usual.in_ms if cue.evening is not None else 0.0
    return cue.expected_error.in_ms + usual


def rounded_ms(seconds: float) -> float:
    """Milliseconds to the nanosecond, as a span keeps them."""
    return round(seconds * 1e9) / 1e6
