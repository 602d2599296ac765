"""What the verbs hand out as JSON: findings and proofs as plain documents with a schema.

In: records. Out: dicts, lists, text and numbers only (design, section 4).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from thundersheet.base.finding import Finding
from thundersheet.base.source import NOWHERE
from thundersheet.track.proof_records import Proof, ProvedWord


def findings_json(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Findings as the JSON documents carry them."""
    return [
        {
            "code": finding.code,
            "grade": finding.grade,
            "file": finding.place.file if finding.place != NOWHERE else None,
            "line": finding.place.line or None,
            "column": finding.place.column or None,
            "says": finding.says,
            "allowed": finding.allowed,
            "cures": [{"do": cure.do, "cost": cure.cost} for cure in finding.cures],
            "about": list(finding.about),
            "source": finding.source,
        }
        for finding in findings
    ]


def proof_json(proof: Proof) -> dict[str, Any]:
    """The document that `prove --json` prints and the demo leaves in its folder."""
    return {
        "verdict": proof.verdict,
        "because": proof.because,
        "media": proof.media,
        "show": proof.show,
        "fingerprint": proof.fingerprint,
        "heard_fingerprint": proof.heard_fingerprint,
        "words": [_word(word) for word in proof.words],
        "speed_ppm": proof.speed_ppm,
        "offset_ms": proof.offset_ms,
        "allowed_ms": proof.allowed_ms,
        "findings": findings_json(proof.findings),
    }


def _word(word: ProvedWord) -> dict[str, Any]:
    return {
        "id": word.id,
        "expected_s": word.expected_s,
        "heard_s": word.heard_s,
        "error_ms": word.error_ms,
        "state": word.state,
        "symbols": word.symbols,
        "heard": word.heard,
        "cues": list(word.cues),
    }
