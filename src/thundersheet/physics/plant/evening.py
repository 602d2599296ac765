"""An evening event by event: strokes laid over tank and compressor in closed form.

In come a plant and commands, out come landings, the last state and the accounts (`records.Run`),
or show after show as it is done. What is quasi-steady here and what `coupled` says of it, see
docs/reasons/why-two-solvers.md. Isothermal air in all that stores, chambers as `kernel` has them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from thundersheet.physics.plant.engine import Engine
from thundersheet.physics.plant.legs import compiled as compiled_legs
from thundersheet.physics.plant.legs import interpreted
from thundersheet.physics.plant.records import Landing, Plant, Run, State, Switch

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
    engine = Engine(plant, state, compiled_legs(say) if compiled else interpreted, trace_every_s)
    begin_s = engine.at_s
    if until_s < begin_s:
        raise ValueError(f"a run from {begin_s:g} s can't end at {until_s:g} s")
    found: list[Landing | None] = [None] * len(switches)
    for number in sorted(range(len(switches)), key=lambda i: switches[i].at_s):
        if switches[number].at_s <= until_s:
            engine.switch(switches[number], number)
            progress((switches[number].at_s - begin_s) / max(until_s - begin_s, 1e-9))
    engine.finish(until_s)
    for number, landing in engine.ready():
        found[number] = landing
    return Run(
        landings=tuple(
            each or Landing(switch=switch) for each, switch in zip(found, switches, strict=True)
        ),
        state=engine.state,
        accounts=engine.accounts,
        compressor_on=engine.reservoir.running.own,
        series=engine.series,
        solver="event-driven",
    )
