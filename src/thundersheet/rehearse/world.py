"""One show against physics finer than the plan's: everything that moves, shines, blows and draws.

In: a book and a plan of it, faults. Out: a `Rehearsal` of one show, by the coupled solver. Its
physics is the devices' `step` and the air plant's, never a `lead`. Many shows are `rush`'s.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from thundersheet.base.time import Time
from thundersheet.model.book import Book
from thundersheet.physics.bulk import quiet
from thundersheet.physics.plant.records import Accounts, Plant, Run, State
from thundersheet.plan.compare import Observed, compare
from thundersheet.plan.plumbing import atmosphere, first_state, plant_of
from thundersheet.plan.records import Cue, Plan
from thundersheet.rehearse.air import air_curves, air_of, curve, landed_by_air
from thundersheet.rehearse.faults import Fault, Hammered, HeldStart, on_plant, on_switches
from thundersheet.rehearse.measured import as_measured, measured_ms
from thundersheet.rehearse.power import Samples, arriving, drawn, samples_of
from thundersheet.rehearse.records import Curve, Differs, Landed, Played, Rehearsal
from thundersheet.rehearse.rest import Rest, rest_after
from thundersheet.rehearse.stage import Staged, stage, usual_ms

GRID_S = 0.005
"""Of the coupled solver's samples: finer than a picture's line, and than any landing's window."""

MOST_SAMPLES = 40_000
"""A show of more than three minutes is sampled more coarsely, so that its memory stays small."""
NOTHING = Accounts(mass_in=0.0, mass_out=0.0, mass_growth=0.0, mass_missing=0.0)


def nothing(_: Any) -> None:
    """Take no notice."""


def air_at_first(book: Book, faults: Sequence[Fault]) -> tuple[Plant, State]:
    """The plant with its faults, and the state it begins an evening in."""
    plant = plant_of(book)
    return on_plant(faults, plant), first_state(book, plant)


def staged_with_wires(book: Book, plan: Plan, faults: Sequence[Fault]) -> tuple[Staged, Samples]:
    """A show staged with the voltage that its wires leave, as far as they have a resistance."""
    staged = stage(book, plan, faults)
    samples = samples_of(staged)
    if any(supply.wire_ohm > 0.0 for supply in book.supplies):
        staged = stage(book, plan, faults, arriving(staged, samples))
        samples = samples_of(staged)
    return staged, samples


def rehearse_show(
    book: Book,
    plan: Plan,
    faults: Sequence[Fault] = (),
    *,
    say: Callable[[str], None] = quiet,
    progress: Callable[[float], None] = nothing,
) -> Rehearsal:
    """One show of a plan, beginning with a full tank and everything at rest."""
    staged, samples = staged_with_wires(book, plan, faults)
    plant, state = air_at_first(book, faults)
    run = _played(staged, plant, state, say, progress)
    landed = in_order(staged, (*staged.landed, *landed_by_air(staged, run)))
    if measured_ms(plan):
        usual = _usual(book, plan, say) if faults else landed
        landed = as_measured(plan, landed, usual)
    rest = rest_after(staged, samples, run, plant, state)
    own = air_of(run)
    root = plant.bodies[0].name
    show = Played(
        number=1,
        start_s=0.0,
        variant=plan.variant,
        guests=book.guests.per_show,
        tank_pa=None if plant.endless else state.bodies[root].pa,
        lowest_pa=None if plant.endless else lowest_pa(run, root),
        air_l=sum(litres for _, litres in own),
        air_of=own,
        landed=landed,
    )
    return Rehearsal(
        show=plan.show,
        mode="show",
        solver=run.solver,
        seed=None,
        length_s=plan.length.s,
        shows=(show,),
        curves=tuple(_curves(staged, samples, run)),
        guests_per_hour=an_hour(book, plan, rest),
        rest_s=rest.seconds,
        rest_why=rest.why,
        faults=tuple(fault.says for fault in faults),
        started=presses(book, faults, plan.length.s),
        differs=differs(plan, (show,), usual=True) if not faults else None,
        findings=plan.findings,
        units=plan.units,
        atmosphere_pa=atmosphere(book.air),
    )


def _usual(book: Book, plan: Plan, say: Callable[[str], None]) -> tuple[Landed, ...]:
    """The same show's landings with nothing wrong."""
    staged, _ = staged_with_wires(book, plan, ())
    run = _played(staged, *air_at_first(book, ()), say, nothing)
    return (*staged.landed, *landed_by_air(staged, run))


