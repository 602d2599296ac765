"""Run a stroke: the record to the kernel's row of numbers, what it found back to a record.

Interpreted, without numpy, for the few strokes of a plan; `bulk` runs many. Nothing is kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from thundersheet.physics import careful, fine, kernel, march
from thundersheet.physics.chain import fine_table
from thundersheet.physics.gas import Restriction, Sums, Tube, chain_table, standard_litres
from thundersheet.physics.kernel import Fill, Row
from thundersheet.physics.stroke import ACTINGS, Air, Landed, Sample, Stroke

TOLERANCE = 2e-5
"""Error of one step as a share of the state: holds start and hit within 0.1 ms and speed within
0.2 % of a tight solution wherever errors fade; where they grow, `careful` takes over."""
LONGEST_STEP_S = 0.02
GIVE_UP_S = 30.0
"""A piston that is still on its way after so long is said not to arrive."""
SAMPLES = 512

Parts = tuple[Restriction, ...]
Tables = list[tuple[float, ...]]


def solve(
    stroke: Stroke, *, until_s: float | None = None, samples: bool = False, care: bool = True
) -> Landed:
    """How the stroke lands, or how far it is at ``until_s`` after the command.

    ``until_s`` before the valve's switching gives the state at the switching: until then nothing
    changes. ``samples`` adds the motion for drawing. One that goes by jerks is run again, a
    hundred times slower, if ``care`` is asked for.
    """
    until = GIVE_UP_S if until_s is None else until_s
    row, tables = asked(stroke, until_s=until)
    kept = SAMPLES if samples else 0
    found, state, trace = interpret(row, tables, kept)
    jerks = careful.jerks(row, found)
    if care and jerks:
        found, state, trace = _carefully(stroke, until, kept, (found, state, trace))
    whole = landed(stroke, found, state, trace, cut=until_s is not None)
    return replace(whole, jerks=True) if jerks else whole


Result = tuple[list[float], list[float], list[list[float]]]


def _carefully(stroke: Stroke, until: float, kept: int, first: Result) -> Result:
    """One that goes by jerks again: somewhat closer where that is enough, else in fine steps."""
    row, tables = asked(stroke, until_s=until, tolerance=careful.CLOSER * TOLERANCE)
    if careful.bounces(row, first[0]):
        closer = interpret(row, tables, kept)
        if careful.alike(first[0], closer[0]):
            return closer
    row, tables = asked(stroke, until_s=until, fine_tables=True)
    again = interpret_again(row, tables, kept)
    return first if again[0][march.STATUS] == march.TOO_MANY else again


Run = Callable[[Row, Fill, Tables, list[list[float]], list[list[float]], Fill], None]


def interpret(row: list[float], tables: Tables, samples: int) -> Result:
    """Run one row on lists: what was found, the final state, the samples of the motion."""
    return _on_lists(march.run, 10, row, tables, samples)


def interpret_again(row: list[float], tables: Tables, samples: int) -> Result:
    """`interpret` in the fine steps of `careful`."""
    return _on_lists(careful.run_again, fine.FINE_ROWS, row, tables, samples)


def _on_lists(run: Run, rows: int, row: list[float], tables: Tables, samples: int) -> Result:
    par = [0.0] * kernel.MADE
    work = [[0.0] * 27 for _ in range(rows)]
    trace = [[0.0] * 5 for _ in range(samples)]
    found = [0.0] * len(march.FOUND)
    run(row, par, tables, work, trace, found)
    return found, work[0], trace[: int(found[march.SAMPLES])]


def asked(
    stroke: Stroke,
    *,
    until_s: float = GIVE_UP_S,
    held: bool = False,
    from_s: float = 0.0,
    tolerance: float = TOLERANCE,
    first_table: int = 0,
    fine_tables: bool = False,
) -> tuple[list[float], Tables]:
    """The kernel's row for a stroke (`kernel.ASKED` names its columns) and its chains' tables.

    ``held`` locks the piston; ``from_s`` starts later than the switching; ``fine_tables`` are those
    that `careful` needs.
    """
    tables, rows = chains(stroke, first_table, fine_table if fine_tables else chain_table)
    row = [
        *(stroke.bore_m, stroke.rod_m, stroke.stroke_m, float(stroke.extend)),
        *(stroke.dead_drive_m3, stroke.dead_exhaust_m3),
        *(stroke.supply_pa, stroke.atmosphere_pa, stroke.ambient_k, stroke.heat_w_m2_k),
        *(float(stroke.isothermal), ACTINGS[stroke.acting]),
        *(float(stroke.tube_model == "node"), float(stroke.quick_exhaust is not None)),
        *(stroke.valve_delay_s, stroke.valve_ramp_s),
        *_path(stroke.drive_valve, stroke.drive_tube, stroke.drive_end),
        *_path(stroke.exhaust_valve, stroke.exhaust_tube, stroke.exhaust_end),
        *_part(stroke.quick_exhaust),
        *(stroke.cushion_m, *_part(stroke.cushion)),
        *_motion(stroke),
        *_lid(stroke),
        *(stroke.y0_m, stroke.v0_m_s),
        *_air(stroke.first_air),
        *rows,
        *(until_s, float(held), tolerance, LONGEST_STEP_S, from_s),
    ]
    return row, tables


def _path(valve: Parts, tube: Tube | None, end: Parts) -> tuple[float, ...]:
    first, last = Sums.of(valve), Sums.of(end)
    return (
        *(first.cubes, first.squares, first.indices),
        *((tube.bore_m, tube.length_m) if tube else (1.0, 0.0)),
        *(last.cubes, last.squares, last.indices),
    )


def _part(part: Restriction | None) -> tuple[float, float, float]:
    return (part.c_m3_s_pa, part.b, part.m) if part else (1.0, 0.0, 0.5)


def _motion(stroke: Stroke) -> tuple[float, ...]:
    return (
        *(stroke.rod_mass_kg, stroke.load_kg, stroke.linkage.ratio, stroke.incline_rad),
        *(stroke.external_n, stroke.spring_n, stroke.spring_n_m),
        *(stroke.breakaway_n, stroke.coulomb_n, stroke.stribeck_m_s, stroke.viscous_n_s_m),
    )


def _lid(stroke: Stroke) -> tuple[float, ...]:
    lid = stroke.linkage.lid
    if lid is None:
        return (0.0,) * 8
    return (
        *(1.0 if stroke.extend else -1.0, lid.hinge_to_base_m, lid.hinge_to_pin_m),
        *(lid.angle_rad, lid.offset_rad, lid.inertia_kg_m2, lid.mass_kg, lid.reach_m),
    )


def _air(air: Air) -> tuple[float, ...]:
    return (
        *(air.drive_pa, air.drive_k, air.exhaust_pa, air.exhaust_k),
        *(air.drive_tube_pa, air.drive_tube_k, air.exhaust_tube_pa, air.exhaust_tube_k),
    )


def chains(
    stroke: Stroke, first: int, table: Callable[[Parts], tuple[float, ...]] = chain_table
) -> tuple[Tables, tuple[float, float, float, float]]:
    """Tables of the exact chains, forward and backward each, and where each way's begin (or -1)."""
    if stroke.combination == "series":
        return [], (-1.0, -1.0, -1.0, -1.0)
    drive, drive_end = _ways(stroke, stroke.drive_valve, stroke.drive_tube, stroke.drive_end)
    exhaust, exhaust_end = _ways(
        stroke, stroke.exhaust_valve, stroke.exhaust_tube, stroke.exhaust_end
    )
    # Named in the direction of the flow: the exhaust runs from the cylinder to the valve.
    ways = (drive, drive_end, exhaust[::-1], exhaust_end[::-1])
    if stroke.quick_exhaust is not None:
        ways = (drive, drive_end, (), ())
    tables: Tables = []
    rows = []
    for way in ways:
        rows.append(float(first + len(tables)) if len(way) > 1 else -1.0)
        if len(way) > 1:
            tables += [table(way), table(way[::-1])]
    return tables, (rows[0], rows[1], rows[2], rows[3])


