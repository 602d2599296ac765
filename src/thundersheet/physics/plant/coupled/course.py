"""The course of one run: rows that change, the clock, the compressor, and what is written down."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from thundersheet.physics import kernel
from thundersheet.physics.gas import standard_litres
from thundersheet.physics.plant.coupled import columns as at
from thundersheet.physics.plant.coupled.advance import (
    CUT_POINT,
    ENOUGH_STEPS,
    PER_DEVICE,
    SHEET_IS_FULL,
    TIME_IS_COME,
    TOO_SMALL,
    advance,
)
from thundersheet.physics.plant.coupled.happen import NO_LIMIT
from thundersheet.physics.plant.coupled.network import (
    at_rest,
    body_columns,
    forget,
    gas_of,
    rows_of,
    standing_at,
)
from thundersheet.physics.plant.coupled.pistons import piston_of, put_piston
from thundersheet.physics.plant.coupled.sheets import Sheets
from thundersheet.physics.plant.coupled.valves import Turn, held, turn_valve
from thundersheet.physics.plant.records import (
    Accounts,
    Landing,
    Plant,
    Run,
    Series,
    State,
    Switch,
    Way,
)
from thundersheet.physics.plant.running import Running

LONGEST_S = 5.0
STEPS_AT_ONCE = 20_000.0
"""A call of the compiled loop: a fraction of a second, so that an interrupt is soon heeded."""
STANDS_STILL_S = 1e-6
"""So little time for so many steps is none: better say so than go on for ever."""
SHEET_LINES = 2048
FIRST_STEP_S = 1e-4


class Course:
    """A plant on its way through a run."""

    def __init__(
        self,
        plant: Plant,
        switches: Sequence[Switch],
        state: State | None,
        grid_s: float | None,
        keep: Callable[[Series], None] | None,
        tolerance: float,
        say: Callable[[str], None],
        compiled: bool,
    ) -> None:
        self.plant = plant
        self.rows = rows_of(plant)
        self.now_s = state.at_s if state else 0.0
        self._landings: list[Landing | None] = [None] * len(switches)
        self._switches = switches
        self._open: dict[tuple[bool, int], tuple[int, float]] = {}
        self._ways: list[Way] = []
        rows = self.rows
        self._rooms = self._make_rooms()
        self._net: at.Net = (rows.bodies, rows.devices, rows.jets, rows.clock, rows.tables)
        columns = 2 + 2 * len(rows.bodies) + PER_DEVICE * len(rows.devices)
        self._sheet: Any = [[0.0] * columns for _ in range(SHEET_LINES if grid_s else 0)]
        self._advance: Callable[..., int] = advance
        if compiled:
            self._advance = self._into_arrays(say)
        self._x, self._clock = self._rooms[0][at.W_X], self._net[3]
        self._set_clock(self._clock, grid_s, tolerance)
        root_pa = self._begin(state)
        self._running = Running(plant.compressor, state, root_pa, self.now_s)
        self._first = self._held()
        self._series = Sheets(plant, keep) if grid_s else None

    def _make_rooms(self) -> at.Room:
        bodies, devices = len(self.rows.bodies), len(self.rows.devices)
        rest = len(self.rows.jets) + at.COUNTERS
        size = 2 * bodies + at.STATE * devices + rest
        work = [[0.0] * size for _ in range(at.WORK)]
        states = [[[0.0] * at.MOVING for _ in range(devices + 2)] for _ in range(at.AS + 1)]
        blocks = [[[0.0] * at.MOVING for _ in range(at.BLOCK)] for _ in range(devices)]
        middle = [[0.0] * (2 * bodies) for _ in range(2 * bodies + rest)]
        return (work, states, blocks, middle)

    def _set_clock(self, clock: at.Fill, grid_s: float | None, tolerance: float) -> None:
        clock[at.T_NOW] = clock[at.T_GRID] = self.now_s
        clock[at.T_EVERY] = grid_s or 0.0
        clock[at.T_LONGEST], clock[at.T_STEP] = LONGEST_S, FIRST_STEP_S
        clock[at.T_MOST], clock[at.T_TOLERANCE] = STEPS_AT_ONCE, tolerance

    def _into_arrays(self, say: Callable[[str], None]) -> Callable[..., int]:
        """Everything as arrays of numpy, and the compiled loop."""
        import numpy as np

        from thundersheet.physics.plant.coupled.machine import compiled_advance

        def array(rows: Any, *shape: int) -> Any:
            return np.array(rows, dtype=np.float64).reshape(shape)

        bodies, devices, jets, clock, tables = self._net
        work, states, blocks, middle = self._rooms
        d = len(devices)
        net: Any = (
            array(bodies, len(bodies), at.BODY),
            array(devices, d, at.DEVICE),
            array(jets, len(jets), at.JET),
            array(clock, at.CLOCK),
            np.array(tables, dtype=np.float64),
        )
        rooms: Any = (
            np.array(work),
            np.array(states),
            array(blocks, d, at.BLOCK, at.MOVING),
            np.array(middle),
        )
        self._net, self._rooms = net, rooms
        columns = 2 + 2 * len(bodies) + PER_DEVICE * d
        self._sheet = array(self._sheet, len(self._sheet), columns)
        return compiled_advance(say)

    def _begin(self, state: State | None) -> float:
        """Write the first state into the rows; the root's pressure."""
        net, x = self._net, self._x
        gases = standing_at(self.plant, state)
        for b, body in enumerate(self.plant.bodies):
            x[2 * b], x[2 * b + 1] = body_columns(self.rows.bodies[b], gases[body.name])
        for i, cylinder in enumerate(self.plant.cylinders):
            piston = state.pistons.get(cylinder.name) if state else None
            if piston is None:
                piston = at_rest(self.plant, cylinder, gases[cylinder.body])
            self._ways.append(piston.way)
            put_piston(net, x, i, self.rows.ways[i], piston, cylinder.middle != "exhausted")
        return gases[self.plant.bodies[0].name].pa

    def _root_pa(self) -> float:
        return gas_of(self.rows.bodies[0], self._x[0], self._x[1]).pa

    def go_to(self, until_s: float, progress: Callable[[float], None]) -> None:
        """Integrate up to ``until_s``, the compressor switched as its pressure and duty say."""
        clock = self._clock
        while clock[at.T_NOW] < until_s:
            began = float(clock[at.T_NOW])
            clock[at.T_UNTIL] = min(until_s, self._running.changes_s(began))
            self._set_compressor()
            why = self._advance(self._net, self._rooms, self._sheet)
            now = float(clock[at.T_NOW])
            self._running.go_on(began, now)
            if why == TOO_SMALL or (why == ENOUGH_STEPS and now - began < STANDS_STILL_S):
                raise ArithmeticError(f"the plant could not be followed beyond {now:g} s")
            if why == CUT_POINT:
                # The event is at that pressure; rounding may have it a hair beside.
                point = at.T_CUT_OUT if self._running.calls else at.T_CUT_IN
                self._running.see(float(clock[point]), now)
            elif why == TIME_IS_COME:
                self._running.see(self._root_pa(), now)
            if why == SHEET_IS_FULL:
                self._put_away()
            progress(now)
        self.now_s = float(clock[at.T_NOW])

    def _set_compressor(self) -> None:
        """Tell the loop whether the compressor runs and which pressure it waits for."""
        compressor, running = self.plant.compressor, self._running
        clock = self._clock
        was = clock[at.A_ON]
        clock[at.A_ON] = float(running.now)
        clock[at.T_CUT_IN], clock[at.T_CUT_OUT] = 0.0, NO_LIMIT
        if compressor is not None and running.calls:
            clock[at.T_CUT_OUT] = compressor.cut_out_pa
        elif compressor is not None:
            clock[at.T_CUT_IN] = compressor.cut_in_pa
        if was != clock[at.A_ON]:
            clock[at.T_STEP] = min(clock[at.T_STEP], FIRST_STEP_S)

    def turn(self, turn: Turn) -> None:
        """Let one valve switch now; one that stands so already does nothing."""
        if turn.jet:
            self._close(turn)
            self._net[2][turn.device][at.J_OPEN] = float(turn.way == "on")
            return
        if self._ways[turn.device] == turn.way:
            pa = self._pressure_of(self.plant.cylinders[turn.device].body)
            switch = self._switches[turn.switch]
            self._landings[turn.switch] = Landing(switch=switch, supply_pa=pa)
            return
        self._close(turn)
        par = self._net[1][turn.device]
        forget(par)
        par[at.D_FED] = float(not self._opens_both(turn))
        ways = self.rows.ways[turn.device]
        turn_valve(self._net, self._x, turn.device, ways, turn.way)
        par[kernel.SWITCH] = turn.at_s
        par[kernel.OPEN_AT] = turn.at_s + par[kernel.RAMP_S]
        self._ways[turn.device] = turn.way
        self._clock[at.T_STEP] = FIRST_STEP_S

    def _opens_both(self, turn: Turn) -> bool:
        return turn.way == "middle" and self.plant.cylinders[turn.device].middle == "exhausted"

    def _close(self, turn: Turn) -> None:
        """Write down the landing of the command before, and begin with this one."""
        key = (turn.jet, turn.device)
        if key in self._open:
            self._write_down(key)
        self._open[key] = (turn.switch, self._took(key))
        if turn.jet:
            self._net[2][turn.device][at.J_LOW] = NO_LIMIT

    def _took(self, key: tuple[bool, int]) -> float:
        jet, i = key
        column = at.jets_at(self._net) + i if jet else at.device_at(self._net, i) + at.X_TOOK
        return float(self._x[column])

    def _write_down(self, key: tuple[bool, int]) -> None:
        jet, i = key
        number, took = self._open.pop(key)
        switch = self._switches[number]
        air = standard_litres(self._took(key) - took)
        if jet:
            self._landings[number] = self._jet_landing(switch, i, air)
            return
        dev = self._net[1][i]
        arrived = dev[at.D_FULL] >= 0.0
        moved = switch.way != "middle"
        self._landings[number] = Landing(
            switch=switch,
            start_s=_when(dev[at.D_START]) if moved else None,
            mid_s=_when(dev[at.D_MID]) if moved else None,
            full_s=_when(dev[at.D_FULL]) if moved else None,
            v_impact_m_s=float(dev[at.D_SPEED]) if arrived and moved else None,
            e_impact_j=float(dev[at.D_ENERGY]) if arrived and moved else None,
            supply_pa=float(dev[at.D_LOW]),
            air_l=air,
        )

    def _jet_landing(self, switch: Switch, i: int, air_l: float) -> Landing:
        switched = switch.at_s + self.plant.jets[i].delay_s
        low = float(self._net[2][i][at.J_LOW])
        if low >= NO_LIMIT:
            low = self._pressure_of(self.plant.jets[i].body)
        return Landing(switch=switch, start_s=switched, full_s=switched, supply_pa=low, air_l=air_l)

    def _pressure_of(self, body: str) -> float:
        b = next(i for i, each in enumerate(self.plant.bodies) if each.name == body)
        return gas_of(self.rows.bodies[b], self._x[2 * b], self._x[2 * b + 1]).pa

    def _held(self) -> tuple[float, float]:
        """Mass and energy of all the air inside; an endless body's own left out."""
        mass = energy = 0.0
        for b, body in enumerate(self.rows.bodies):
            if body[at.B_FIXED] == 0.0:
                mass, energy = mass + self._x[2 * b], energy + self._x[2 * b + 1]
        for i in range(len(self.rows.devices)):
            more = held(self._net[1][i], self._x, at.device_at(self._net, i))
            mass, energy = mass + more[0], energy + more[1]
        return float(mass), float(energy)

    def _put_away(self) -> None:
        if self._series is not None:
            self._series.add(self._sheet, int(self._clock[at.T_FILLED]))
            self._clock[at.T_FILLED] = 0.0

    def finish(self) -> Run:
        """All that was found."""
        self._put_away()
        for key in list(self._open):
            self._write_down(key)
        none = (Landing(switch=switch) for switch in self._switches)
        return Run(
            landings=tuple(each or empty for each, empty in zip(self._landings, none, strict=True)),
            state=self._state(),
            accounts=self._accounts(),
            compressor_on=self._running.own,
            series=self._series.whole() if self._series else Series(),
            solver="coupled",
        )

    def _accounts(self) -> Accounts:
        tail = at.counters_at(self._net)
        came, went, heat_in, heat_out = (float(self._x[tail + c]) for c in range(at.COUNTERS))
        mass, energy = self._held()
        grown, warmed = mass - self._first[0], energy - self._first[1]
        return Accounts(
            mass_in=came,
            mass_out=went,
            mass_growth=grown,
            mass_missing=came - went - grown,
            energy_in=heat_in,
            energy_out=heat_out,
            energy_growth=warmed,
            energy_missing=heat_in - heat_out - warmed,
        )

    def _state(self) -> State:
        x, net = self._x, self._net
        bodies = {
            body.name: gas_of(self.rows.bodies[b], float(x[2 * b]), float(x[2 * b + 1]))
            for b, body in enumerate(self.plant.bodies)
        }
        pistons = {
            each.name: piston_of(net, x, i, self._ways[i])
            for i, each in enumerate(self.plant.cylinders)
        }
        return State(
            at_s=self.now_s,
            bodies=bodies,
            pistons=pistons,
            running=self._running.now,
            calls=self._running.calls,
            ran_s=self._running.since(self.now_s),
        )


def _when(seconds: float) -> float | None:
    return None if seconds < 0.0 else float(seconds)
