"""Measured leads in a rehearsal: what a recording showed stands, the physics says what changes it.

In: landings as the physics has them, and the same of a show with a full tank and nothing wrong.
Out: landings in which every measured move takes what was measured, and longer or shorter in the
same proportion as the physics says it does in the air and with the faults of this show.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from thundersheet.plan.records import Plan
from thundersheet.rehearse.records import Landed
from thundersheet.rehearse.stage import rounded_ms


def measured_ms(plan: Plan) -> dict[str, float]:
    """By cue: the measured time from its command to its landing, with a full tank."""
    return {
        cue.id: cue.lead.total.in_ms + (cue.evening.usual.in_ms if cue.evening else 0.0)
        for cue in plan.cues
        if cue.lead.basis == "measured"
    }


def as_measured(
    plan: Plan, landed: Iterable[Landed], usual: Iterable[Landed]
) -> tuple[Landed, ...]:
    """The landings, those of measured moves corrected by the `usual` ones."""
    measured = measured_ms(plan)
    nominal = {each.cue: each.lead_ms for each in usual if each.cue in measured}
    return tuple(_corrected(each, measured.get(each.cue), nominal.get(each.cue)) for each in landed)


def _corrected(each: Landed, measured: float | None, nominal: float | None) -> Landed:
    if measured is None or not nominal or each.lead_ms is None or each.error_ms is None:
        return each
    lead = measured * each.lead_ms / nominal
    more = (lead - each.lead_ms) / 1e3
    return replace(
        each, lead_ms=rounded_ms(lead / 1e3), error_ms=rounded_ms(each.error_ms / 1e3 + more)
    )