def _played(
    staged: Staged,
    plant: Plant,
    state: State,
    say: Callable[[str], None],
    progress: Callable[[float], None],
) -> Run:
    if not plant.cylinders and not plant.jets:
        return Run(landings=(), state=state, accounts=NOTHING, solver="coupled")
    from thundersheet.physics.plant.coupled.run import run  # numba, so only where it is needed

    switches = on_switches(staged.faults, staged.switches, first=True)
    ends_s = staged.length_s + staged.book.show.rest.s
    ends_s = max([ends_s, *(each.at_s + 2.0 for each in switches[-1:])])
    grid = max(GRID_S, ends_s / MOST_SAMPLES)
    return run(plant, switches, ends_s, state=state, grid_s=grid, say=say, progress=progress)


def in_order(staged: Staged, landed: Sequence[Landed]) -> tuple[Landed, ...]:
    """Landings in the plan's own order."""
    place = {cue.id: index for index, cue in enumerate(staged.plan.cues)}
    return tuple(sorted(landed, key=lambda each: place[each.cue]))


def lowest_pa(run: Run, root: str) -> float:
    """The least that stood in a body during a run with samples."""
    return min(run.series.columns.get(f"body {root} pa", (run.state.bodies[root].pa,)))


def an_hour(book: Book, plan: Plan, rest: Rest) -> float | None:
    """Guests an hour where one show follows the other as soon as all has recovered."""
    if rest.seconds is None:
        return None
    again = plan.length.s + max(rest.seconds, book.show.rest.s)
    return book.guests.per_show * 3600.0 / again


def presses(book: Book, faults: Sequence[Fault], length_s: float) -> str:
    """What became of presses that found the prop playing or resting."""
    again = book.guests.again.s if book.guests.again else length_s + book.show.rest.s
    for fault in faults:
        match fault:
            case Hammered(every_s=every):
                count = int(again / every)
                return f"{count} presses during the show and its rest started nothing: one show."
            case HeldStart():
                return "The start stayed pressed: one show, and no second one until it is let go."
    return ""


def observed(landed: Sequence[Landed]) -> Iterator[Observed]:
    """A show's landings as rows that proof, tuning and night compare as well."""
    for each in landed:
        if each.error_ms is None:
            yield Observed(each.cue)
            continue
        arrived = Time.seconds(each.beat_s + each.error_ms / 1e3)
        sent = None if each.lead_ms is None else Time.seconds(arrived.s - each.lead_ms / 1e3)
        yield Observed(each.cue, sent, arrived)


def differs(plan: Plan, shows: Sequence[Played], *, usual: bool = False) -> Differs | None:
    """How far landings lie from where the plan expects them, over shows of one plan.

    ``usual``: the air is that of a full tank at the book's ambient; else it is somewhere in the
    evening, for which a plan has a range, and the distance is that to the range.
    """
    off: list[tuple[float, str]] = []
    for show in shows:
        for row in compare(plan, observed(show.landed)):
            if row.planned is not None and row.landing_error is not None:
                low, high = _expected(row.planned, usual)
                error = row.landing_error.in_ms
                off.append((error - min(max(error, low), high), row.id))
    if not off:
        return None
    worst = max(off, key=lambda each: abs(each[0]))
    return Differs(
        mean_ms=sum(abs(each) for each, _ in off) / len(off),
        worst_ms=worst[0],
        worst_cue=worst[1],
        landings=len(off),
    )


def _expected(cue: Cue, usual: bool) -> tuple[float, float]:
    """Between which errors the plan expects a landing, in milliseconds."""
    shift, ranged = cue.expected_error.in_ms, cue.evening
    if usual or ranged is None:
        return usual_ms(cue), usual_ms(cue)
    return shift + ranged.early.in_ms, shift + ranged.late.in_ms


def _curves(staged: Staged, samples: Samples, run: Run) -> Iterator[Curve]:
    """Everything over time: what moves by itself, what the air moves, and the currents."""
    on_air = {each.cue.target.move.device for each in staged.air_cues}
    for name, rows in samples.items():
        at = [row[0] for row in rows]
        if name not in on_air:
            yield curve(name, "motion", at, [seen.shown for _, seen in rows])
        if any(seen.light for _, seen in rows):
            yield curve(name, "light", at, [seen.light for _, seen in rows])
        if any(seen.amps for _, seen in rows):
            yield curve(name, "current", at, [seen.amps for _, seen in rows])
    for supply in staged.book.supplies:
        found = list(_edges(drawn(staged, samples, supply)))
        yield curve(supply.name, "current", [at for at, _ in found], [amps for _, amps in found])
    yield from air_curves(staged, run.series)


def _edges(steps: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """Steps as a line that jumps: each value is held until just before the next."""
    before: float | None = None
    for at, value in steps:
        if before is not None and at > 0.0:
            yield at - 1e-9, before
        yield at, value
        before = value
