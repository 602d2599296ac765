"""How fast a stroke takes air from what feeds it, for others that hang on the same feed.

Quasi-steady: the flow through its whole drive path at the pressures the stroke had, ISO 6358.
"""

from __future__ import annotations

from itertools import pairwise

from thundersheet.physics.gas import in_series, mass_flow, standard_litres
from thundersheet.physics.stroke import Landed, Sample, Stroke

STEPS = 24
"""Of the motion's samples so many are kept: a share of a feed asks for no more."""
FILLS_UP_S = 1.0
"""What a chamber still takes when the piston is there, it takes within this."""

Draws = tuple[tuple[float, float], ...]


def draws_of(stroke: Stroke, landed: Landed, until_s: float | None = None) -> Draws:
    """(seconds after the command, ANR litres a second) stepwise; cut off at ``until_s``.

    Empty for a spring's way. What the settled chamber holds more than the samples brought comes
    after the last one, as fast as it flowed then.
    """
    samples = landed.samples
    if stroke.acting == "spring" or len(samples) < 2:
        return ()
    kept = [*samples[:: -(-len(samples) // STEPS)], samples[-1]]
    kept = [each for each in kept if until_s is None or each.t_s < until_s]
    flows = _flows(stroke, kept)
    steps = [
        (one.t_s, (f + g) / 2.0) for (one, f), (_, g) in pairwise(zip(kept, flows, strict=True))
    ]
    if until_s is not None:
        return (*steps, (until_s, 0.0))
    end = kept[-1].t_s
    left = max(stroke.air_fill_l - _taken(steps, end), 0.0)
    flow = max(flows[-1], left / FILLS_UP_S)
    return (*steps, (end, flow), (end + left / flow if flow else end, 0.0))


def _flows(stroke: Stroke, samples: list[Sample]) -> list[float]:
    tube = stroke.drive_tube
    parts = (*stroke.drive_valve, *((tube.flow,) if tube else ()), *stroke.drive_end)
    path, supply, kelvin = in_series(parts), stroke.supply_pa, stroke.ambient_k
    opens = stroke.switch_s
    return [
        standard_litres(max(mass_flow(path, supply, each.drive_pa, kelvin), 0.0))
        if each.t_s >= opens
        else 0.0
        for each in samples
    ]


def _taken(steps: list[tuple[float, float]], end_s: float) -> float:
    ends = [*(t for t, _ in steps[1:]), end_s]
    return sum(flow * (end - t) for (t, flow), end in zip(steps, ends, strict=True))
