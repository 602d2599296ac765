"""`listen`: list the tones in any media file; no book needed."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from thundersheet.base.finding import Refusal
from thundersheet.cli.asked import whole
from thundersheet.cli.listen_live import HeardLive, hear_live, live_document, say_live
from thundersheet.cli.say import Written, out, progress, put_json, table, wrapped

if TYPE_CHECKING:
    from thundersheet.track.media import Sound
    from thundersheet.track.receive import Heard, Tone

ABOUT = """\
List the tones in any media file. The onset is the first instant of a tone's attack on the
presentation timeline, as an honest player plays it."""
EXAMPLE = """\
  thundersheet listen show.mp4
  thundersheet listen show.mp4 --channel right --json
  thundersheet listen street.wav --shared   # tones among speech and music
  thundersheet listen show.mp4 --live       # as a board at the media's output hears them"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The media file, which channel, how strict, and how to print."""
    parser.add_argument("media", help="any file with sound: WAV, FLAC, MP3, MP4, MOV, MKV, ...")
    parser.add_argument(
        "--channel", help="left, right, or a number from 1; by default the one that carries tones"
    )
    parser.add_argument(
        "--track", type=whole(1, 999),
        help="which sound track of the file, from 1; by default the first that carries tones",
    )  # fmt: skip
    parser.add_argument(
        "--shared", action="store_true", help="the channel also carries programme: be strict"
    )
    parser.add_argument(
        "--live", action="store_true",
        help="hear as the night's receiver does: whole numbers, no looking ahead; onsets to 0.3 ms",
    )  # fmt: skip
    parser.add_argument("--json", action="store_true", help="print one JSON document instead")


def run(args: argparse.Namespace) -> int:
    """Print the tones; none at all is an answer too."""
    with progress("listening"):
        sound, heard = _hear(args)
    if isinstance(heard, HeardLive):
        if args.json:
            named = _named(heard.channel, sound)
            put_json(live_document(str(args.media), sound, heard, named))
        else:
            say_live(sound, heard)
    elif args.json:
        put_json(_document(args.media, sound, heard))
    else:
        _say(sound, heard)
    return 0


def _hear(args: argparse.Namespace) -> tuple[Sound, Heard | HeardLive]:
    """The track asked for, or the first that carries tones (else the first)."""
    if args.live and args.shared:
        raise Refusal.because(
            "MEDIA-93",
            "`--live` and `--shared` do not go together: the night's receiver has one mode.",
            "Leave one of them away.",
        )
    from thundersheet.base.time import Time
    from thundersheet.track.media import read_sound
    from thundersheet.track.proof.ears import check_rate
    from thundersheet.track.receive import listen

    def ear(sound: Sound) -> tuple[Sound, Heard | HeardLive]:
        check_rate(sound)
        channel = _channel(args.channel, sound)
        if args.live:
            return sound, hear_live(sound, channel)
        start = Time.seconds(sound.start_s)
        return sound, listen(
            sound.samples, sound.rate, channel=channel, shared=args.shared, start=start
        )

    first = read_sound(args.media, stream=None if args.track is None else args.track - 1)
    heard = [ear(first)]
    if args.track is None and not heard[0][1].tones:
        others = (stream.number for stream in first.streams if stream.number != first.stream)
        heard += [ear(read_sound(args.media, stream=number)) for number in others]
    return max(heard, key=lambda pair: len(pair[1].tones))


def _channel(word: str | None, sound: Sound) -> int | None:
    if word is None:
        return None
    names = {"left": 1, "right": 2}
    number = names.get(word.lower(), int(word) if word.isdecimal() else 0)
    if not 1 <= number <= sound.channels:
        raise Refusal.because(
            "MEDIA-90",
            f"There is no channel `{word}`: the sound has {sound.channels}.",
            "Say left, right, or a number from 1.",
        )
    return number - 1


def _named(channel: int, sound: Sound) -> str | int:
    """As `--channel` takes it: left or right of a stereo sound, else the number from 1."""
    return ("left", "right")[channel] if sound.channels == 2 else channel + 1


def _document(media: str, sound: Sound, heard: Heard) -> dict[str, Any]:
    """The document of design section 4."""
    return {
        "media": str(media),
        "rate": sound.rate,
        "channel": _named(heard.channel, sound),
        "track": sound.stream + 1,
        "tones": Written(TONE % _figures(tone) for tone in heard.tones),
        "speed_ppm": heard.speed_ppm,
        "priming_s": sound.priming_s,
        "ignoring_priming_s": sound.ignoring_priming_s,
        "noise_dbfs": heard.noise_dbfs,
        "faults": list(sound.faults),
    }


TONE = (
    '{"symbol": "%s", "onset_s": %.9f, "length_s": %.9f, "level_dbfs": %.4f, "twist_db": %.4f, '
    '"snr_db": %.3f, "onset_sd_s": %.9f}'
)
"""To a thousandth of a microsecond and of a decibel: all digits of ten tones a second take three
times as long to write as the tones to hear."""


def _figures(tone: Tone) -> tuple[str, float, float, float, float, float, float]:
    """What ``TONE`` takes."""
    ends = (tone.onset_s, tone.length_s)
    return tone.symbol, *ends, tone.level_dbfs, tone.twist_db, tone.snr_db, tone.onset_sd_s


def _say(sound: Sound, heard: Heard) -> None:
    head = ("onset s", "symbol", "ms", "dBFS", "twist dB", "S/N dB")
    rows = (
        (
            f"{tone.onset_s:.5f}",
            tone.symbol,
            f"{tone.length_s * 1000:.1f}",
            f"{tone.level_dbfs:.1f}",
            f"{tone.twist_db:+.1f}",
            f"{tone.snr_db:.0f}",
        )
        for tone in heard.tones
    )
    if heard.tones:
        out(table(head, rows, right=(0, 2, 3, 4, 5)) + "\n")
    where = f"channel {heard.channel + 1} of {sound.channels}"
    if len(sound.streams) > 1:
        where += f", track {sound.stream + 1} of {len(sound.streams)}"
    count = f"{len(heard.tones)} tones" if heard.tones else "No tones were heard"
    speed = f"speed {heard.speed_ppm:+.1f} ppm by pitch; " if heard.tones else ""
    container = sound.container.split(",")[0]
    out(
        wrapped(
            f"{count} in {where}; {speed}noise {heard.noise_dbfs:.0f} dBFS; {sound.codec} in "
            f"{container}, {sound.priming_s * 1000:.1f} ms of priming skipped."
        )
    )
    for fault in sound.faults:
        out(wrapped(f"note: {fault}"))


EXPLAINS = {
    "MEDIA-90": "`listen --channel` takes left, right, or a number from 1 up to the channels that "
    "the sound has.",
    "MEDIA-93": "`listen --live` hears as the night's receiver does, which has no strict mode.",
}
