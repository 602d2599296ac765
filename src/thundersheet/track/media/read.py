"""Reading a file's sound: whole (`read_sound`), or as an envelope to draw (`programme_levels`).

In: a path. Out: samples that stand right on the presentation timeline. It changes nothing.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import BinaryIO, cast

import numpy as np

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.track.media.decode import Walk, walk
from thundersheet.track.media.door import check_readable, why_not_read
from thundersheet.track.media.sound import Samples, Sound
from thundersheet.track.media.wav import map_wav

HELD_IN_MEMORY = 1 << 30
"""Bytes of decoded sound kept in memory; more goes to a temporary file that is mapped."""

READ_AT_ONCE = 1 << 18
"""Samples of a mapped WAV looked at together when drawing."""


def read_sound(path: Path | str, *, stream: int | None = None) -> Sound:
    """The samples of one audio track, sample 0 at `start_s` on the presentation timeline.

    None takes the track that a player would. Refuses what is no media or has no sound.
    """
    path = Path(path)
    if (sound := _mapped(path, stream)) is not None:
        return sound
    with walk(path, stream) as track:
        try:
            samples = _gathered(track)
        except OSError as error:
            import tempfile

            raise Refusal.because(
                "MEDIA-12", f"There is no room for its decoded sound in {tempfile.gettempdir()}.",
                "Free some space there, or name another folder in TMPDIR.", Place(str(path)),
            ) from error  # fmt: skip
        if not len(samples):
            raise Refusal.because(
                "MEDIA-07", "All sound in this file lies before its beginning, by its edit list.",
                "Export it again.", Place(str(path)),
            )  # fmt: skip
        return Sound(
            samples=samples, rate=track.rate, channels=track.channels, layout=track.layout,
            start_s=track.start / track.rate, priming_s=float(track.line.priming),
            ignoring_priming_s=float(track.line.ignoring),
            unsaid_priming_s=float(track.line.unsaid), codec=track.stream.codec,
            container=track.container.format.name, streams=track.streams,
            stream=track.stream.number, faults=track.told(),
        )  # fmt: skip


def read_sounds(path: Path | str) -> tuple[Sound, ...]:
    """Every audio track, in the file's order; refuses as `read_sound` does."""
    first = read_sound(path)
    return tuple(
        first if stream.number == first.stream else read_sound(path, stream=stream.number)
        for stream in first.streams
    )


def _mapped(path: Path, stream: int | None) -> Sound | None:
    check_readable(path)
    try:
        sound = map_wav(path)
    except OSError as error:
        raise why_not_read(path, error) from error
    if sound is not None and stream not in (None, 0):
        raise Refusal.because(
            "MEDIA-07",
            f"There is no audio track {stream + 1} in this file.",
            "It has 1.",
            Place(str(path)),
        )
    return sound


def _gathered(track: Walk) -> Samples:
    """All pieces in one array, on disk beyond HELD_IN_MEMORY."""
    memory = io.BytesIO()
    store: BinaryIO = memory
    for piece in track:
        store.write(np.ascontiguousarray(piece).data)
        if store is memory and memory.tell() > HELD_IN_MEMORY:
            store = _moved_to_disk(memory)
    dtype = np.dtype(np.int16 if track.short else np.float32)
    if store is memory:
        flat = np.frombuffer(memory.getbuffer(), dtype)
    else:
        with store:  # the map outlives its file
            store.flush()
            flat = np.memmap(store, dtype, "r")
    samples: Samples = flat.reshape(-1, track.channels)
    return samples


def _moved_to_disk(memory: io.BytesIO) -> BinaryIO:
    """An unnamed temporary file with what was in memory; it goes when the samples go."""
    import tempfile  # loads all of OpenSSL for its random names

    disk = cast("BinaryIO", tempfile.TemporaryFile())  # noqa: SIM115 (closed once it is mapped)
    disk.write(memory.getbuffer())
    return disk
