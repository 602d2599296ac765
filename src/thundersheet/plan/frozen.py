"""The plan as one JSON document and back, its schema, and the fingerprint over what is played.

In: a plan. Out: a document that holds all of it: a player, a proof, a page need no book. Reading
one back gives an equal plan. No file is opened here.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from thundersheet.base.finding import Cure, Finding, Grade, Refusal, finding_json
from thundersheet.base.source import Place
from thundersheet.base.time import Span, Time
from thundersheet.base.units import UnitStyle
from thundersheet.model.device import Command, Impact, Landing, Lead, Move, Part
from thundersheet.model.show import CueTrack, Window
from thundersheet.plan.media import Notice, notice
from thundersheet.plan.pack import Json, closed, pack, schema, unpack
from thundersheet.plan.records import PLAN_VERSION, Cue, EveningError, EveningPlan, Plan, Target
from thundersheet.plan.schedule import Schedule, Word

T = TypeVar("T")

EXPLAINS = {
    "PLAN-01": "A document that should be a frozen plan is none, or of another version than this "
    "program plays. Plan the book again.",
}

FINGERPRINT_DIGITS = 8
"""32 bits: as much as the cue track carries."""


def print_of(show: str, variant: str, length: Time, style: CueTrack, cues: Sequence[Cue]) -> str:
    """Hex digits over all that a player acts on: SHA-256 (FIPS 180-4) of canonical JSON, cut.

    What only people read (what guests see, findings, places in the book) does not change it.
    """
    acted_on = {
        "version": PLAN_VERSION,
        "show": show,
        "variant": variant,
        "length_ns": length.ns,
        "style": pack(style),
        "cues": [[cue.id, cue.at.ns, pack(cue.commands)] for cue in cues],
    }
    text = json.dumps(acted_on, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode()).hexdigest()[:FINGERPRINT_DIGITS]


def to_json(plan: Plan) -> Json:
    """The plan as one document; its schema is `schema/plan.json`."""
    schedule = pack(plan.schedule)
    words = schedule.pop("words")
    return {
        "plan": plan.version,
        "show": plan.show,
        "variant": plan.variant,
        "length_s": plan.length.s,
        "fingerprint": plan.fingerprint,
        "cues": [_cue_json(cue) for cue in plan.cues],
        "findings": [finding_json(finding) for finding in plan.findings],
        "words": words,
        "schedule": schedule,
        "style": pack(plan.style),
        "units": dict(plan.units.units),
        "evening": None if plan.evening is None else pack(plan.evening),
    }


def from_json(document: Json) -> Plan:
    """The plan that `to_json` wrote; refused when the document is something else."""
    if not isinstance(document, Mapping) or document.get("plan") != PLAN_VERSION:
        found = document.get("plan") if isinstance(document, Mapping) else None
        raise Refusal.because(
            "PLAN-01",
            "This is no frozen plan that this program can play"
            + (f": it is of version {found}." if found is not None else "."),
            f"A plan of version {PLAN_VERSION}, as `thundersheet plan BOOK --json` prints it.",
        )
    try:
        return _plan(document)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise Refusal.because(
            "PLAN-01",
            f"The frozen plan is damaged ({type(error).__name__}: {error}).",
            "Plan the book again.",
        ) from error


def _plan(document: Mapping[str, Any]) -> Plan:
    schedule = {**document["schedule"], "words": document["words"]}
    return Plan(
        version=document["plan"],
        show=document["show"],
        variant=document["variant"],
        length=Time.seconds(document["length_s"]),
        fingerprint=document["fingerprint"],
        cues=tuple(_cue(cue) for cue in document["cues"]),
        style=unpack(CueTrack, document["style"]),
        schedule=unpack(Schedule, schedule),
        findings=tuple(_finding(finding) for finding in document["findings"]),
        units=UnitStyle(dict(document["units"])),
        evening=_maybe(EveningPlan, document.get("evening")),
    )


def _cue_json(cue: Cue) -> Json:
    target, lead, move = cue.target, cue.lead, cue.target.move
    return {
        "id": cue.id,
        "beat": target.beat,
        "device": move.device,
        "action": move.action,
        "beat_s": target.beat_at.s,
        "cue_s": cue.at.s,
        "lead_ms": lead.total.in_ms,
        "lead_parts": {part.name: part.span.in_ms for part in lead.parts},
        "window_ms": [target.window.early.in_ms, target.window.late.in_ms],
        "expected_error_ms": cue.expected_error.in_ms,
        "sync": notice(cue.expected_error),
        "leaves_s": cue.leaves_at.s,
        "band_ms": [-lead.early.in_ms, lead.late.in_ms],
        "basis": lead.basis,
        "land": target.land,
        "land_s": target.land_at.s,
        "what": target.what,
        "says": target.says,
        "window": target.window.name,
        "to": move.to,
        "over_ms": _ms(move.over),
        "hold_ms": _ms(move.hold),
        "rest_ms": lead.rest.in_ms,
        "stays_ms": _ms(lead.hold),
        "curve": pack(lead.curve),
        "impact": None if lead.impact is None else pack(lead.impact),
        "air_l": lead.air_l,
        "never": lead.never,
        "bands_ms": {name: share.in_ms for name, share in lead.bands.items()},
        "commands": pack(cue.commands),
        "place": pack(target.place),
        **_evening_json(cue.evening),
    }


def _evening_json(evening: EveningError | None) -> Json:
    """Worst landings over the evening, and in which air; both null where none is declared."""
    if evening is None:
        return {"evening_error_ms": None, "evening": None}
    return {
        "evening_error_ms": [evening.early.in_ms, evening.late.in_ms],
        "evening": pack(evening),
    }


def _cue(data: Mapping[str, Any]) -> Cue:
    early, late = (Span.ms(edge) for edge in data["window_ms"])
    move = Move(
        device=data["device"],
        action=data["action"],
        to=data["to"],
        over=_span(data["over_ms"]),
        hold=_span(data["hold_ms"]),
    )
    target = Target(
        id=data["id"],
        beat=data["beat"],
        beat_at=Time.seconds(data["beat_s"]),
        land_at=Time.seconds(data["land_s"]),
        move=move,
        land=data["land"],
        window=Window(early, late, data["window"]),
        what=data["what"],
        says=data["says"],
        place=unpack(Place, data["place"]),
    )
    return Cue(
        target=target,
        at=Time.seconds(data["cue_s"]),
        lead=_lead(data),
        commands=unpack(tuple[Command, ...], data["commands"]),
        expected_error=Span.ms(data["expected_error_ms"]),
        evening=_maybe(EveningError, data.get("evening")),
    )


def _lead(data: Mapping[str, Any]) -> Lead:
    before, after = data["band_ms"]
    return Lead(
        parts=tuple(
            Part(name=name, span=Span.ms(span)) for name, span in data["lead_parts"].items()
        ),
        early=Span.ms(-before),
        late=Span.ms(after),
        basis=data["basis"],
        rest=Span.ms(data["rest_ms"]),
        hold=_span(data["stays_ms"]),
        state=None,
        curve=unpack(tuple[tuple[float, float], ...], data["curve"]),
        impact=unpack(Impact, data["impact"]) if data["impact"] is not None else None,
        air_l=float(data["air_l"]),
        never=data["never"],
        bands={name: Span.ms(share) for name, share in data["bands_ms"].items()},
    )


def _maybe(cls: type[T], data: Json) -> T | None:
    """A record that a document may lack: one of before it was thought of."""
    return None if data is None else unpack(cls, data)


def _ms(span: Span | None) -> float | None:
    return None if span is None else span.in_ms


def _span(ms: float | None) -> Span | None:
    return None if ms is None else Span.ms(ms)


def _finding(data: Mapping[str, Any]) -> Finding:
    return Finding(
        code=data["code"],
        grade=data["grade"],
        place=Place(data["file"] or "", data["line"] or 0, data["column"] or 0),
        says=data["says"],
        allowed=data["allowed"],
        cures=tuple(Cure(**cure) for cure in data["cures"]),
        about=tuple(data["about"]),
        source=data["source"],
    )


def plan_schema() -> Json:
    """The JSON Schema (2020-12) of the document: written to schema/plan.json, compared in CI."""
    schedule = schema(Schedule)
    schedule["properties"].pop("words")
    schedule["required"].remove("words")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A frozen plan of Thundersheet",
        **closed(
            {
                "plan": {"const": PLAN_VERSION},
                "show": TEXT,
                "variant": TEXT,
                "length_s": NUMBER,
                "fingerprint": {"type": "string", "pattern": "^[0-9a-f]{8,}$"},
                "cues": {"type": "array", "items": _cue_schema()},
                "findings": {"type": "array", "items": finding_schema()},
                "words": {"type": "array", "items": schema(Word)},
                "schedule": schedule,
                "style": schema(CueTrack),
                "units": {"type": "object", "additionalProperties": TEXT},
                "evening": schema(EveningPlan | None),
            }
        ),
    }


TEXT: Json = {"type": "string"}
NUMBER: Json = {"type": "number"}
MAYBE: Json = {"type": ["number", "null"]}
SPANS: Json = {"type": "object", "additionalProperties": NUMBER}
PAIR: Json = {"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2}


def _cue_schema() -> Json:
    texts = ("id", "beat", "device", "action", "what", "says", "window", "never")
    numbers = ("beat_s", "cue_s", "leaves_s", "land_s", "lead_ms", "expected_error_ms", "rest_ms")
    return closed(
        {
            **dict.fromkeys(texts, TEXT),
            **dict.fromkeys((*numbers, "air_l"), NUMBER),
            **dict.fromkeys(("to", "over_ms", "hold_ms", "stays_ms"), MAYBE),
            **dict.fromkeys(("window_ms", "band_ms"), PAIR),
            **dict.fromkeys(("lead_parts", "bands_ms"), SPANS),
            "sync": schema(Notice),
            "basis": {"enum": ["estimated", "measured"]},
            "land": schema(Landing),
            "curve": {"type": "array", "items": PAIR},
            "impact": schema(Impact | None),
            "commands": schema(tuple[Command, ...]),
            "place": schema(Place),
            "evening_error_ms": {"anyOf": [PAIR, {"type": "null"}]},
            "evening": schema(EveningError | None),
        }
    )


def finding_schema() -> Json:
    """A finding in any JSON document, as `finding_json` makes it."""
    return closed(
        {
            **dict.fromkeys(("code", "says", "allowed", "source"), TEXT),
            "grade": schema(Grade),
            "file": {"type": ["string", "null"]},
            "line": {"type": ["integer", "null"]},
            "column": {"type": ["integer", "null"]},
            "cures": {"type": "array", "items": closed({"do": TEXT, "cost": TEXT})},
            "about": {"type": "array", "items": TEXT},
        }
    )
