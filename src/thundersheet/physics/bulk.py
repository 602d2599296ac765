"""Many strokes at once: the kernel's own text, compiled by numba.

In come strokes, or one stroke and columns of changed numbers; out come columns of results. The
first use on an installation compiles for some seconds and says so; the machine code is then kept
beside the package or in the user's cache folder, where one can be written.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from types import FunctionType, ModuleType
from typing import TYPE_CHECKING, Any

from thundersheet.physics import (
    careful,
    events,
    fine,
    implicit,
    kernel,
    march,
    pace,
    prepare,
    step,
)
from thundersheet.physics.gas import CHAIN_POINTS, standard_litres
from thundersheet.physics.solve import Tables, asked, interpret_again
from thundersheet.physics.stroke import Stroke

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Column = NDArray[np.float64]
    Table = NDArray[np.float64]

GROUPS = ("drive_valve", "drive_end", "exhaust_valve", "exhaust_end")
"""Parts whose flow `scatter` can scale, under the name of the group and ``_flow``."""
TOLERANCE = 5e-5
"""For scatter: two hundred strokes of every sort are within 0.08 ms and 0.11 % of speed."""
MODULES = (kernel, prepare, events, step, implicit, pace, march)
CAREFUL = (*MODULES, fine, careful)
"""What is compiled besides, and only then, when a stroke of `land_many` goes by jerks."""
FEW = 24
"""So many strokes by jerks are interpreted before their compiling would be done."""
INLINE = ("side_rates", "flow")
"""Written into their callers by the compiler: then a side's columns are constants, not sums to be
checked at every use. Worth a quarter of the speed; more of them only take longer to compile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What was found, a column of numbers each, in the order of the strokes.

    NaN where a stroke never came to that.
    """

    start_s: Column
    mid_s: Column
    full_s: Column
    impact_m_s: Column
    impact_j: Column
    air_l: Column
    """Standard litres to the end of the stroke."""

    def __len__(self) -> int:
        return len(self.full_s)


def quiet(_: str) -> None:
    """Say nothing."""


def land_many(strokes: Sequence[Stroke], say: Callable[[str], None] = quiet) -> Batch:
    """How each of the strokes lands, as `solve.solve` would say."""
    import numpy as np

    asks, lookup = _asked(strokes)
    founds = _run(asks, lookup, say)
    which = [i for i in range(len(asks)) if careful.jerks(asks[i], founds[i])]
    bouncing = [i for i in which if careful.bounces(asks[i], founds[i])]
    if bouncing:
        closer = asks[bouncing]
        closer[:, kernel.TOLERANCE] *= careful.CLOSER
        for i, found in zip(bouncing, _run(closer, lookup, say), strict=True):
            if careful.alike(founds[i], found):
                founds[i] = found
                which.remove(i)
    if which:
        again = _run_again([strokes[i] for i in which], say)
        followed = again[:, march.STATUS] != march.TOO_MANY
        founds[np.array(which)[followed]] = again[followed]
    return _batch(founds)


def _asked(strokes: Sequence[Stroke], *, fine_tables: bool = False) -> tuple[Table, Table]:
    """The kernel's rows for the strokes and the tables of their chains."""
    import numpy as np

    rows, tables = [], Tables()
    for stroke in strokes:
        row, more = asked(stroke, first_table=len(tables), fine_tables=fine_tables)
        rows.append(row)
        tables += more
    return np.array(rows, dtype=np.float64), _lookup(tables)


def _lookup(tables: Tables) -> Table:
    import numpy as np

    return np.array(tables or [(0.0,) * (CHAIN_POINTS + 1)])


def scatter(
    stroke: Stroke, changes: Mapping[str, Column], say: Callable[[str], None] = quiet
) -> Batch:
    """One stroke many times with some of its numbers changed.

    ``changes`` names columns of `kernel.ASKED` and gives the value of each run;
    ``drive_valve_flow`` and its like (`GROUPS`) give a factor on the conductance of those parts.
    The back pressure follows the supply and every first temperature the ambient, where they are
    changed and the stroke's ``air`` is None. Strokes that go by jerks are not run again with care:
    how such a stroke scatters is known from many, not from the exactness of one.
    """
    import numpy as np

    row, tables = asked(stroke, tolerance=TOLERANCE)
    if tables and {name for name in changes if name.endswith(("_flow", "_length", "_bore"))}:
        raise ValueError("the parts of an exact chain can't be scattered: combine them in series")
    count = max((len(values) for values in changes.values()), default=0)
    asks = np.tile(np.array(row), (count, 1))
    for name, values in _followed(stroke, changes).items():
        if name.removesuffix("_flow") in GROUPS:
            _scale(asks, name.removesuffix("_flow"), values)
        else:
            asks[:, kernel.ASKED.index(name)] = values
    return _batch(_run(asks, _lookup(tables), say))


def _followed(stroke: Stroke, changes: Mapping[str, Column]) -> dict[str, Column]:
    """The changes with what follows from them for the first state of the air."""
    more = dict(changes)
    if stroke.air is not None:
        return more
    if "supply" in changes and stroke.first_air.exhaust_pa == stroke.supply_pa:
        more = {"exhaust_pa": changes["supply"], "exhaust_tube_pa": changes["supply"]} | more
    if "ambient" in changes:
        kelvins = ("drive_k", "exhaust_k", "drive_tube_k", "exhaust_tube_k")
        more = dict.fromkeys(kelvins, changes["ambient"]) | more
    return more


def _scale(asks: Table, group: str, factor: Column) -> None:
    for name, power in (("cubes", 3), ("squares", 2), ("indices", 3)):
        asks[:, kernel.ASKED.index(f"{group}_{name}")] /= factor**power


