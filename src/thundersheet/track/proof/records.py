"""A proof as data: every word of the cue track, where it was expected and where it was heard."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from thundersheet.base.finding import Finding

WordState = Literal["heard", "missing", "extra", "wrong"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvedWord:
    """One word of the cue track, as planned and as heard."""

    id: str
    state: WordState
    expected_s: float | None
    """Its first tone's onset on the presentation timeline; None for an extra word."""
    heard_s: float | None
    """None for a missing word."""
    symbols: str
    """As planned; empty for an extra word."""
    heard: str
    """As heard; `?` where a tone of it is missing; empty for a missing word."""
    cues: tuple[str, ...] = ()
    """The cues that leave with it; none for marks and fingerprints."""

    @property
    def error_ms(self) -> float | None:
        """Late is positive; None where either time is missing."""
        if self.expected_s is None or self.heard_s is None:
            return None
        return (self.heard_s - self.expected_s) * 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What decoding a finished media file and holding it against the plan has shown."""

    verdict: str
    """`proved`, or the gravest cause in plain words: `channels swapped`."""
    because: str
    """The verdict as one sentence with its figures."""
    media: str
    show: str
    fingerprint: str
    """The plan's, in hex digits."""
    heard_fingerprint: str
    """The file's; empty when none was heard whole; `?` where digits are missing."""
    words: tuple[ProvedWord, ...]
    """In the order of time."""
    speed_ppm: float | None
    """How much faster (positive) the file runs than the plan; None when too little was heard."""
    offset_ms: float | None
    """How late the file's line is against the plan's at 0:00."""
    allowed_ms: float
    """Error of a single word above which it counts against the file."""
    findings: tuple[Finding, ...]

    @property
    def proved(self) -> bool:
        """Whether the file may be carried outside."""
        return self.verdict == "proved"
