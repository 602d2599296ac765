"""`listen --live`: a file as the night's receiver would hear it, in the shape of `listen`.

It says what a board at the media's output would say, not what is best known: use it to see
whether a track survives. Speed, noise and S/N are not measured by that receiver: they are null.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thundersheet.cli.say import out, table, wrapped

if TYPE_CHECKING:
    from thundersheet.track.live.hear import LiveTone
    from thundersheet.track.media import Sound

ONSET_SD_S = 0.0003
"""Measured, clean to AAC 128: docs/reference/live-receiver.md."""


@dataclass(frozen=True, slots=True)
class HeardLive:
    """What the night's receiver made of one channel."""

    channel: int
    """Counted from 0."""
    tones: tuple[LiveTone, ...]


def hear_live(sound: Sound, channel: int | None) -> HeardLive:
    """Hear this channel; None: each, and take the one with the most tones."""
    from thundersheet.track.live.hear import Ear
    from thundersheet.track.live.thin import sixteen_bits

    heard = []
    for number in range(sound.channels) if channel is None else (channel,):
        ear = Ear(sound.rate, start_s=sound.start_s)
        column = sound.samples if sound.samples.ndim == 1 else sound.samples[:, number]
        news = (ear.push(sixteen_bits(column)), ear.flush())
        heard.append(HeardLive(number, tuple(tone for part in news for tone in part.ended)))
    return max(heard, key=lambda one: len(one.tones))


def live_document(media: str, sound: Sound, heard: HeardLive, channel: str | int) -> dict[str, Any]:
    """The document of `listen`, with null for what this receiver does not measure."""
    return {
        "media": media,
        "rate": sound.rate,
        "channel": channel,
        "track": sound.stream + 1,
        "tones": [_figures(tone) for tone in heard.tones],
        "speed_ppm": None,
        "priming_s": sound.priming_s,
        "ignoring_priming_s": sound.ignoring_priming_s,
        "noise_dbfs": None,
        "faults": list(sound.faults),
    }


def _figures(tone: LiveTone) -> dict[str, Any]:
    return {
        "symbol": tone.symbol,
        "onset_s": round(tone.onset_s, 9),
        "length_s": round(tone.length_s, 9),
        "level_dbfs": round(tone.level_dbfs, 4),
        "twist_db": round(tone.twist_db, 4),
        "snr_db": None,
        "onset_sd_s": ONSET_SD_S,
    }


def say_live(sound: Sound, heard: HeardLive) -> None:
    """The tones as a table, and one sentence."""
    rows = (
        (
            f"{tone.onset_s:.4f}",
            tone.symbol,
            f"{tone.length_s * 1000:.0f}",
            f"{tone.level_dbfs:.1f}",
            f"{tone.twist_db:+.1f}",
            f"{(tone.known_s - tone.onset_s) * 1000:.1f}",
        )
        for tone in heard.tones
    )
    if heard.tones:
        head = ("onset s", "symbol", "ms", "dBFS", "twist dB", "known after ms")
        out(table(head, rows, right=(0, 2, 3, 4, 5)) + "\n")
    count = f"{len(heard.tones)} tones" if heard.tones else "No tones were heard"
    where = f"channel {heard.channel + 1} of {sound.channels}"
    out(wrapped(f"{count} by the night's receiver in {where}; onsets to about 0.3 ms."))
    for fault in sound.faults:
        out(wrapped(f"note: {fault}"))
