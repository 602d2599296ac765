"""What a cylinder cannot do, and what is wrong or unwise in its record."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from thundersheet.base.finding import Cure, Finding, Grade
from thundersheet.base.source import NOWHERE
from thundersheet.devices._air_parts import NODE_FROM_M
from thundersheet.devices._answers import unwired
from thundersheet.devices._cylinder import jerks
from thundersheet.devices._cylinder.impact import impact_of
from thundersheet.devices._cylinder.stroke import NO_AIR, incline_rad, stroke_of
from thundersheet.devices._cylinder.way import begun, home, run
from thundersheet.model.device import Move, Setting
from thundersheet.physics.stroke import Stroke

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder

EXPLAINS = {
    "AIR-01": "A cylinder or jet without air: the book says neither `air: {set: ...}` nor a "
    "`pressure` of the device's own.",
    "AIR-02": "The first stroke after the air was dumped meets no back pressure, so a flow control "
    "on the exhaust does not hold it: it lunges, earlier and much harder than any later one. That "
    "is a danger to people as well as a missed beat. Fill the cylinder slowly (a soft-start "
    "valve) and move it once with nobody near before guests come.",
    "AIR-03": "The valve does not suit the cylinder: a double-acting one needs five ports, a "
    "single-acting one needs three.",
    "AIR-04": "The cylinder's numbers contradict each other, so that no stroke can be reckoned.",
    "AIR-05": "`incline` says which way the load moves when the rod goes out.",
    "AIR-06": "A plain valve drives a cylinder to one end or the other. To stop part-way it needs "
    "a valve whose middle position closes all ports (5/3 closed); and even that drifts with the "
    "pressure and the cold, because only time tells it where the piston is.",
    "AIR-07": "Only a 5/3 valve has a middle position to stop in.",
    "AIR-08": "With a cushion, long hoses are reckoned as part of the cylinder's volume, which "
    "makes strokes come out some milliseconds late.",
    "AIR-09": "The cylinder sticks or creeps on its way. Friction is greatest at rest and falls as "
    "the seals begin to slide, so that a slow piston stops, waits for more pressure and jumps, and "
    "no flow control holds it: guests see it stutter, and from one show to the next it stops at "
    "other places. The share `jerks` of the lead's band says how far that moves the landing: with "
    "a third less friction once it slides, with twice the speed at which friction has fallen, or "
    "by one stop more or less, whichever is most. More speed, more pressure or less friction make "
    "it run.",
}

LUNGES_MS = 20.0
"""A first stroke that comes by more than this early is said to lunge: half a `hit` window."""


def objections(cylinder: AirCylinder, move: Move) -> Iterator[Finding]:
    """Moves that this cylinder's valve cannot make."""
    closed = cylinder.valve.kind == "5/3 closed"
    if move.action == "stop" and not cylinder.valve.kind.startswith("5/3"):
        yield _finding(
            cylinder,
            "AIR-07",
            f"{cylinder.name} cannot stop: its {cylinder.valve.kind} valve has no middle position.",
            "A 5/3 valve has one.",
            _part_way_cures(cylinder, move),
        )
    elif (move.hold is not None or _between(move)) and not closed:
        how = f"for {move.hold}" if move.to is None else f"to {move.to:.0%}"
        yield _finding(
            cylinder,
            "AIR-06",
            f"{cylinder.name} is asked to go part-way (`{move.action} {how}`), and its "
            f"{cylinder.valve.kind} valve cannot stop it there.",
            "It goes all the way, or stops with a valve whose centre is closed (5/3 closed).",
            _part_way_cures(cylinder, move),
        )


def _between(move: Move) -> bool:
    """Whether a move names a place that is not the end it goes to."""
    end = 1.0 if move.action == "out" else 0.0
    return move.to is not None and move.to != end


def _part_way_cures(cylinder: AirCylinder, move: Move) -> tuple[Cure, ...]:
    all_the_way = "back" if move.action == "back" else "out"
    return (
        Cure(
            do=f"Leave the beat out, or go all the way: `{cylinder.name} {all_the_way}`",
            cost="the half-way look",
        ),
        Cure(
            do="Fit a 5/3 valve with closed centre: `valve: {kind: 5/3 closed}` and `on back`",
            cost="a valve, a second output, and a place that drifts with pressure and cold",
        ),
        Cure(
            do="Put a second, shorter cylinder in line with it for the part of the way",
            cost="a cylinder, a valve and an output; the place is exact",
        ),
    )


