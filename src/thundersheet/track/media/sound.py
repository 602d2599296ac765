"""What the media door hands out: frozen records of a file's sound, picture and streams.

Seconds are floats on the file's presentation timeline, whose zero is where its picture or edit
starts. Nothing here opens a file.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.int16] | NDArray[np.float32]


LAYOUTS = {1: "mono", 2: "stereo", 6: "5.1", 8: "7.1"}
"""The usual meaning of so many channels where the file does not say."""


def layout_name(channels: int, said: str = "") -> str:
    """The layout as the file names it, or what so many channels usually are."""
    if said and "channels" not in said:
        return said
    return LAYOUTS.get(channels, f"{channels} channels")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """One audio track of a file."""

    number: int
    """Counted from 0 among the audio tracks."""
    codec: str
    rate: int
    channels: int
    layout: str
    """`mono`, `stereo`, `5.1` ...; `2 channels` where the file names no layout."""
    title: str = ""
    language: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """The samples of one audio track and where they stand on the presentation timeline."""

    samples: Samples
    """Samples x channels: int16 (full scale 32768), or float32 (full scale 1)."""
    rate: int
    channels: int
    layout: str
    start_s: float
    """When sample 0 is heard; 0 or more, for what lies before zero is not heard and is left out."""
    priming_s: float
    """Leading sound that the file says is the coder's or the editor's and must not be heard."""
    ignoring_priming_s: float
    """How much later a player hears everything that ignores the priming and edit list."""
    unsaid_priming_s: float = 0.0
    """Coder's priming that the file fails to declare, so that every player lets it be heard: the
    sound is likely late by this much against what was exported. 0: none is suspected."""
    codec: str
    container: str
    streams: tuple[Stream, ...]
    stream: int = 0
    """Which of the streams these samples are."""
    faults: tuple[str, ...] = ()
    """Sentences: cut short, gaps filled with silence, packets that did not decode."""

    @property
    def length_s(self) -> float:
        """From zero to the end of the last sample."""
        return self.start_s + len(self.samples) / self.rate

    @property
    def full_scale(self) -> float:
        """The sample value that is 0 dBFS."""
        return 32768.0 if self.samples.dtype == np.int16 else 1.0

    def channel(self, number: int) -> NDArray[np.float32]:
        """One channel as float32 with full scale 1."""
        column = self.samples[:, number]
        if column.dtype == np.int16:
            return np.multiply(column, np.float32(1 / 32768), dtype=np.float32)
        return np.ascontiguousarray(column, dtype=np.float32)


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """What a file's picture is."""

    codec: str
    width: int
    height: int
    frames_per_s: float
    """The average; see `variable`."""
    variable: bool
    """Whether the frames stand at unequal distances."""
    b_frames: bool
    """Whether frames are stored in another order than shown."""
    start_s: float
    length_s: float
    frames: int
    turned_deg: int = 0
    """How far a player must turn it, as telephones ask."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What a report says about a media file."""

    container: str
    length_s: float
    picture: Picture | None
    sounds: tuple[Stream, ...]
    sound_start_s: float
    """When the first audio track's first sample is heard."""
    priming_s: float
    unsaid_priming_s: float
    edits: tuple[str, ...] = ()
    """Sentences about what the edit list skips or delays, one a track that has any."""
    others: tuple[str, ...] = ()
    """Subtitles, data and attachments: `subtitle (mov_text)`."""
