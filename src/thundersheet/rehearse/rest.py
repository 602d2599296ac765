"""How long a prop has to rest after a show, and what it waits for.

In: a show that was played. Out: the least pause after its end after which every device is at rest,
and the air will stand where it stood, show after show; and which of the two it was. A tank that a
compressor keeps between two pressures is back when the compressor can make up for a show's air and
the leaks in the time from show to show, within its duty.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from thundersheet.physics.gas import RHO0, T0, R
from thundersheet.physics.plant.records import Plant, Run, State
from thundersheet.rehearse.power import Samples
from thundersheet.rehearse.stage import Staged

STILL = 0.02
"""A share of its way that a device may still have to go and counts as at rest: what is left of a
lag after four time constants."""
STILL_M_S = 1e-3
BACK = 0.01
"""A body of air is back when no more than this share of its gauge pressure is missing."""


@dataclass(frozen=True, slots=True)
class Rest:
    """A pause and its reason."""

    seconds: float | None
    """After the end of the programme; None: none is long enough."""
    why: str


def rest_after(
    staged: Staged,
    samples: Samples,
    run: Run,
    plant: Plant,
    state: State,
    began_s: float = 0.0,
) -> Rest:
    """The least pause after a show that began at `began_s` of a run from `state`."""
    needs = [*_moving(staged, samples, run, began_s)]
    needs += _filling(run, plant, state, began_s + staged.length_s)
    tank = _tank(staged, run, plant)
    if tank is not None:
        needs.append(tank)
    longest = max(needs, key=lambda need: float("inf") if need.seconds is None else need.seconds)
    if longest.seconds is None or longest.seconds > 0.0:
        return longest
    return Rest(0.0, "everything is at rest when the programme ends")


def _moving(staged: Staged, samples: Samples, run: Run, began_s: float) -> Iterator[Rest]:
    """Until each device is at rest; a piston is where its landing says, if nobody watched it."""
    ends = staged.length_s
    on_air = {each.cue.target.move.device for each in staged.air_cues}
    for name, rows in samples.items():
        if name in on_air or not rows:
            continue
        last = rows[-1][1].shown
        moved = max((at for at, seen in rows if abs(seen.shown - last) > STILL), default=0.0)
        yield Rest(max(0.0, moved - ends), f"until {name} is at rest")
    for name in sorted(on_air):
        moved = max((_landed(run, name) - began_s, *_speeding(run, name, began_s)))
        yield Rest(max(0.0, moved - ends), f"until {name} is at rest")


def _landed(run: Run, name: str) -> float:
    """When the last switch of a device landed."""
    own = (each for each in run.landings if each.switch.device == name)
    return max((each.full_s or each.switch.at_s for each in own), default=0.0)


def _speeding(run: Run, name: str, began_s: float) -> Iterator[float]:
    """The instants at which a piston was seen to move."""
    speeds = run.series.columns.get(f"{name} v_m_s", ())
    for at, speed in zip(run.series.at_s, speeds, strict=False):
        if abs(speed) > STILL_M_S:
            yield at - began_s


def _filling(run: Run, plant: Plant, state: State, ended_s: float) -> Iterator[Rest]:
    """Until each body behind the root stands where it stood, as far as it was watched."""
    for body in plant.bodies[1:]:
        first = state.bodies[body.name].pa
        short = BACK * max(first - plant.atmosphere_pa, 0.0)
        column = run.series.columns.get(f"body {body.name} pa", ())
        if not column or column[-1] < first - short:
            continue  # its tank stands too low for it, which is the tank's matter
        low = [at for at, pa in zip(run.series.at_s, column, strict=True) if pa < first - short]
        why = f"until {body.name} is full again"
        yield Rest(max(0.0, max(low, default=ended_s) - ended_s), why)


def _tank(staged: Staged, run: Run, plant: Plant) -> Rest | None:
    """Until the compressor has made up for a show's air; None where nothing fills the tank."""
    machine = plant.compressor
    took_kg = sum(each.air_l for each in run.landings) * RHO0 / 1000.0
    if plant.endless or machine is None or took_kg <= 0.0:
        return None
    low, high = machine.cut_in_pa, machine.cut_out_pa
    middle = (low + high) / 2.0
    gives = _delivers(plant, middle) * machine.duty
    leaks = sum(body.leak_m3_s_pa for body in plant.bodies) * RHO0 * middle
    net = gives - leaks * (T0 / plant.ambient_k) ** 0.5
    if net <= 0.0:
        return Rest(None, "the leaks take all that the compressor gives")
    again = took_kg / net
    why = f"until the compressor has made up for its air at {machine.duty:.0%} duty"
    return Rest(max(0.0, again - staged.length_s), why)


def _delivers(plant: Plant, pa: float) -> float:
    """kg/s of a compressor at a pressure: FAD p_atm / (R T), linear between two points."""
    machine = plant.compressor
    if machine is None:
        return 0.0
    (p0, q0), *more = machine.delivers
    free = q0 if not more else q0 + (more[0][1] - q0) * (pa - p0) / (more[0][0] - p0)
    return max(free, 0.0) * plant.atmosphere_pa / (R * machine.inlet_k)
