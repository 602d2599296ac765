"""The JSON documents that the verbs print, as JSON Schemas (2020-12); written to `schema/`.

A program that reads our output may hold on to these: a field is added, never renamed.
"""

from __future__ import annotations

from thundersheet.cli.documents_parts import (
    FINDING,
    MAYBE_NUMBER,
    MAYBE_TEXT,
    NUMBER,
    TEXT,
    Schema,
    document,
    listing,
    record,
)
from thundersheet.cli.rehearse_document import REHEARSAL
from thundersheet.cli.scatter_document import SCATTER
from thundersheet.plan.frozen import plan_schema

TONE = record(
    {
        "symbol": {"type": "string", "pattern": "^[0-9A-D*#]$"},
        "onset_s": NUMBER,
        "length_s": NUMBER,
        "level_dbfs": NUMBER,
        "twist_db": NUMBER,
        "snr_db": MAYBE_NUMBER,
        "onset_sd_s": NUMBER,
    },
    "Onset: first instant of the attack on the presentation timeline. Level: both frequencies "
    "together, RMS, against a full-scale sine. Twist: high minus low. "
    "S/N is null under --live.",
)
WORD = record(
    {
        "id": TEXT,
        "expected_s": MAYBE_NUMBER,
        "heard_s": MAYBE_NUMBER,
        "error_ms": MAYBE_NUMBER,
        "state": {"enum": ["heard", "missing", "extra", "wrong"]},
        "symbols": TEXT,
        "heard": TEXT,
        "cues": listing(TEXT),
    },
    "Times are onsets of the word's first tone; late is positive.",
)
VALUE: Schema = {"type": ["number", "integer", "string", "boolean", "array", "null"]}

DOCUMENTS: dict[str, Schema] = {
    "plan": plan_schema(),
    "refusal": document(
        "Thundersheet refusal",
        "What any verb prints with `--json` when it cannot go on and ends with exit code 2.",
        {"findings": listing(FINDING)},
    ),
    "check": document(
        "Thundersheet check",
        "What `thundersheet check --json` prints.",
        {"book": TEXT, "findings": listing(FINDING)},
    ),
    "listen": document(
        "Thundersheet listen",
        "What `thundersheet listen --json` prints.",
        {
            "media": TEXT,
            "rate": {"type": "integer"},
            "channel": {
                "description": "`left`, `right`, or a number from 1, as --channel takes it.",
                "type": ["string", "integer"],
            },
            "track": {"type": "integer", "minimum": 1},
            "tones": listing(TONE),
            "speed_ppm": {"description": "Null under --live.", **MAYBE_NUMBER},
            "priming_s": NUMBER,
            "ignoring_priming_s": NUMBER,
            "noise_dbfs": {"description": "Null under --live.", **MAYBE_NUMBER},
            "faults": listing(TEXT),
        },
    ),
    "proof": document(
        "Thundersheet prove",
        "What `thundersheet prove --json` prints.",
        {
            "verdict": {"description": "`proved`, or the gravest cause.", "type": "string"},
            "because": TEXT,
            "media": TEXT,
            "show": TEXT,
            "fingerprint": TEXT,
            "heard_fingerprint": TEXT,
            "words": listing(WORD),
            "speed_ppm": MAYBE_NUMBER,
            "offset_ms": MAYBE_NUMBER,
            "allowed_ms": NUMBER,
            "findings": listing(FINDING),
        },
    ),
    "calc": document(
        "Thundersheet calc",
        "What `thundersheet calc NAME --json` prints.",
        {
            "inputs": {
                "type": "object",
                "additionalProperties": record({"value": VALUE, "unit": TEXT, "given": MAYBE_TEXT}),
            },
            "results": {
                "type": "object",
                "additionalProperties": record({"value": VALUE, "unit": TEXT}),
            },
            "formula": TEXT,
            "source": TEXT,
            "cautions": listing(TEXT),
        },
    ),
    "rehearsal": REHEARSAL,
    "scatter": SCATTER,
}
