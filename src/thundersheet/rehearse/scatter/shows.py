"""Scatter: many shows drawn by lot, how each landing falls, and how often all is inside.

In: a book, its plan, how many shows, a seed. Out: `records.Scatter`. Two things are told apart:
what is *unknown but fixed* (friction that nobody has measured: the same every night, gone once it
is tuned) and what *varies* from show to show or night to night. Every figure is given with both
drawn, and once more with only what varies. Not drawn: faults, for which there is `--fault`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from time import perf_counter
from typing import TYPE_CHECKING, Literal

from thundersheet.base.finding import Finding, Refusal
from thundersheet.model.book import Book
from thundersheet.physics import bulk
from thundersheet.physics.bulk import quiet
from thundersheet.physics.plant import legs
from thundersheet.plan.records import Plan
from thundersheet.rehearse.records import Checked, Scatter, Spread
from thundersheet.rehearse.scatter.chunk import joined, run_chunk
from thundersheet.rehearse.scatter.drivers import BASE, Driver, drivers_of
from thundersheet.rehearse.scatter.events import anchored
from thundersheet.rehearse.scatter.plant import checked
from thundersheet.rehearse.scatter.setup import setup_of
from thundersheet.rehearse.scatter.study import Study, study_of
from thundersheet.rehearse.scatter.workers import errors_on

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Column = NDArray[np.float64]
    Table = NDArray[np.float64]

EXPLAINS = {
    "SCAT-07": "A scatter looks at landings, and the show, or this variant of it, has none.",
    "SCAT-10": "Of the shows drawn by lot, fewer than 95 % had this landing inside its window. If "
    "most of that comes from values that are unknown but fixed (friction, a flow control's "
    "setting), measuring the lead once mends it; if not, every night will scatter so.",
}
Way = Literal["", "event-driven", "stroke by stroke"]
PLAN_FIRST = "Write `beats`; `thundersheet plan` shows its cues."
ENOUGH = 0.95
SAMPLE = 16
"""Shows that the plant plays to see whether strokes by themselves land the same."""
CLOSE = 0.05
"""Differences of so small a share of a landing's own scatter change its spread by 0.1 %."""
SHARES = (0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99)


def silent(_: float) -> None:
    """Show no progress."""


def scatter(
    book: Book,
    plan: Plan,
    shows: int,
    seed: int,
    *,
    workers: str = "",
    drivers: bool = False,
    by: Way = "",
    coupled: int = 0,
    progress: Callable[[float], None] = silent,
    say: Callable[[str], None] = quiet,
) -> Scatter:
    """So many shows of a plan, drawn by lot.

    ``workers``: a number of processes here, or the address of a Dask scheduler; empty: on this
    machine, as suits. The numbers are the same to the last bit. A Refusal where they can't be had.
    ``by``: each show as a whole by the event-driven plant, or each stroke alone in the air that
    the plant's undisturbed show has for it; empty: alone where a sample of shows that the plant
    plays lands the same. ``coupled``: how many shows the coupled plant is to play once more.
    ``say`` is told when something has to be compiled first.
    """
    bulk.compiled_kernel(say)
    began = perf_counter()
    study = study_of(book, plan)
    if not study.beats:
        raise Refusal.because("SCAT-07", "This show has no cue that could land.", PLAN_FIRST)
    if study.setup is not None:
        legs.compiled(say)
    study, checks = _chosen(anchored(study), seed, min(shows, SAMPLE), by)
    found = errors_on(workers, study, seed, shows, progress)
    why = drivers_of(study, seed, BASE) if drivers else {}
    # Column by column: a million shows are not held twice.
    spreads = tuple(
        _spread(study, at, joined([part[:, :, at : at + 1] for part in found.parts]), why)
        for at in range(len(study.beats))
    )
    whole, tuned = _all_inside(study, found.parts)
    if coupled:
        setup = study.setup or setup_of(book, plan)
        checks += checked("coupled", setup, study, seed, coupled, found.parts[0][0])
    return Scatter(
        show=plan.show,
        shows=shows,
        seed=seed,
        solver="event-driven",
        all_inside=whole,
        tuned_all_inside=tuned,
        spreads=spreads,
        ran_on=found.where,
        seconds=perf_counter() - began,
        doubts=study.doubts,
        checks=checks,
        findings=tuple(_findings(plan, spreads)),
    )


