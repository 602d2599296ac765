"""By how much a shared feed sags: the pressure where it forks, alone and together.

In: what moves draw when each is alone, and the link they share. Out: pascals. Each branch behind
the fork takes air in proportion to the pressure there, as choked parts do (ISO 6358-1), so that
the answer is on the high side where a piston's speed rules what it takes.
"""

from __future__ import annotations

from collections.abc import Mapping

from thundersheet.physics.gas import Restriction, in_series, mass_flow
from thundersheet.plan.air.feed import behind_pa, falls_to
from thundersheet.plan.air.share import ANR_KG, Common, Draw
from thundersheet.plan.setting import Piping


def sag_pa(piping: Piping, common: Common, draws: Mapping[str, Draw]) -> float:
    """How much less stands behind a link, at the worst instant, than with this move alone on it."""
    draw = draws[common.cue]
    others = [draws[cue] for cue in common.others]
    line = piping.lines[draw.device]
    at = piping.full_pa
    for link in line.links:
        at = link.fed_with(at)
        if link.into == common.link:
            break
    part, kelvin = in_series(link.parts), piping.plant.ambient_k
    instants = {t for each in (draw, *others) for t, _ in each.steps}
    worst = 0.0
    for t in sorted(t for t in instants if draw.begins_s <= t < draw.lands_s):
        flows = [each.at(t) * ANR_KG for each in (draw, *others)]
        if flows[0] > 0.0 and any(flows[1:]):
            alone = [behind_pa(part, at, flow, kelvin) for flow in flows]
            worst = max(worst, alone[0] - fork_pa(part, at, flows, alone, kelvin))
    return worst


def fork_pa(
    part: Restriction, before_pa: float, flows: list[float], alone_pa: list[float], kelvin: float
) -> float:
    """The pressure behind a part with several branches, each of whose flows alone is known."""
    takes = sum(flow / pa for flow, pa in zip(flows, alone_pa, strict=True) if flow > 0.0)
    return falls_to(
        lambda behind: mass_flow(part, before_pa, behind, kelvin) <= takes * behind,
        0.0,
        before_pa,
    )
