"""Draws, and where a beat lands under them when each stroke is reckoned by itself.

In: a study, a seed and the number of a chunk; a beat and a draw. Out: draws, what each amounts to,
and landing errors in milliseconds. A show's draw depends on the seed and on its own number alone,
so that workers, chunks and the number of shows change nothing. No statistics here.
"""

from __future__ import annotations

from math import erf, sqrt
from typing import TYPE_CHECKING

from thundersheet.model.device import Landing
from thundersheet.physics import bulk
from thundersheet.physics.bulk import Batch
from thundersheet.physics.stroke import Stroke
from thundersheet.rehearse.scatter.study import Beat, Effect, Study

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Column = NDArray[np.float64]
    Table = NDArray[np.float64]

CHUNK = 250
"""Shows to a chunk: some tenths of a second, so that a study can be stopped and shows progress."""


def chunks_of(shows: int) -> int:
    """How many chunks hold so many shows."""
    return -(-shows // CHUNK)


def drawn(study: Study, seed: int, chunk: int) -> Table:
    """Standard normal draws, a row a show of the chunk and a column a doubt."""
    import numpy as np

    own = np.random.SeedSequence(entropy=seed, spawn_key=(chunk,))
    return np.random.Generator(np.random.PCG64(own)).standard_normal((CHUNK, len(study.doubts)))


def errors_ms(beat: Beat, z: Table, study: Study) -> Column:
    """A beat's landing error in each row of a draw, in milliseconds; NaN where it never lands."""
    import numpy as np

    moved = {effect: amount_of(effect, z, study) for effect in beat.effects}
    late = np.full(len(z), beat.base_s)
    for effect, amount in moved.items():
        if effect.on == "late":
            late += amount
    if beat.stroke is None:
        return np.asarray(1000.0 * (late + beat.lead_s))
    lands = _landings(beat.stroke, beat.land, moved, len(z))
    return np.asarray(1000.0 * (late + beat.shift_s + lands))


def amount_of(effect: Effect, z: Table, study: Study) -> Column:
    """A column's draw in its own unit: an addition, or a factor where it is a share."""
    import numpy as np

    doubt, column = study.doubts[effect.column], z[:, effect.column]
    if doubt.law == "uniform":
        off = effect.sd * (2.0 * _normal_share(column) - 1.0)
        return np.asarray(1.0 + off if doubt.unit == "share" else off)
    return np.exp(effect.sd * column) if doubt.unit == "share" else effect.sd * column


def _normal_share(z: Column) -> Column:
    """How much of a normal distribution lies below: 0..1, so even for uniform draws."""
    import numpy as np

    return np.array([0.5 * (1.0 + erf(value / sqrt(2.0))) for value in z.tolist()])


def _landings(stroke: Stroke, land: Landing, moved: dict[Effect, Column], count: int) -> Column:
    found: Batch = bulk.scatter(stroke, _changes(stroke, moved, count))
    return {"starts": found.start_s, "half-way": found.mid_s}.get(land, found.full_s)


def _changes(stroke: Stroke, moved: dict[Effect, Column], count: int) -> dict[str, Column]:
    """The stroke's numbers under what is drawn, as `bulk.scatter` names them."""
    import numpy as np

    changes = {"delay": np.full(count, stroke.valve_delay_s)}
    pressures = [amount for effect, amount in moved.items() if effect.on == "supply"]
    if pressures:
        changes |= _pressures(stroke, np.prod(pressures, axis=0))
    for effect, amount in moved.items():
        match effect.on:
            case "delay":
                changes["delay"] = np.maximum(changes["delay"] + amount, 0.0)
            case "ambient":
                changes |= _temperatures(stroke, amount)
            case "friction":
                changes["breakaway"] = stroke.breakaway_n * amount
                changes["coulomb"] = stroke.coulomb_n * amount
            case "valve flow":
                changes |= dict.fromkeys(("drive_valve_flow", "exhaust_valve_flow"), amount)
            case "flow control":
                changes |= dict.fromkeys(("drive_end_flow", "exhaust_end_flow"), amount)
            case "hose":
                changes |= _hoses(stroke, amount)
            case "load":
                changes |= _loads(stroke, amount)
            case "late" | "supply":
                pass
    return changes


SIDES = ("drive", "exhaust", "drive_tube", "exhaust_tube")


def _pressures(stroke: Stroke, factor: Column) -> dict[str, Column]:
    """Supply and first air, all above the atmosphere in proportion."""
    atmosphere, air = stroke.atmosphere_pa, stroke.first_air
    first = {"supply": stroke.supply_pa} | {
        f"{side}_pa": float(getattr(air, f"{side}_pa")) for side in SIDES
    }
    return {name: atmosphere + (pa - atmosphere) * factor for name, pa in first.items()}


def _temperatures(stroke: Stroke, kelvins: Column) -> dict[str, Column]:
    """Ambient and first air, all so many kelvins warmer."""
    air = stroke.first_air
    first = {"ambient": stroke.ambient_k} | {
        f"{side}_k": float(getattr(air, f"{side}_k")) for side in SIDES
    }
    return {name: k + kelvins for name, k in first.items()}


def _hoses(stroke: Stroke, factor: Column) -> dict[str, Column]:
    tubes = (("drive", stroke.drive_tube), ("exhaust", stroke.exhaust_tube))
    return {f"{side}_length": tube.length_m * factor for side, tube in tubes if tube is not None}


def _loads(stroke: Stroke, factor: Column) -> dict[str, Column]:
    lid = stroke.linkage.lid
    if lid is None:
        return {"load": stroke.load_kg * factor}
    return {"lid_mass": lid.mass_kg * factor, "lid_inertia": lid.inertia_kg_m2 * factor}
