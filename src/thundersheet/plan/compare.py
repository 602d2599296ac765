"""What was observed against what was planned, for proof, rehearsal, tuning and night alike.

In: a plan and `Observed` rows. Out: one row for each planned cue and each stranger, and a summary.
Where the observations come from is no matter here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import Literal

from thundersheet.base.time import Span, Time
from thundersheet.plan.records import Cue, Plan

CueState = Literal["in window", "early", "late", "sent", "missing", "extra", "twice"]
"""`sent`: its command was seen, its landing was not. `twice`: seen once more than planned."""


@dataclass(frozen=True, slots=True)
class Observed:
    """One cue as something saw it; a time is None where that was not seen."""

    id: str
    sent: Time | None = None
    """When its command left."""
    arrived: Time | None = None
    """When it landed: started, arrived, or whatever its beat says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One cue: planned, observed, and the difference. Late is positive."""

    id: str
    state: CueState
    planned: Cue | None
    """None for a stranger."""
    sent_error: Span | None
    """Command seen against `leaves_at`."""
    landing_error: Span | None
    """Landing seen against the beat, a screen's lag included."""
    lead: Span | None
    """From command to landing, as seen: what tuning learns from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """A whole show in a few figures."""

    planned: int
    seen: int
    in_window: int
    missing: tuple[str, ...]
    extra: tuple[str, ...]
    worst: Row | None
    """The landing furthest from its beat; None when no landing was seen."""
    mean_ms: float | None
    spread_ms: float | None
    """Standard deviation of the landing errors; None for fewer than two."""

    def __str__(self) -> str:
        text = f"{self.in_window} of {self.planned} cues landed in their windows"
        if self.missing:
            text += f", {len(self.missing)} missing"
        if self.extra:
            text += f", {len(self.extra)} extra"
        if self.worst is not None and self.worst.landing_error is not None:
            text += f"; worst {self.worst.id}, {self.worst.landing_error.in_ms:+.1f} ms"
        return text + "."


def compare(plan: Plan, observed: Iterable[Observed]) -> tuple[Row, ...]:
    """One row for each planned cue in the plan's order, then what was not planned."""
    seen: dict[str, list[Observed]] = {}
    for each in observed:
        seen.setdefault(each.id, []).append(each)
    rows: list[Row] = []
    strangers: list[Row] = []
    for cue in plan.cues:
        mine = seen.pop(cue.id, [])
        rows.append(_row(cue, mine[0] if mine else Observed(cue.id)))
        strangers += [_stranger(each, "twice") for each in mine[1:]]
    strangers += [_stranger(each, "extra") for left in seen.values() for each in left]
    return (*rows, *strangers)


def summary(rows: Sequence[Row]) -> Summary:
    """The figures of a show."""
    planned = [row for row in rows if row.planned is not None]
    landed = [row for row in planned if row.landing_error is not None]
    errors = [row.landing_error.in_ms for row in landed if row.landing_error is not None]
    return Summary(
        planned=len(planned),
        seen=sum(row.state != "missing" for row in planned),
        in_window=sum(row.state == "in window" for row in planned),
        missing=tuple(row.id for row in planned if row.state == "missing"),
        extra=tuple(row.id for row in rows if row.planned is None),
        worst=max(landed, key=_distance, default=None),
        mean_ms=fmean(errors) if errors else None,
        spread_ms=stdev(errors) if len(errors) > 1 else None,
    )


def _distance(row: Row) -> Span:
    return abs(row.landing_error or Span(0))


def _row(cue: Cue, seen: Observed) -> Row:
    landing = None if seen.arrived is None else seen.arrived.since(cue.target.land_at)
    both = seen.sent is not None and seen.arrived is not None
    return Row(
        id=cue.id,
        state=_state(cue, seen, landing),
        planned=cue,
        sent_error=None if seen.sent is None else seen.sent.since(cue.leaves_at),
        landing_error=landing,
        lead=seen.arrived.since(seen.sent) if both and seen.arrived and seen.sent else None,
    )


def _state(cue: Cue, seen: Observed, landing: Span | None) -> CueState:
    if landing is None:
        return "missing" if seen.sent is None else "sent"
    if cue.target.window.holds(landing):
        return "in window"
    return "late" if landing > cue.target.window.late else "early"


def _stranger(seen: Observed, state: CueState) -> Row:
    return Row(
        id=seen.id, state=state, planned=None, sent_error=None, landing_error=None, lead=None
    )
