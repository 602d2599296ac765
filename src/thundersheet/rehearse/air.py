"""What the air makes of a show: a plant's run turned into landings and curves of the programme.

In: a `Staged` show and what a solver answered (`physics.plant.records.Run`). Out: `Landed` rows and
`Curve`s. Nothing is integrated here; the solvers are `physics.plant.coupled` for one show and
`physics.plant.evening` for many.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence

from thundersheet.model.device import Move
from thundersheet.physics.plant.records import Landing, Run, Series, Way
from thundersheet.plan.setting import bare_setting
from thundersheet.rehearse.faults import Fault
from thundersheet.rehearse.motion import thinned
from thundersheet.rehearse.records import Curve, Landed, Quantity
from thundersheet.rehearse.stage import Placed, Staged, landed_at

STILL_M_S = 1e-3
"""A piston slower than this stands, for a stop on its way."""
AT_ENDS_M = 1e-6
"""Nearer than this to an end of its stroke it is there."""


def landed_by_air(staged: Staged, run: Run, began_s: float = 0.0) -> tuple[Landed, ...]:
    """Where the cues of air devices landed in a run in which the programme began at `began_s`.

    A stop part-way is there only in a run in which the piston was watched.
    """
    by_cue = {each.switch.cue: each for each in run.landings if each.switch.cue}
    return tuple(
        _landed(staged, placed, run, by_cue.get(placed.cue.id), began_s)
        for placed in staged.air_cues
        if run.series.columns.get(f"{placed.cue.target.move.device} v_m_s")
        or not stops_part_way(placed.cue.target.move)
    )


def _landed(
    staged: Staged, placed: Placed, run: Run, found: Landing | None, began_s: float
) -> Landed:
    move, device = placed.cue.target.move, staged.book.device(placed.cue.target.move.device)
    if placed.told_s is None:
        return landed_at(placed, None, why="its word of the cue track was lost")
    if found is None:
        return _without_switch(staged, placed, run, began_s)
    if stops_part_way(move):
        at = _stands(run.series, placed, began_s, device.name)
    else:
        fed = _fed(run.series, staged, found)
        at = device.landed_by_air(
            placed.cue.target.land, found, fed, bare_setting(staged.book, device)
        )
        if at is None and _is_there(run.series, staged, found):
            at = began_s + placed.told_s
    at = None if at is None else at - began_s
    return landed_at(
        placed,
        at,
        why="" if at is not None and _inside(placed, at) else _why(staged.faults, placed, at),
        impact_m_s=found.v_impact_m_s,
        impact_j=found.e_impact_j,
        supply_pa=found.supply_pa,
    )


def _inside(placed: Placed, at_s: float) -> bool:
    window = placed.cue.target.window
    return window.early.s <= at_s - placed.beat_s <= window.late.s


def _why(faults: Sequence[Fault], placed: Placed, at: float | None) -> str:
    """Why it lay outside, where that is known."""
    told = next((w for fault in faults if (w := fault.why(placed.cue.target.move.device))), "")
    return told or ("it never got there" if at is None else "")


def stops_part_way(move: Move) -> bool:
    """Whether a move of a cylinder ends between its ends."""
    part = move.to is not None and 0.0 < move.to < 1.0
    return part or move.action == "stop" or (move.hold is not None and move.action != "puff")


def _without_switch(staged: Staged, placed: Placed, run: Run, began_s: float) -> Landed:
    """A cue whose valve did not shift for it: it stood so already, or something kept it."""
    device = staged.book.device(placed.cue.target.move.device)
    why = next((w for fault in staged.faults if (w := fault.why(device.name))), "")
    if not why and staged.faults and _weak(staged, placed):
        why = f"its coil had {_weak(staged, placed):.0%} of its voltage"
    if why or placed.told_s is None:
        return landed_at(placed, None, why=why)
    wanted: Way | str = {"stop": "middle", "puff": "on"}.get(
        placed.cue.target.move.action, placed.cue.target.move.action
    )
    before = [
        each
        for each in run.landings
        if each.switch.device == device.name
        and each.switch.at_s - began_s <= placed.told_s
    ]  # fmt: skip
    last = before[-1] if before else None
    if last is None or last.switch.way != wanted or last.full_s is None:
        there = "" if _inside(placed, placed.told_s) else "it stood there already"
        return landed_at(placed, placed.told_s, why=there)
    return landed_at(placed, max(placed.told_s, last.full_s - began_s))


def _weak(staged: Staged, placed: Placed) -> float:
    """The share of its voltage that a coil had at its cue, if that was little; else 0."""
    track = staged.tracks[placed.cue.target.move.device]
    at = placed.told_s or 0.0
    volts = [piece.volts for piece in track.pieces if piece.at_s <= at][-1]
    return volts if volts < 1.0 else 0.0


def _fed(series: Series, staged: Staged, found: Landing) -> Callable[[float], float]:
    """The pressure that feeds a device, by the seconds since its switch."""
    feed = staged.feeds.get(found.switch.device)
    column = series.columns.get(f"body {feed.body} pa", ()) if feed is not None else ()
    if feed is None or not column:
        return lambda _: found.supply_pa

    def pressure(after_s: float) -> float:
        at = found.switch.at_s + after_s
        index = min(bisect_left(series.at_s, at), len(column) - 1)
        return feed.before_valve(column[index])

    return pressure


def _is_there(series: Series, staged: Staged, found: Landing) -> bool:
    """Whether a piston stood at the end it was told to when its valve was told."""
    out = series.columns.get(f"{found.switch.device} out_m")
    if out is None:
        return False
    at = out[min(bisect_left(series.at_s, found.switch.at_s), len(out) - 1)]
    stroke = getattr(staged.book.device(found.switch.device), "stroke_m", 0.0)
    ends = {"out": stroke, "back": 0.0}
    return found.switch.way in ends and abs(at - ends[found.switch.way]) < AT_ENDS_M


def _stands(series: Series, placed: Placed, began_s: float, name: str) -> float | None:
    """When a piston that is stopped on its way first stands still, or turns on its trapped air."""
    speeds = series.columns.get(f"{name} v_m_s")
    if speeds is None or placed.told_s is None:
        return None
    first = bisect_left(series.at_s, began_s + placed.told_s)
    last = bisect_left(series.at_s, began_s + placed.until_s)
    way = 0.0
    for index in range(first, last):
        speed = speeds[index]
        if not way and abs(speed) > STILL_M_S:
            way = speed
        elif way and speed * way <= STILL_M_S * abs(way):
            before, here = series.at_s[index - 1], series.at_s[index]
            fell = speeds[index - 1] - speed
            return before + (here - before) * (speeds[index - 1] / fell if fell else 1.0)
    return None


def air_curves(staged: Staged, series: Series, began_s: float = 0.0) -> Iterator[Curve]:
    """Motion, pressures and air of every air device, and the pressures of the bodies."""
    at = tuple(each - began_s for each in series.at_s)
    for key, values in series.columns.items():
        if key == "compressor" or key.endswith((" k", " v_m_s")):
            continue
        name, quantity = _named(key)
        shown: Sequence[float] = values
        if quantity == "motion":
            device = staged.book.device(name)
            shown = [device.shown_by_air(each) for each in values]
        yield curve(name, quantity, at, shown)
    for name, feed in staged.feeds.items():
        column = series.columns.get(f"body {feed.body} pa", ())
        if column:
            yield curve(name, "supply", at, [feed.before_valve(pa) for pa in column])


def _named(key: str) -> tuple[str, Quantity]:
    """A column of a series as a curve's name and quantity."""
    if key.startswith("body "):
        return key.removeprefix("body ").removesuffix(" pa"), "supply"
    quantities: Mapping[str, Quantity] = {
        "out_m": "motion",
        "out_pa": "out pressure",
        "back_pa": "back pressure",
        "flow_kg_s": "air",
    }
    name, _, column = key.rpartition(" ")
    return name, quantities[column]


def curve(of: str, quantity: Quantity, at_s: Sequence[float], values: Sequence[float]) -> Curve:
    """A curve without the points that lie on the lines between the others."""
    size = max((abs(value) for value in values), default=0.0) or 1.0
    kept = thinned(zip(at_s, (value / size for value in values), strict=True))
    return Curve(
        of=of,
        quantity=quantity,
        at_s=tuple(at for at, _ in kept),
        values=tuple(value * size for _, value in kept),
    )


def air_of(run: Run) -> tuple[tuple[str, float], ...]:
    """Standard litres that each device took in a run, largest first."""
    took: dict[str, float] = {}
    for each in run.landings:
        took[each.switch.device] = took.get(each.switch.device, 0.0) + each.air_l
    return tuple(sorted(took.items(), key=lambda row: (-row[1], row[0])))
