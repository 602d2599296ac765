"""Scatter: many shows drawn by lot, how each landing falls, and how often all is inside.

In: a book, its plan, how many shows, a seed. Out: `records.Scatter`. Two things are told apart:
what is *unknown but fixed* (friction that nobody has measured: the same every night, gone once it
is tuned) and what *varies* from show to show or night to night. Every figure is given with both
drawn, and once more with only what varies. Not drawn: faults, for which there is `--fault`.
"""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter
from typing import TYPE_CHECKING

from thundersheet.model.book import Book
from thundersheet.plan.records import Plan
from thundersheet.rehearse.records import Scatter, Spread
from thundersheet.rehearse.scatter_draw import joined
from thundersheet.rehearse.scatter_drivers import BASE, drivers_of
from thundersheet.rehearse.scatter_study import Study, study_of
from thundersheet.rehearse.scatter_workers import errors_on

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Column = NDArray[np.float64]
    Table = NDArray[np.float64]

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
    progress: Callable[[float], None] = silent,
) -> Scatter:
    """So many shows of a plan, drawn by lot.

    ``workers``: empty for this process, a number for so many processes here, or the address of a
    Dask scheduler; the numbers are the same to the last bit. A Refusal where those cannot be had.
    """
    began = perf_counter()
    study = study_of(book, plan)
    found = errors_on(workers, study, seed, shows, progress)
    errors = joined(found.parts)
    why = drivers_of(study, seed, BASE) if drivers else {}
    inside = inside_of(study, errors)
    return Scatter(
        show=plan.show,
        shows=shows,
        seed=seed,
        solver="event-driven",
        all_inside=float(inside[0].all(axis=1).mean()),
        tuned_all_inside=float(inside[1].all(axis=1).mean()),
        spreads=tuple(
            _spread(study, column, errors, inside, why.get(study.beats[column].cue, ()))
            for column in range(len(study.beats))
        ),
        ran_on=found.where,
        seconds=perf_counter() - began,
        doubts=study.doubts,
    )


def inside_of(study: Study, errors: Table) -> NDArray[np.bool_]:
    """Which landings lie in their windows; one that never came does not."""
    import numpy as np

    early = np.array([beat.window.early.in_ms for beat in study.beats])
    late = np.array([beat.window.late.in_ms for beat in study.beats])
    return np.asarray((errors >= early) & (errors <= late))


def _spread(
    study: Study,
    column: int,
    errors: Table,
    inside: NDArray[np.bool_],
    drivers: tuple[tuple[str, float, float, float], ...],
) -> Spread:
    import numpy as np

    beat = study.beats[column]
    own = errors[0, :, column]
    came = own[~np.isnan(own)]
    tuned = errors[1, :, column]
    tuned = tuned[~np.isnan(tuned)]
    quantiles = np.quantile(came, SHARES) if len(came) else np.full(len(SHARES), np.nan)
    return Spread(
        cue=beat.cue,
        window=beat.window,
        shows=len(own),
        missing=len(own) - len(came),
        inside=float(inside[0, :, column].mean()),
        mean_ms=float(came.mean()) if len(came) else float("nan"),
        sd_ms=_sd(came),
        quantiles=tuple(zip(SHARES, (float(q) for q in quantiles), strict=True)),
        drivers=drivers,
        by=beat.by,
        tuned_inside=float(inside[1, :, column].mean()),
        tuned_sd_ms=_sd(tuned),
    )


def _sd(errors: Column) -> float:
    return float(errors.std(ddof=1)) if len(errors) > 1 else 0.0
