"""One cue for several states of the air: the instant whose worst landing is the least bad.

In: the leads of one move in each state, and the beat's window. Out: the lead that serves them all
and the errors that are left. The worst landing is measured by the window's own sides: a landing
that is early by half of what is allowed is as bad as one that is late by half of that. So every
landing lies in its window whenever any instant can do that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from thundersheet.base.time import Span
from thundersheet.model.device import Impact, Lead, Part
from thundersheet.model.show import Window
from thundersheet.plan.records import EveningError

COVERED = "temperature"
"""A band for weather that nobody declared; the evening says what it is."""


def served_total(window: Window, leads: Sequence[Lead]) -> Span:
    """The lead to serve all: e late / late side = e early / early side, at its least.

    With leads from L0 to L1 and a window from -E to +W that is L1 - W s with s = (L1 - L0)/(E + W).
    A state in which the move never lands has no say.
    """
    totals = [lead.total for lead in leads if not lead.never] or [leads[0].total]
    low, high = min(totals), max(totals)
    early, late = max(-window.early.ns, 0), max(window.late.ns, 0)
    if low == high:
        return low
    share = Fraction(early, early + late) if early + late else Fraction(1, 2)
    return low + (high - low) * share


def serve(
    window: Window, leads: Sequence[Lead], names: Sequence[str]
) -> tuple[Lead, EveningError | None]:
    """The lead that serves all states, and how far its landings lie apart.

    Its parts are those of the quickest state and `evening`, what the others need beyond that.
    """
    usual = leads[0]
    if len(leads) == 1 or usual.never:
        return usual, None
    total = served_total(window, leads)
    landing = [(lead.total - total, name) for lead, name in zip(leads, names, strict=True)
               if not lead.never]  # fmt: skip
    first, last = min(landing, key=_error), max(landing, key=_error)
    stuck = [(name, lead.never) for lead, name in zip(leads, names, strict=True) if lead.never]
    never_in, never = stuck[-1] if stuck else ("", "")
    error = EveningError(
        early=first[0],
        late=last[0],
        usual=usual.total - total,
        early_in=first[1],
        late_in=last[1],
        never_in=never_in,
        never=never,
        stands=_stands(leads),
    )
    return _served(usual, total, error, leads), error


def _stands(leads: Sequence[Lead]) -> tuple[float, float] | None:
    """Where a move that only time stops stands at last, at least and at most."""
    if leads[0].hold is None:
        return None
    places = [lead.curve[-1][1] for lead in leads if lead.curve and not lead.never]
    return (min(places), max(places)) if places else None


def _error(landing: tuple[Span, str]) -> Span:
    return landing[0]


def _served(usual: Lead, total: Span, error: EveningError, leads: Sequence[Lead]) -> Lead:
    bands = dict(usual.bands)
    if error.late - error.early:
        bands.pop(COVERED, None)
    wide = Span(round(sum(span.ns**2 for span in bands.values()) ** 0.5))
    wide = min(wide, usual.early) if usual.bands else usual.early
    bands["evening"] = max(error.late, -error.early)
    landing = [lead for lead in leads if not lead.never]
    return replace(
        usual,
        parts=_parts(usual, total, error),
        # The worst show is worse by all of the evening's share: it is no matter of chance.
        early=wide - error.early,
        late=wide + error.late,
        rest=max(lead.rest for lead in landing),
        impact=_hardest([lead.impact for lead in landing if lead.impact is not None]),
        bands=dict(sorted(bands.items(), key=lambda each: each[1], reverse=True)),
    )


def _parts(usual: Lead, total: Span, error: EveningError) -> tuple[Part, ...]:
    """The usual parts, shortened from the last one on to the quickest state's, and the rest."""
    quickest = total + error.early
    cut = usual.total - quickest
    parts: list[Part] = []
    for part in reversed(usual.parts):
        less = min(cut, part.span)
        cut -= less
        parts.insert(0, replace(part, span=part.span - less))
    return (*parts, Part(name="evening", span=-error.early))


def _hardest(impacts: Sequence[Impact]) -> Impact | None:
    """What a guest may feel at most over the evening."""
    if not impacts:
        return None
    return Impact(
        energy_j=max(each.energy_j for each in impacts),
        force_n=max(each.force_n for each in impacts),
        speed_m_s=max(each.speed_m_s for each in impacts),
        reach_m=max(each.reach_m for each in impacts),
    )
