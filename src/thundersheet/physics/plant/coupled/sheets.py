"""Samples of a run as they come from the loop, made into `records.Series`."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from thundersheet.physics.gas import R
from thundersheet.physics.plant.records import Plant, Series

PER_CYLINDER = ("out_m", "v_m_s", "out_pa", "back_pa", "flow_kg_s")


class Sheets:
    """Gathers samples, or hands each piece on to ``keep`` and forgets it."""

    def __init__(self, plant: Plant, keep: Callable[[Series], None] | None) -> None:
        self._names = ["at_s"]
        for body in plant.bodies:
            self._names += [f"body {body.name} pa", f"body {body.name} k"]
        for cylinder in plant.cylinders:
            self._names += [f"{cylinder.name} {what}" for what in PER_CYLINDER]
        self._names.append("compressor")
        self._scales = [1.0 / R if name.endswith(" k") else 1.0 for name in self._names]
        self._keep = keep
        self._columns: list[list[float]] = [[] for _ in self._names]

    def add(self, sheet: Sequence[Sequence[float]], lines: int) -> None:
        """Take the first ``lines`` of a sheet."""
        for column, values in enumerate(self._columns):
            scale = self._scales[column]
            values += [float(sheet[i][column]) * scale for i in range(lines)]
        if self._keep is not None and lines:
            self._keep(self.whole())
            self._columns = [[] for _ in self._names]

    def whole(self) -> Series:
        """All that was gathered and not handed on."""
        columns = {n: tuple(v) for n, v in zip(self._names, self._columns, strict=True)}
        return Series(at_s=columns.pop("at_s"), columns=columns)
