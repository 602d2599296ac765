"""What the devices draw over a show, supply by supply, and what their wires leave of the voltage.

In: a staged show. Out: currents as curves, and for each supply the share of its voltage that
arrives. Drop by Ohm's law over the wire that all share; a supply's own sag is a fault's matter.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence

from thundersheet.model.device import Seen
from thundersheet.model.wiring import Supply
from thundersheet.rehearse.motion import Steps
from thundersheet.rehearse.stage import Staged, supply_of

Samples = Mapping[str, tuple[tuple[float, Seen], ...]]
"""By device: the instants of a show and what was seen of it."""
COUNTS = 0.005
"""A share of the voltage that changes by less is the same."""


def samples_of(staged: Staged) -> Samples:
    """Every device at all instants that tell something."""
    return {name: track.samples() for name, track in staged.tracks.items()}


def drawn(staged: Staged, samples: Samples, supply: Supply) -> list[tuple[float, float]]:
    """(seconds, amps) of a supply, stepwise, whenever one of its devices changes."""
    changes: dict[float, float] = {}
    for device in staged.book.devices:
        if supply_of(staged.book, device) != supply:
            continue
        before = 0.0
        for at, seen in samples[device.name]:
            if seen.amps != before:
                changes[at] = changes.get(at, 0.0) + seen.amps - before
            before = seen.amps
    total, found = 0.0, [(0.0, 0.0)]
    for at in sorted(changes):
        total += changes[at]
        if at > found[-1][0]:
            found.append((at, total))
        else:
            found[-1] = (at, total)
    return found


def arriving(staged: Staged, samples: Samples) -> dict[str, Steps]:
    """By supply: the share of its voltage at the far end of its wires, 1 - I R / V."""
    found: dict[str, Steps] = {}
    for supply in staged.book.supplies:
        sags = staged.volts[supply.name]
        if supply.wire_ohm <= 0.0:
            found[supply.name] = sags
            continue
        drop = supply.wire_ohm / supply.volts_v
        rows = [(at, 1.0 - amps * drop) for at, amps in drawn(staged, samples, supply)]
        found[supply.name] = _times(sags, _coarse(rows))
    return found


def _coarse(rows: Sequence[tuple[float, float]]) -> Steps:
    """The same course without steps that nobody would notice."""
    kept = [rows[0]]
    for at, share in rows[1:]:
        if abs(share - kept[-1][1]) >= COUNTS:
            kept.append((at, share))
    return kept


def _times(one: Steps, two: Steps) -> Steps:
    """Two stepwise courses multiplied."""
    instants = sorted({at for at, _ in one} | {at for at, _ in two})
    return [(at, _at(one, at) * _at(two, at)) for at in instants]


def _at(steps: Steps, at_s: float) -> float:
    return steps[max(bisect_right(steps, at_s, key=lambda step: step[0]) - 1, 0)][1]
