"""A proof as the plain document that `prove --json` prints and the demo leaves behind.

In: records. Out: dicts, lists, text and numbers only (design, section 4).
"""

from __future__ import annotations

from typing import Any

from thundersheet.base.finding import finding_json
from thundersheet.track.proof.records import Proof, ProvedWord


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
        "findings": [finding_json(finding) for finding in proof.findings],
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
