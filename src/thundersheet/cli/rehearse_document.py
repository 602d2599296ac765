"""A rehearsal as the document that `rehearse --json` prints, and its schema.

In: a `Rehearsal`. Out: dicts, lists, text and numbers only. A field is added, never renamed.
"""

from __future__ import annotations

from typing import Any

from thundersheet.base.finding import finding_json
from thundersheet.cli.documents_parts import (
    FINDING,
    MAYBE_NUMBER,
    NUMBER,
    TEXT,
    Schema,
    document,
    listing,
    record,
)
from thundersheet.plan.pack import pack
from thundersheet.rehearse.records import Curve, Landed, Played, Rehearsal, Tank

WHOLE: Schema = {"type": "integer"}


def rehearsal_json(found: Rehearsal) -> dict[str, Any]:
    """The whole document."""
    weak = found.first_weak
    return {
        "show": found.show,
        "mode": found.mode,
        "solver": found.solver,
        "seed": found.seed,
        "length_s": found.length_s,
        "first_weak": None if weak is None else weak.number,
        "shows": [_show(each) for each in found.shows],
        "curves": [_curve(each) for each in found.curves],
        "tank": None if found.tank is None else _tank(found.tank),
        "queue": None if found.queue is None else pack(found.queue),
        "guests_per_hour": found.guests_per_hour,
        "rest_s": found.rest_s,
        "rest_why": found.rest_why,
        "faults": list(found.faults),
        "started": found.started,
        "differs": None if found.differs is None else pack(found.differs),
        "answers": [pack(each) for each in found.answers],
        "atmosphere_pa": found.atmosphere_pa,
        "findings": [finding_json(each) for each in found.findings],
    }


def _show(show: Played) -> dict[str, Any]:
    return {
        "number": show.number,
        "start_s": show.start_s,
        "variant": show.variant,
        "why": show.why,
        "guests": show.guests,
        "tank_pa": show.tank_pa,
        "lowest_pa": show.lowest_pa,
        "air_l": show.air_l,
        "air_of_l": dict(show.air_of),
        "weak": show.weak,
        "landed": [_landed(each) for each in show.landed],
    }


def _landed(each: Landed) -> dict[str, Any]:
    return {
        "cue": each.cue,
        "device": each.device,
        "land": each.land,
        "beat_s": each.beat_s,
        "window_ms": [each.window.early.in_ms, each.window.late.in_ms],
        "planned_ms": each.planned_ms,
        "error_ms": each.error_ms,
        "inside": each.inside,
        "lead_ms": each.lead_ms,
        "impact_m_s": each.impact_m_s,
        "impact_j": each.impact_j,
        "supply_pa": each.supply_pa,
        "why": each.why,
    }


def _curve(each: Curve) -> dict[str, Any]:
    return {
        "of": each.of,
        "quantity": each.quantity,
        "at_s": [round(at, 6) for at in each.at_s],
        "values": [float(f"{value:.6g}") for value in each.values],
    }


def _tank(tank: Tank) -> dict[str, Any]:
    return {
        "at_s": [round(at, 3) for at in tank.at_s],
        "pa": [round(pa, 1) for pa in tank.pa],
        "compressor_on_s": [list(stretch) for stretch in tank.compressor_on],
        "cut_in_pa": tank.cut_in_pa,
        "cut_out_pa": tank.cut_out_pa,
        "duty": tank.duty,
        "worst_duty": tank.worst_duty,
    }


def _maybe(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


NUMBERS = listing(NUMBER)
LANDED = record(
    {
        "cue": TEXT,
        "device": TEXT,
        "land": {"enum": ["starts", "half-way", "arrives", "full"]},
        "beat_s": NUMBER,
        "window_ms": NUMBERS,
        "planned_ms": NUMBER,
        "error_ms": MAYBE_NUMBER,
        "inside": {"type": "boolean"},
        "lead_ms": MAYBE_NUMBER,
        "impact_m_s": MAYBE_NUMBER,
        "impact_j": MAYBE_NUMBER,
        "supply_pa": MAYBE_NUMBER,
        "why": TEXT,
    },
    "Errors are against the beat, late is positive; null where it never landed. Pressures are "
    "absolute.",
)
SHOW = record(
    {
        "number": WHOLE,
        "start_s": NUMBER,
        "variant": TEXT,
        "why": TEXT,
        "guests": WHOLE,
        "tank_pa": MAYBE_NUMBER,
        "lowest_pa": MAYBE_NUMBER,
        "air_l": NUMBER,
        "air_of_l": {"type": "object", "additionalProperties": NUMBER},
        "weak": {"type": "boolean"},
        "landed": listing(LANDED),
    }
)
CURVE = record(
    {
        "of": TEXT,
        "quantity": {
            "enum": [
                "motion", "out pressure", "back pressure", "supply", "current", "light", "air",
            ]
        },
        "at_s": NUMBERS,
        "values": NUMBERS,
    },
    "Straight between points. Motion and light 0 to 1, pressures absolute Pa, A, kg/s.",
)  # fmt: skip
TANK = record(
    {
        "at_s": NUMBERS,
        "pa": NUMBERS,
        "compressor_on_s": listing(NUMBERS),
        "cut_in_pa": MAYBE_NUMBER,
        "cut_out_pa": MAYBE_NUMBER,
        "duty": NUMBER,
        "worst_duty": NUMBER,
    }
)
QUEUE = record(
    {
        "came": WHOLE,
        "played": WHOLE,
        "left_waiting": WHOLE,
        "mean_wait_s": NUMBER,
        "longest_wait_s": NUMBER,
        "longest_line": WHOLE,
    }
)
DIFFERS = record({"mean_ms": NUMBER, "worst_ms": NUMBER, "worst_cue": TEXT, "landings": WHOLE})
ANSWER = record({"asks": TEXT, "value": MAYBE_NUMBER, "unit": TEXT, "says": TEXT})
REHEARSAL = document(
    "Thundersheet rehearsal",
    "What `thundersheet rehearse --json` prints.",
    {
        "show": TEXT,
        "mode": {"enum": ["show", "rush", "evening"]},
        "solver": {"enum": ["coupled", "event-driven"]},
        "seed": {"type": ["integer", "null"]},
        "length_s": NUMBER,
        "first_weak": {"type": ["integer", "null"]},
        "shows": listing(SHOW),
        "curves": listing(CURVE),
        "tank": _maybe(TANK),
        "queue": _maybe(QUEUE),
        "guests_per_hour": MAYBE_NUMBER,
        "rest_s": MAYBE_NUMBER,
        "rest_why": TEXT,
        "faults": listing(TEXT),
        "started": TEXT,
        "differs": _maybe(DIFFERS),
        "answers": listing(ANSWER),
        "atmosphere_pa": NUMBER,
        "findings": listing(FINDING),
    },
)
