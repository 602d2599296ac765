"""Which of the values in doubt drives a landing: variance-based sensitivity (Sobol's indices).

In: a study and a seed. Out, by cue: values with first-order and total index, largest total first.
A beat that is linear in what is drawn has them in closed form; a stroke's are estimated by SALib
(Herman & Usher, J. Open Source Software 2(9), 2017; Saltelli et al., Comput. Phys. Commun. 181,
2010), with the half width of a bootstrapped 95 % interval. SALib is imported only here.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from math import isnan
from typing import TYPE_CHECKING, Any

from thundersheet.base.finding import Refusal
from thundersheet.rehearse.scatter.draw import errors_ms
from thundersheet.rehearse.scatter.study import Beat, Study

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Column = NDArray[np.float64]
    Table = NDArray[np.float64]

EXPLAINS = {
    "SCAT-01": "What drives a landing is found by a library that most users never need, so it is "
    "an extra of its own. Everything else of the scatter works without it.",
}

Driver = tuple[str, float, float, float]
"""Name, first-order index, total index, half width of the total's 95 % interval."""
BASE = 512
"""Base sample, a power of two as Sobol's sequence wants; (values + 2) strokes each."""
RESAMPLES = 100
EDGE = 1e-12
"""How near a quantile may come to 0 or 1, where a normal distribution has no end."""


def drivers_of(study: Study, seed: int, base: int) -> dict[str, tuple[Driver, ...]]:
    """By cue: what drives its landing, where everything in doubt is drawn."""
    library = salib()
    return {beat.cue: _of_beat(library, beat, study, seed, base) for beat in study.beats}


def _of_beat(library: Any, beat: Beat, study: Study, seed: int, base: int) -> tuple[Driver, ...]:
    if beat.stroke is None:
        return _in_proportion(beat, study)
    columns = beat.columns

    def model(z: Table) -> Column:
        import numpy as np

        all_columns = np.zeros((len(z), len(study.doubts)))
        all_columns[:, columns] = z
        return _without_gaps(errors_ms(beat, all_columns, study))

    names = tuple(study.doubts[column].name for column in columns)
    return indices(library, names, model, seed, base)


def indices(
    library: Any, names: tuple[str, ...], model: Callable[[Table], Column], seed: int, base: int
) -> tuple[Driver, ...]:
    """Sobol's indices of a function of independent standard normal columns."""
    import numpy as np

    problem = {
        "num_vars": len(names),
        # Named by number: two values of one name are two all the same.
        "names": [str(at) for at in range(len(names))],
        "bounds": [[0.0, 1.0]] * len(names),
    }
    shares = library.sample.sample(problem, base, calc_second_order=False, seed=seed)
    found = model(np.asarray(library.special.ndtri(np.clip(shares, EDGE, 1.0 - EDGE))))
    if not np.ptp(found):
        return ()
    told = library.analyze.analyze(
        problem, found, calc_second_order=False, num_resamples=RESAMPLES, seed=seed
    )
    rows = zip(names, told["S1"], told["ST"], told["ST_conf"], strict=True)
    return _sorted((name, float(s1), float(st), float(conf)) for name, s1, st, conf in rows)


def _in_proportion(beat: Beat, study: Study) -> tuple[Driver, ...]:
    """A sum of independent values: each index is its share of the variance, to the last digit."""
    if isnan(beat.lead_s):
        return ()
    parts = []
    for effect in beat.effects:
        doubt = study.doubts[effect.column]
        # A uniform one of half width h has the variance h^2/3.
        variance = effect.sd**2 / (3.0 if doubt.law == "uniform" else 1.0)
        parts.append((doubt.name, variance))
    total = sum(variance for _, variance in parts)
    if not total:
        return ()
    return _sorted((name, part / total, part / total, 0.0) for name, part in parts)


def _sorted(rows: Any) -> tuple[Driver, ...]:
    return tuple(sorted(rows, key=lambda row: -row[2]))


def _without_gaps(errors: Column) -> Column:
    """Landings that never come counted as the latest one that does: they are at least so late."""
    import numpy as np

    gone = np.isnan(errors)
    if gone.all():
        return np.zeros(len(errors))
    return np.where(gone, np.nanmax(errors), errors) if gone.any() else errors


class _Library:
    """SALib's two halves of Sobol's method, and the normal distribution's quantiles."""

    def __init__(self) -> None:
        self.sample = import_module("SALib.sample.sobol")
        self.analyze = import_module("SALib.analyze.sobol")
        self.special = import_module("scipy.special")


def salib() -> Any:
    """SALib; a Refusal that says how to install it where it is missing."""
    try:
        return _Library()
    except ImportError as error:
        raise Refusal.because(
            "SCAT-01",
            "What drives a landing is found by SALib, which is not installed here.",
            "Install it with `pip install 'thundersheet[scatter]'`, or leave `--drivers` out.",
        ) from error
