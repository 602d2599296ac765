"""What was heard: plain records, ready for the proof, the report and JSON."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import repeat


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone heard."""

    symbol: str
    onset_s: float
    """First instant of the attack on the timeline of the file."""
    length_s: float
    """First instant of the attack to last of the release."""
    level_dbfs: float
    """Power of both tones together against a sine that just fills the scale."""
    twist_db: float
    """High tone minus low tone."""
    snr_db: float
    """Both tones against all else between 130 Hz and 3 kHz while they sound."""
    onset_sd_s: float
    """Standard deviation of the onset, from the curvature of its likelihood."""

    @classmethod
    def many(cls, *columns: Sequence[object]) -> tuple[Tone, ...]:
        """Tones from one sequence a field, in the order of the fields.

        Slot by slot, past the guard that freezes them: one by one, thousands of tones take as
        long to write down as to find.
        """
        tones = tuple(map(object.__new__, repeat(cls, len(columns[0]))))
        for field, column in zip(fields(cls), columns, strict=True):
            deque(map(getattr(cls, field.name).__set__, tones, column), maxlen=0)
        return tones


@dataclass(frozen=True, slots=True)
class Evidence:
    """What one channel of the file shows."""

    channel: int
    """Counted from 0."""
    tones: int
    """Tones heard on it."""
    level_dbfs: float
    """Middle level of those; -120 when there are none."""
    snr_db: float
    """Middle clearness of those: a leak, or tones under programme, have less."""
    noise_dbfs: float
    """What is there between 200 Hz and 3 kHz half of the time when no tone sounds."""


@dataclass(frozen=True, slots=True)
class Heard:
    """All that a file's sound says."""

    rate: int
    channel: int
    """The channel listened to, from 0; by default the one that carries the tones."""
    tones: tuple[Tone, ...]
    speed_ppm: float
    """How much too fast the file runs, from the pitch of its tones; 0 when there are none."""
    speed_sd_ppm: float
    """Standard deviation of that; infinite when there are none."""
    ramp_s: float
    """The rise of the tones: as given, or as found (of raised-cosine shape)."""
    noise_dbfs: float
    channels: tuple[Evidence, ...]
    """Each channel that was listened to, in order."""