def _findings(plan: Plan, spreads: Iterable[Spread]) -> Iterator[Finding]:
    """Beats that too many shows miss: a warning where tuning does not mend it, else a note."""
    places = {cue.id: cue.target.place for cue in plan.cues}
    for spread in spreads:
        if spread.inside >= ENOUGH:
            continue
        tuned = spread.tuned_inside or 0.0
        mends = tuned >= ENOUGH
        yield Finding(
            code="SCAT-10",
            grade="note" if mends else "warn",
            place=places[spread.cue],
            says=f"{spread.cue} lands inside its window in {_percent(spread.inside)} of the shows "
            f"drawn; in {_percent(tuned)} where only that varies which no tuning removes.",
            allowed=_what_helps(spread, mends=mends),
            about=(spread.cue,),
        )


def _what_helps(spread: Spread, *, mends: bool) -> str:
    if spread.missing == spread.shows:
        return "It never lands at all: `thundersheet check` says why."
    if mends:
        return "Measure its lead and write it under `measured`."
    return f"Widen its window of {spread.window}, or take a move that varies less."


def _percent(share: float) -> str:
    return f"{100.0 * share:.1f} %"


def _chosen(study: Study, seed: int, shows: int, by: Way) -> tuple[Study, tuple[Checked, ...]]:
    """The study with how its shows are played, and the sample that said so."""
    if study.setup is None:
        return study, ()
    if by == "event-driven":
        return replace(study, by_events=True), ()
    own = run_chunk(study, seed, 0, shows)[0]
    checks = checked("event-driven", study.setup, study, seed, shows, own)
    apart = max((each.of_scatter for each in checks), default=0.0)
    return replace(study, by_events=not by and apart > CLOSE), checks


def inside_of(study: Study, errors: Table) -> NDArray[np.bool_]:
    """Which landings lie in their windows; one that never came does not."""
    import numpy as np

    early = np.array([beat.window.early.in_ms for beat in study.beats])
    late = np.array([beat.window.late.in_ms for beat in study.beats])
    return np.asarray((errors >= early) & (errors <= late))


def _all_inside(study: Study, parts: Iterable[Table]) -> tuple[float, float]:
    """Share of shows with every landing inside: everything drawn, and tuned."""
    import numpy as np

    shows = [inside_of(study, part).all(axis=2) for part in parts]
    whole, tuned = np.concatenate(shows, axis=1).mean(axis=1)
    return float(whole), float(tuned)


def _spread(study: Study, at: int, errors: Table, why: Mapping[str, tuple[Driver, ...]]) -> Spread:
    """One beat's figures from all of its errors: (everything drawn or tuned, show, 1)."""
    import numpy as np

    beat = study.beats[at]
    own, tuned = errors[0, :, 0], errors[1, :, 0]
    came, inside = own[~np.isnan(own)], inside_of(replace(study, beats=(beat,)), errors)
    quantiles = np.quantile(came, SHARES) if len(came) else np.full(len(SHARES), np.nan)
    return Spread(
        cue=beat.cue,
        window=beat.window,
        shows=len(own),
        missing=len(own) - len(came),
        inside=float(inside[0].mean()),
        mean_ms=float(came.mean()) if len(came) else float("nan"),
        sd_ms=_sd(came),
        quantiles=tuple(zip(SHARES, (float(q) for q in quantiles), strict=True)),
        drivers=why.get(beat.cue, ()),
        by="event-driven" if study.by_events and at in study.strokes else beat.by,
        tuned_inside=float(inside[1].mean()),
        tuned_sd_ms=_sd(tuned[~np.isnan(tuned)]),
    )


def _sd(errors: Column) -> float:
    return float(errors.std(ddof=1)) if len(errors) > 1 else 0.0