def _ways(stroke: Stroke, valve: Parts, tube: Tube | None, end: Parts) -> tuple[Parts, Parts]:
    """The parts of a path from supply or air to cylinder, cut where the tube's node is."""
    piped = tube is not None and tube.length_m > 0.0
    middle: Parts = (tube.flow,) if tube and piped else ()
    if stroke.tube_model == "node" and piped:
        return valve, middle + end
    return valve + middle + end, ()


def landed(
    stroke: Stroke,
    found: list[float],
    state: list[float],
    trace: list[list[float]],
    *,
    cut: bool,
) -> Landed:
    """The record of what the kernel found."""
    status = found[march.STATUS]
    arrived = status == march.ARRIVED
    return Landed(
        t_start_s=_when(found[march.T_START]),
        t_mid_s=_when(found[march.T_MID]),
        t_full_s=_when(found[march.T_FULL]),
        stalled=_why(stroke, status, state[kernel.Y], cut),
        v_impact_m_s=found[march.IMPACT] if arrived else None,
        e_impact_j=found[march.ENERGY] if arrived else None,
        peak_push_n=found[march.PUSH],
        peak_drive_pa=found[march.PEAK_D],
        peak_exhaust_pa=found[march.PEAK_E],
        air_to_full_stroke_l=standard_litres(found[march.MASS_IN]),
        air_fill_l=stroke.air_fill_l,
        t_end_s=found[march.T_END],
        y_m=state[kernel.Y],
        v_m_s=state[kernel.V],
        air=air_at_end(stroke, state),
        turns=int(found[march.TURNED]),
        samples=tuple(
            Sample(t_s=t, y_m=y, v_m_s=v, drive_pa=drive, exhaust_pa=exhaust)
            for t, y, v, drive, exhaust in trace
        ),
    )


