"""One leg of a cylinder's way: a stroke, or the filling behind it, by the stroke's own kernel.

In come a row as `kernel.ASKED` names it, the air it begins with and what stands before its valve;
out come when it landed, what it took and the air afterwards. Equal legs are solved once: numbers
are rounded so finely that landings move by less than 0.01 ms. Interpreted, or compiled (`bulk`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp, pi
from typing import TYPE_CHECKING, Any, NamedTuple

from thundersheet.physics import kernel, march
from thundersheet.physics.gas import CP, R
from thundersheet.physics.solve import Tables, interpret

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Row = Sequence[float]
Air8 = tuple[float, ...]
"""Pressure and temperature of drive, exhaust, drive tube and exhaust tube, as a row has them."""
Three = tuple[float, float, float]
"""`gas.Sums` of what lies before the valve."""
Fly = Callable[[list[float], Tables], tuple[Sequence[float], Sequence[float]]]
"""A row and its tables: what was found (`march.FOUND`) and the final state."""

FINE_PA, FINE_K, FINE_M, FINE_S = 4.0, 1e-3, 1e-8, 1e-7
"""To what a leg's numbers are rounded. Ten per cent of pressure move a hit by 2.5 ms, and near the
stall a hundred times as much: 4 Pa in 3 bar are then still 0.004 ms."""
MOST_KEPT = 20_000
AIR = kernel.PD_0
QUARTER = pi / 4.0
UNFED: Three = (0.0, 0.0, 0.0)


class Ask(NamedTuple):
    """A leg, in whole steps of what is told apart."""

    stroke: int
    """Which row."""
    held: bool
    """Whether the piston is locked: it stands, and the air goes on."""
    supply: int
    feed: Three
    y: int
    v: int
    air: tuple[int, ...]
    since: int
    until: int


class Leg(NamedTuple):
    """What came of it; times after the command, below zero where it never came."""

    status: float
    start_s: float
    mid_s: float
    full_s: float
    speed_m_s: float
    energy_j: float
    end_s: float
    took_kg: float
    y_m: float
    v_m_s: float
    air: Air8


class Flights:
    """Solves legs and remembers them; ``rows`` and ``tables`` are one for each stroke."""

    def __init__(self, fly: Fly, rows: Sequence[Row], tables: Sequence[Tables]) -> None:
        self._fly, self.rows, self._tables = fly, list(rows), tables
        self._known: dict[Ask, Leg] = {}

    def leg(
        self,
        stroke: int,
        before: tuple[float, float, Air8],
        supply_pa: float,
        feed: Three,
        from_s: float,
        until_s: float,
        *,
        held: bool,
    ) -> Leg:
        """From ``from_s`` to ``until_s`` after the command; ``before`` is position, speed, air."""
        y, v, air = before
        steps = (FINE_PA, FINE_K) * 4
        ask = Ask(
            stroke,
            held,
            round(supply_pa / FINE_PA),
            feed,
            round(y / FINE_M),
            round(v / FINE_M),
            tuple(round(x / step) for x, step in zip(air, steps, strict=True)),
            round(from_s / FINE_S),
            round(until_s / FINE_S),
        )
        known = self._known.get(ask)
        if known is None:
            if len(self._known) >= MOST_KEPT:
                self._known.clear()
            known = self._known[ask] = self._solve(ask)
        return known

    def _solve(self, ask: Ask) -> Leg:
        """The leg with its rounded numbers: the same answer whichever of its equals came first."""
        row = list(self.rows[ask.stroke])
        row[kernel.SUPPLY] = ask.supply * FINE_PA
        row[kernel.DV_CUBES] += ask.feed[0]
        row[kernel.DV_SQUARES] += ask.feed[1]
        row[kernel.DV_INDICES] += ask.feed[2]
        # At the very end of the stroke the rounded position must not lie beyond it.
        row[kernel.Y_0] = min(ask.y * FINE_M, row[kernel.STROKE])
        row[kernel.V_0] = ask.v * FINE_M
        row[AIR : AIR + 8 : 2] = [x * FINE_PA for x in ask.air[::2]]
        row[AIR + 1 : AIR + 8 : 2] = [x * FINE_K for x in ask.air[1::2]]
        row[kernel.T_FROM], row[kernel.UNTIL] = ask.since * FINE_S, ask.until * FINE_S
        row[kernel.HELD] = float(ask.held)
        found, state = self._fly(row, self._tables[ask.stroke])
        return _leg(row, found, state)


def _leg(row: Row, found: Sequence[float], z: Sequence[float]) -> Leg:
    status = found[march.STATUS]
    arrived = status == march.ARRIVED
    return Leg(
        status=status,
        start_s=found[march.T_START],
        mid_s=found[march.T_MID],
        full_s=found[march.T_FULL],
        speed_m_s=found[march.IMPACT] if arrived else 0.0,
        energy_j=found[march.ENERGY] if arrived else 0.0,
        end_s=found[march.T_END],
        took_kg=found[march.MASS_IN],
        y_m=z[kernel.Y],
        v_m_s=0.0 if arrived else z[kernel.V],
        air=_air(row, z),
    )


def _air(row: Row, z: Sequence[float]) -> Air8:
    drive, exhaust = _gas(row, z, kernel.PD), _gas(row, z, kernel.PE)
    near, far = drive, exhaust
    if row[kernel.NODE] != 0.0 and row[kernel.D_LENGTH] > 0.0:
        near = _gas(row, z, kernel.PDN)
    if row[kernel.NODE] != 0.0 and row[kernel.E_LENGTH] > 0.0 and row[kernel.QUICK] == 0.0:
        far = _gas(row, z, kernel.PEN)
    return (*drive, *exhaust, *near, *far)


def _gas(row: Row, z: Sequence[float], at: int) -> tuple[float, float]:
    if row[kernel.ISOTHERMAL] != 0.0:
        return z[at], row[kernel.AMBIENT]
    return z[at], z[at] / (z[at + 1] * kernel.R)


def swapped(air: Air8) -> Air8:
    """The same air seen by the stroke the other way."""
    return (*air[2:4], *air[0:2], *air[6:8], *air[4:6])


def rooms(row: Row, y_m: float) -> tuple[float, float, float, float]:
    """Volumes of drive, exhaust, drive tube and exhaust tube as the kernel counts them.

    Zero for a side that no path leads to, for a tube that is lumped (its volume is the chamber's)
    and for one that a quick exhaust or a cushion cuts off.
    """
    bore, rod = row[kernel.BORE], row[kernel.ROD]
    full, less = QUARTER * bore * bore, QUARTER * (bore * bore - rod * rod)
    if row[kernel.EXTEND] == 0.0:
        full, less = less, full
    left = row[kernel.STROKE] - y_m
    near = QUARTER * row[kernel.D_BORE] ** 2 * row[kernel.D_LENGTH]
    far = QUARTER * row[kernel.E_BORE] ** 2 * row[kernel.E_LENGTH]
    drive, exhaust = row[kernel.DEAD_D] + full * y_m, row[kernel.DEAD_E] + less * left
    if row[kernel.QUICK] != 0.0 or 0.0 < row[kernel.CUSHION] >= left:
        far = 0.0
    if row[kernel.NODE] == 0.0:
        drive, exhaust, near, far = drive + near, exhaust + far, 0.0, 0.0
    if row[kernel.ACTING] == 2.0:
        drive = near = 0.0
    if row[kernel.ACTING] == 1.0:
        exhaust = far = 0.0
    return drive, exhaust, near, far


def content_kg(row: Row, y_m: float, air: Air8) -> tuple[float, float]:
    """All the air on the drive side and on the exhaust side, tubes included."""
    drive, exhaust, near, far = rooms(row, y_m)
    return (
        (air[0] * drive / air[1] + air[4] * near / air[5]) / R,
        (air[2] * exhaust / air[3] + air[6] * far / air[7]) / R,
    )


def drifted(row: Row, y_m: float, air: Air8, supply_pa: float, rest_s: float) -> Air8:
    """The air of a piston that has settled, ``rest_s`` later and at a supply that has moved.

    Pressures stand at their ends; temperatures go to the ambient as in `settle`: m cp dT/dt =
    h A (T_amb - T) at constant pressure, a logistic curve.
    """
    ambient, bore, far_y = row[kernel.AMBIENT], row[kernel.BORE], row[kernel.STROKE] - y_m
    drive = row[kernel.ATM] if row[kernel.ACTING] == 2.0 else supply_pa
    exhaust = row[kernel.ATM]
    near_v, far_v, _, _ = rooms(row, y_m)
    ends = pi / 2.0 * bore**2
    walls = (
        (ends + pi * bore * y_m) / max(near_v, 1e-12),
        (ends + pi * bore * far_y) / max(far_v, 1e-12),
        4.0 / row[kernel.D_BORE],
        4.0 / row[kernel.E_BORE],
    )
    kept: list[float] = []
    for i, (pa, wall) in enumerate(zip((drive, exhaust, drive, exhaust), walls, strict=True)):
        kept += (pa, _cooled(row, air[2 * i + 1], pa, wall, rest_s))
    if row[kernel.ISOTHERMAL] != 0.0:
        kept[1::2] = [ambient] * 4
    if row[kernel.NODE] == 0.0:
        kept[4:8] = kept[0:4]
    return tuple(kept)


def _cooled(row: Row, kelvin: float, pa: float, wall_m: float, rest_s: float) -> float:
    ambient = row[kernel.AMBIENT]
    heat = row[kernel.HEAT] * wall_m * R * ambient / (pa * CP)
    return ambient / (1.0 + (ambient / kelvin - 1.0) * exp(-heat * rest_s))


def interpreted(row: list[float], tables: Tables) -> tuple[list[float], list[float]]:
    """A leg without numba: the same text, a hundred times slower, nothing to load."""
    found, state, _ = interpret(row, tables, 0)
    return found, state


def compiled(say: Callable[[str], None]) -> Fly:
    """A leg by the compiled kernel; the first use in a process loads or compiles it."""
    import numpy as np

    from thundersheet.physics.bulk import single_kernel
    from thundersheet.physics.gas import CHAIN_POINTS

    run = single_kernel(say)
    asks = np.zeros((1, len(kernel.ASKED)))
    founds = np.zeros((1, len(march.FOUND)))
    nothing = np.zeros((1, CHAIN_POINTS + 1))
    made: dict[int, NDArray[np.float64]] = {}

    def fly(row: list[float], tables: Tables) -> tuple[list[float], list[float]]:
        lookup: Any = nothing
        if tables:
            # Tables live as long as the flights that hold them, so that their identity is a name.
            lookup = made.setdefault(id(tables), np.array(tables))
        asks[0, :] = row
        state = run(asks, lookup, founds)
        found: list[float] = founds[0].tolist()
        return found, state[:10].tolist()

    return fly