def _run(asks: Table, lookup: Table, say: Callable[[str], None]) -> Table:
    import numpy as np

    founds = np.zeros((len(asks), len(march.FOUND)))
    compiled_kernel(say)(asks, lookup, founds)
    return founds


def _run_again(strokes: Sequence[Stroke], say: Callable[[str], None]) -> Table:
    """What `careful` finds of strokes that go by jerks."""
    import numpy as np

    loop = _compiled_again()
    if not _stored(loop) and len(strokes) < FEW:
        return np.array([_alone(stroke) for stroke in strokes])
    if not _stored(loop):
        say("Compiling the fine steps for strokes by jerks: some seconds, the first time only.")
    asks, lookup = _asked(strokes, fine_tables=True)
    work, founds = np.zeros((fine.FINE_ROWS, 27)), np.zeros((len(asks), len(march.FOUND)))
    loop(asks, np.zeros(kernel.MADE), lookup, work, work[:0], founds)
    return founds


def _alone(stroke: Stroke) -> list[float]:
    row, tables = asked(stroke, fine_tables=True)
    return interpret_again(row, tables, 0)[0]


def _batch(founds: Table) -> Batch:
    import numpy as np

    never = np.where(founds < 0.0, np.nan, founds)
    arrived = founds[:, march.STATUS] == march.ARRIVED
    return Batch(
        start_s=never[:, march.T_START],
        mid_s=never[:, march.T_MID],
        full_s=never[:, march.T_FULL],
        impact_m_s=np.where(arrived, founds[:, march.IMPACT], np.nan),
        impact_j=np.where(arrived, founds[:, march.ENERGY], np.nan),
        air_l=founds[:, march.MASS_IN] * standard_litres(1.0),
    )


def compiled_kernel(say: Callable[[str], None] = quiet) -> Callable[[Table, Table, Table], None]:
    """The compiled loop over strokes: (asks, tables, founds), float64 arrays; fills ``founds``.

    ``say`` is told beforehand when this use has to compile, which takes some seconds.
    """
    import numpy as np

    fresh = not _compiled.cache_info().currsize
    loop = _compiled()
    par, work = np.zeros(kernel.MADE), np.zeros((10, 27))

    def run_many(asks: Table, tables: Table, founds: Table) -> None:
        loop(asks, par, tables, work, work[:0], founds)

    if fresh:
        if not _stored(loop):
            say("Compiling the stroke model for this machine: some seconds, the first time only.")
        run_many(
            np.zeros((0, len(kernel.ASKED))),
            np.zeros((1, CHAIN_POINTS + 1)),
            np.zeros((0, len(march.FOUND))),
        )
    return run_many


def single_kernel(
    say: Callable[[str], None] = quiet,
) -> Callable[[Table, Table, Table], Column]:
    """The compiled kernel for one stroke at a time: (asks of one row, tables, founds of one row).

    It fills ``founds`` and gives the stroke's final state, which stands until the next call.
    """
    import numpy as np

    compiled_kernel(say)
    loop = _compiled()
    par, work = np.zeros(kernel.MADE), np.zeros((10, 27))
    no_trace = work[:0]

    def run_one(asks: Table, tables: Table, founds: Table) -> Column:
        loop(asks, par, tables, work, no_trace, founds)
        final: Column = work[0]
        return final

    return run_one


@lru_cache(maxsize=1)
def _compiled() -> Any:
    """The kernel compiled: the loop over strokes, `march.run_many`."""
    return _linked(MODULES, march.run_many.__name__)


@lru_cache(maxsize=1)
def _compiled_again() -> Any:
    """The same with care: the loop `careful.run_many_again`."""
    return _linked(CAREFUL, careful.run_many_again.__name__)


def _linked(modules: tuple[ModuleType, ...], entry: str) -> Any:
    """The modules' functions handed to numba, each with the others as its globals.

    No fastmath: it would break the agreement with the interpreter and comparisons with NaN.
    """
    names: dict[str, Any] = {"__name__": modules[-1].__name__}
    for module in modules:
        names |= {name: it for name, it in vars(module).items() if not name.startswith("__")}
    functions = {name: it for name, it in names.items() if isinstance(it, FunctionType)}
    for name, function in functions.items():
        twin = FunctionType(function.__code__, names, name)
        twin.__qualname__ = f"{name}_{kernel_print()}" if name == entry else name
        names[name] = _jit(twin, name, keep=name == entry)
    return names[entry]


def _jit(function: FunctionType, name: str, *, keep: bool) -> Any:
    """The function as numba has it; the outermost one's machine code outlives the process.

    The kernel makes no arrays, so numba needs no run-time for their references; counting them at
    every call would take three quarters of the time. ``_nrt`` is numba's option for that.
    """
    import numba

    njit: Any = numba.njit
    options = {"error_model": "numpy", "nogil": True, "_nrt": False, "forceinline": name in INLINE}
    try:
        return njit(cache=keep, **options)(function)
    except RuntimeError:
        # No folder that machine code could be kept in: compile anew in every process.
        return njit(**options)(function)


def kernel_print() -> str:
    """Of the kernel's text: numba looks at one file only and would run yesterday's equations."""
    texts = (inspect.getsource(module) for module in (*CAREFUL, sys.modules[__name__]))
    return sha256("".join(texts).encode()).hexdigest()[:12]


def _stored(loop: Any) -> bool:
    """Whether numba will find the machine code on the disk."""
    folder = loop.stats.cache_path
    return bool(folder) and any(Path(folder).glob(f"*{kernel_print()}*.nbi"))