def _when(seconds: float) -> float | None:
    return None if seconds < 0.0 else seconds


def _why(stroke: Stroke, status: float, y: float, cut: bool) -> str:
    if status == march.STALLED:
        place = "does not start" if y <= 0.0 else f"sticks at {1000 * y:.0f} mm"
        return f"it {place}: the force left over at full pressure is below breakaway"
    if status == march.TOO_MANY:
        return f"the motion could not be followed beyond {1000 * y:.0f} mm"
    if status == march.CUT and not cut:
        return f"it is at {1000 * y:.0f} of {1000 * stroke.stroke_m:.0f} mm after {GIVE_UP_S:g} s"
    return ""


def air_at_end(stroke: Stroke, state: list[float]) -> Air:
    """Pressures and temperatures of the final state."""
    drive, exhaust = _gas(stroke, state, kernel.PD), _gas(stroke, state, kernel.PE)
    drive_node, exhaust_node = drive, exhaust
    if stroke.tube_model == "node" and stroke.drive_tube is not None:
        drive_node = _gas(stroke, state, kernel.PDN)
    if stroke.tube_model == "node" and stroke.exhaust_tube and not stroke.quick_exhaust:
        exhaust_node = _gas(stroke, state, kernel.PEN)
    return Air(
        drive_pa=drive[0],
        exhaust_pa=exhaust[0],
        drive_k=drive[1],
        exhaust_k=exhaust[1],
        drive_tube_pa=drive_node[0],
        exhaust_tube_pa=exhaust_node[0],
        drive_tube_k=drive_node[1],
        exhaust_tube_k=exhaust_node[1],
    )


def _gas(stroke: Stroke, state: list[float], at: int) -> tuple[float, float]:
    pressure, density = state[at], state[at + 1]
    if stroke.isothermal:
        return pressure, stroke.ambient_k
    return pressure, pressure / (density * kernel.R)
