"""Which ideas may help against which finding."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from thundersheet.plan.cures.idea import Idea, Trouble
from thundersheet.plan.cures.of_air import (
    apart,
    bigger_compressor,
    bigger_tank,
    drop_repeats,
    fewer_shows,
    longer_rest,
    lower_set,
    own_feed,
    tank_near,
    wider_feed,
    wider_regulator,
)
from thundersheet.plan.cures.of_beats import (
    again,
    bring_home,
    earlier,
    fewer,
    later,
    per_hour,
    thinner,
    wider_every,
    without,
)
from thundersheet.plan.cures.of_devices import (
    edge,
    faster,
    guard,
    lag_once,
    less_pressure,
    less_pressure_of_its_own,
    slower,
)
from thundersheet.plan.cures.of_wiring import free_terminal, stronger_supply, thicker_wire

Maker = Callable[[Trouble], Iterator[Idea]]
LASTS: tuple[Maker, ...] = (
    lower_set,
    less_pressure_of_its_own,
    slower,
    longer_rest,
    drop_repeats,
    bigger_tank,
    bigger_compressor,
    tank_near,
    fewer_shows,
)
"""What lets the air last, or a move feel less of it."""
MAKERS: dict[str, tuple[Maker, ...]] = {
    "AIR-30": (*LASTS, wider_regulator),
    "AIR-31": LASTS,
    "AIR-32": LASTS,
    "AIR-33": (own_feed, wider_feed, wider_regulator, tank_near, apart),
    "AIR-34": (lower_set, without),
    "MOVE-01": (faster, without),
    "MOVE-02": (later, earlier, faster, without),
    "MOVE-03": (later, wider_every, fewer, without),
    "MOVE-04": (later, faster),
    "RULE-01": (later, earlier),
    "RULE-02": (later,),
    "RULE-03": (later, without),
    "RULE-04": (without,),
    "RULE-05": (again, earlier),
    "RULE-06": (bring_home,),
    "RULE-07": (per_hour,),
    "FLASH-01": (wider_every, fewer, later, thinner),
    "FLASH-02": (wider_every, fewer, later),
    "FORCE-01": (less_pressure, slower, edge, guard),
    "FORCE-04": (guard, less_pressure),
    "POWER-01": (later, stronger_supply),
    "POWER-02": (later, thicker_wire, without),
    "POWER-03": (free_terminal,),
    "POWER-04": (free_terminal,),
    "SHOW-07": (lag_once,),
}


def ideas(trouble: Trouble) -> Iterator[Idea]:
    """Everything that might help against a finding, by its code."""
    for maker in MAKERS.get(trouble.finding.code, ()):
        yield from maker(trouble)
