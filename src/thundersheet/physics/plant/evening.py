"""An evening event by event: strokes laid over tank and compressor in closed form.

In come a plant and commands, out come landings, the last state and the accounts (`records.Run`),
or show after show as it is done. What is quasi-steady here and what `coupled` says of it, see
docs/reasons/why-two-solvers.md. Isothermal air in all that stores, chambers as `kernel` has them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from thundersheet.physics.plant.engine import Engine
from thundersheet.physics.plant.legs import Flights, interpreted
from thundersheet.physics.plant.legs import compiled as compiled_legs
from thundersheet.physics.plant.records import Cylinder, Landing, Plant, Run, State, Switch
from thundersheet.physics.plant.strokes import Fleet, fleet_of

Switches = Sequence[Switch]
Choose = Callable[[int, float], Switches]
"""From a show's number (from 1) and the root's pressure at its start to its commands."""


def silent(_: str) -> None:
    """Say nothing."""


def unseen(_: float) -> None:
    """Show no progress."""


def run(
    plant: Plant,
    switches: Switches,
    until_s: float,
    *,
    state: State | None = None,
    say: Callable[[str], None] = silent,
    progress: Callable[[float], None] = unseen,
    compiled: bool = True,
    trace_every_s: float | None = None,
) -> Run:
    """The plant from ``state`` (None: full and at rest) until ``until_s``.

    ``progress`` is told the share of the time that is done; what it raises ends the run.
    ``compiled`` False interprets the same text: nothing to load, slow. ``trace_every_s`` keeps the
    root's pressure at every event and at least so often.
    """
    engine = Engine(plant, state, *_known(plant, compiled, say), trace_every_s)
    begin_s = engine.stock.at_s
    if until_s < begin_s:
        raise ValueError(f"a run from {begin_s:g} s can't end at {until_s:g} s")
    found: list[Landing | None] = [None] * len(switches)
    early = [i for i, each in enumerate(switches) if each.at_s <= until_s]
    for switch in engine.play([switches[i] for i in early], 0.0, 0):
        progress((switch.at_s - begin_s) / max(until_s - begin_s, 1e-9))
    engine.finish(until_s)
    for number, landing in engine.ready():
        found[early[number]] = landing
    return Run(
        landings=tuple(
            each or Landing(switch=switch) for each, switch in zip(found, switches, strict=True)
        ),
        state=engine.state,
        accounts=engine.accounts,
        compressor_on=engine.stock.reservoir.running.own,
        series=engine.series,
        solver="event-driven",
    )


def _known(plant: Plant, compiled: bool, say: Callable[[str], None]) -> tuple[Fleet, Flights]:
    """The plant's strokes, with what an earlier run of them has found: a show after a show."""
    if compiled:
        compiled_legs(say)
    return _flights(plant.cylinders, compiled)


@lru_cache(maxsize=4)
def _flights(cylinders: tuple[Cylinder, ...], compiled: bool) -> tuple[Fleet, Flights]:
    fleet = fleet_of(cylinders)
    fly = compiled_legs(silent) if compiled else interpreted
    return fleet, Flights(fly, fleet.rows, fleet.tables)


@dataclass(frozen=True, slots=True, kw_only=True)
class Show:
    """One show of a rush, as soon as its last landing is final."""

    number: int
    """From 1."""
    start_s: float
    landings: tuple[Landing, ...]
    """In the order of its commands; times of the run."""
    tank_pa: float
    """Of the root at its start, absolute."""
    lowest_pa: float
    """Of the root until the next show's start; of the last, until it is over."""
    air_l: float
    """Standard litres that its cylinders and jets took."""


def rush(
    plant: Plant,
    show: Switches | Choose,
    starts: Sequence[float],
    *,
    state: State | None = None,
    until_s: float | None = None,
    say: Callable[[str], None] = silent,
    compiled: bool = True,
    done: Callable[[Run], None] | None = None,
) -> Iterator[Show]:
    """Show after show, each with the air that the one before left.

    ``show``: its commands at seconds of the programme, or what chooses them at its start. Commands
    of one show come before those of the next. ``until_s`` ends the run (None: a minute after the
    last command); ``done`` is told then, without landings: state, accounts, compressor. Nothing is
    kept of a show that has been handed out.
    """
    engine = Engine(plant, state, *_known(plant, compiled, say))
    waiting: list[_Playing] = []
    count, last_s = 0, engine.stock.at_s
    for number, start in enumerate(starts, 1):
        if start < last_s - 1e-9:
            raise ValueError(f"show {number} begins before the one before it has had its commands")
        engine.go_to(start)
        tank, lowest = engine.stock.look()
        if waiting:
            waiting[-1].lowest_pa = lowest
        commands = show(number, tank) if callable(show) else show
        playing = _Playing(number, start, tank, count, [None] * len(commands))
        waiting.append(playing)
        for switch in engine.play(commands, start, count):
            last_s = switch.at_s
        count += len(commands)
        yield from _handed_out(waiting, engine)
    engine.finish(last_s + 60.0 if until_s is None else until_s)
    if waiting:
        waiting[-1].lowest_pa = engine.stock.look()[1]
    yield from _handed_out(waiting, engine)
    if done is not None:
        done(
            Run(
                landings=(),
                state=engine.state,
                accounts=engine.accounts,
                compressor_on=engine.stock.reservoir.running.own,
                solver="event-driven",
            )
        )


@dataclass(slots=True)
class _Playing:
    """A show whose landings are not all final."""

    number: int
    start_s: float
    tank_pa: float
    first: int
    found: list[Landing | None]
    lowest_pa: float | None = None


def _handed_out(waiting: list[_Playing], engine: Engine) -> Iterator[Show]:
    """The shows that are complete by now, oldest first."""
    for number, landing in engine.ready():
        owner = next(x for x in reversed(waiting) if x.first <= number)
        owner.found[number - owner.first] = landing
    while waiting and waiting[0].lowest_pa is not None and None not in waiting[0].found:
        show = waiting.pop(0)
        landings = tuple(each for each in show.found if each is not None)
        yield Show(
            number=show.number,
            start_s=show.start_s,
            landings=landings,
            tank_pa=show.tank_pa,
            lowest_pa=show.lowest_pa or 0.0,
            air_l=sum(each.air_l for each in landings),
        )