def checks(cylinder: AirCylinder, setting: Setting) -> Iterator[Finding]:
    """What is wrong or unwise in its record."""
    yield from unwired(cylinder)
    yield from _valve(cylinder)
    if incline_rad(cylinder.incline) is None:
        yield _finding(
            cylinder,
            "AIR-05",
            f"`incline: {cylinder.incline}` is no direction.",
            "Write `level`, `up`, `down`, or an angle above the horizontal such as `30 deg`.",
            field="incline",
        )
        return
    if setting.supply_pa is None:
        yield _finding(cylinder, "AIR-01", f"{cylinder.name}: {NO_AIR}.", field="pressure_pa")
        return
    try:
        out = stroke_of(cylinder, setting, out=True)
        back = stroke_of(cylinder, setting, out=False)
    except ValueError as error:
        yield _finding(cylinder, "AIR-04", f"{cylinder.name} cannot be reckoned: {error}.")
        return
    if cylinder.cushion is not None and cylinder.hose.length_m > NODE_FROM_M:
        yield _finding(
            cylinder,
            "AIR-08",
            f"{cylinder.name} has a cushion and {cylinder.hose.length_m:.1f} m of hose.",
            "Measure its lead, or mount the valve nearer.",
            grade="note",
        )
    if setting.vented:
        yield from _lunge(cylinder, setting, out)
    by_jerks = jerks.words(cylinder, setting, {"out": out, "back": back})
    if by_jerks is not None:
        yield _finding(cylinder, "AIR-09", *by_jerks, grade="note")


def _valve(cylinder: AirCylinder) -> Iterator[Finding]:
    ports = cylinder.valve.kind[0]
    if (cylinder.acting == "single") == (ports == "3"):
        return
    wanted = "3/2" if cylinder.acting == "single" else "5/2"
    yield _finding(
        cylinder,
        "AIR-03",
        f"{cylinder.name} is {cylinder.acting}-acting and has a {cylinder.valve.kind} valve.",
        f"It needs a {wanted} valve: `valve: {{kind: {wanted}}}`.",
        field="valve",
    )


def _lunge(cylinder: AirCylinder, setting: Setting, out: Stroke) -> Iterator[Finding]:
    """The first stroke after a dump against any later one."""
    if cylinder.acting == "single":
        return  # it never has back pressure, so no stroke differs
    first, later = (
        run(begun(out, home(cylinder, replace(setting, vented=vented)))) for vented in (True, False)
    )
    if first.t_full_s is None or later.t_full_s is None:
        return
    early = 1000.0 * (later.t_full_s - first.t_full_s)
    hard, usual = (impact_of(cylinder, out, each) for each in (first, later))
    if early < LUNGES_MS and hard.energy_j < 2.0 * usual.energy_j:
        return  # nothing throttles its exhaust, so that no stroke meets much back pressure
    yield _finding(
        cylinder,
        "AIR-02",
        f"The first stroke of {cylinder.name} after the air was dumped lunges: it is there "
        f"{early:.0f} ms sooner, at up to {hard.speed_m_s:.1f} instead of "
        f"{usual.speed_m_s:.1f} m/s and {hard.energy_j:.1f} instead of {usual.energy_j:.1f} J.",
        "Nobody may be in its way when the air comes back.",
        (
            Cure(do="Fit a soft-start valve behind the dump valve", cost="a valve"),
            Cure(
                do=f"Move {cylinder.name} out and back once before guests come",
                cost="a minute, and someone who watches",
            ),
            Cure(
                do="Throttle the air coming in as well (`supply restriction`)", cost="a slower hit"
            ),
        ),
        grade="warn",
    )


def _finding(
    cylinder: AirCylinder,
    code: str,
    says: str,
    allowed: str = "",
    cures: tuple[Cure, ...] = (),
    *,
    field: str = "",
    grade: Grade = "refuse",
) -> Finding:
    return Finding(
        code=code,
        grade=grade,
        place=cylinder.origin.of(field) if field else NOWHERE,
        says=says,
        allowed=allowed,
        cures=cures,
        about=(cylinder.name,),
    )
