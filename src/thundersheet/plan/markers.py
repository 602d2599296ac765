"""Markers exchanged with an editing program, as a CSV table or as an edit decision list.

In: markers or text. Out: text or markers. The CSV is `time,name,beat` (RFC 4180). The edit
decision list is the old plain text of tape suites (SMPTE ST 258): each marker is an event of one
frame on the picture track, with its name and beat in comment lines, which any program that reads
such lists carries along. No file is opened here.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from thundersheet.base.read_time import Ruler, read_time
from thundersheet.base.time import ZERO, Time, clock
from thundersheet.base.units import UnitError
from thundersheet.plan.records import Plan
from thundersheet.plan.timecode import Frames, frame_at, read_timecode, time_of, timecode

COLUMNS = ("time", "name", "beat")
MOST_EVENTS = 999
"""An event's number has three digits."""
_EVENT = re.compile(r"\d{3,6}\s+\S+\s+\S+\s+C(?:\s+\d+)?\s+(?:\S+\s+){2}(\S+)\s+\S+")
_COMMENT = re.compile(r"\*\s*(NAME|FROM CLIP NAME|BEAT|COMMENT)\s*:\s*(.*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Marker:
    """A named instant of the programme."""

    at: Time
    name: str
    beat: str = ""
    """The beat's id; empty for a marker that someone set by hand."""


def markers_of(plan: Plan) -> tuple[Marker, ...]:
    """One marker a beat (each of its repeats), in the order of time."""
    found: dict[tuple[Time, str], Marker] = {}
    for cue in plan.cues:
        target = cue.target
        key = (target.beat_at, target.beat)
        found.setdefault(key, Marker(target.beat_at, target.what or target.id, target.beat))
    return tuple(sorted(found.values(), key=lambda each: each.at))


def to_csv(markers: Iterable[Marker], frames: Frames | None = None) -> str:
    """A CSV table; with a frame rate, times are timecode, else `m:ss.mmm`."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\r\n")
    table.writerow(COLUMNS)
    for each in markers:
        at = timecode(each.at, frames) if frames else exact(each.at)
        table.writerow((at, each.name, each.beat))
    return out.getvalue()


def from_csv(text: str, frames: Frames | None = None) -> tuple[Marker, ...]:
    """Markers of a CSV table; ValueError says which line is wrong and why.

    Commas, semicolons or tabs; columns in any order; a column without a known head is left alone.
    """
    text = text.lstrip("\ufeff")
    lines = list(csv.reader(io.StringIO(text), delimiter=_delimiter(text)))
    if not lines:
        return ()
    head = [cell.strip().lower() for cell in lines[0]]
    if "time" not in head:
        raise ValueError("line 1: no column is called `time`; write `time,name,beat`")
    markers = []
    for number, row in enumerate(lines[1:], 2):
        cells = dict(zip(head, (cell.strip() for cell in row), strict=False))
        if cells.get("time"):
            at = _read(cells["time"], frames, number)
            markers.append(Marker(at, cells.get("name", ""), cells.get("beat", "")))
    return tuple(markers)


def to_edl(markers: Sequence[Marker], frames: Frames, title: str, start: Time = ZERO) -> str:
    """An edit decision list; `start` is what the editor's clock shows at 0:00 of the programme."""
    if len(markers) > MOST_EVENTS:
        raise ValueError(f"an edit decision list holds {MOST_EVENTS} events at most")
    begin = frame_at(start, frames)
    mode = "DROP FRAME" if frames.drop else "NON-DROP FRAME"
    lines = [f"TITLE: {_one_line(title)}", f"FCM: {mode}", ""]
    for number, each in enumerate(markers, 1):
        index = frame_at(each.at, frames)
        times = (index, index + 1, begin + index, begin + index + 1)
        shown = " ".join(timecode(time_of(i, frames), frames) for i in times)
        lines.append(f"{number:03d}  AX       V     C        {shown}")
        lines.append(f"* NAME: {_one_line(each.name)}")
        if each.beat:
            lines.append(f"* BEAT: {each.beat}")
    return "\n".join(lines) + "\n"


def from_edl(text: str, frames: Frames, start: Time = ZERO) -> tuple[Marker, ...]:
    """Markers of an edit decision list: the record-in of each event; its comments name it."""
    begin = frame_at(start, frames)
    found: list[Marker] = []
    for number, line in enumerate(text.splitlines(), 1):
        plain = line.strip()
        if event := _EVENT.match(plain):
            frame = frame_at(_read(event[1], frames, number), frames) - begin
            found.append(Marker(time_of(frame, frames), ""))
        elif (comment := _COMMENT.match(plain)) and found:
            found[-1] = _noted(found[-1], comment[1].upper(), comment[2].strip())
    return tuple(found)


def exact(time: Time) -> str:
    """A time with three decimals, or with as many as it takes to lose nothing."""
    for decimals, step in ((3, 1_000_000), (6, 1_000)):
        if time.ns % step == 0:
            return clock(time, decimals)
    return clock(time, 9)


def _noted(marker: Marker, kind: str, words: str) -> Marker:
    if kind == "BEAT":
        return Marker(marker.at, marker.name, words)
    return marker if marker.name else Marker(marker.at, words, marker.beat)


def _read(text: str, frames: Frames | None, line: int) -> Time:
    try:
        if frames is not None and text.count(":") + text.count(";") == 3:
            return read_timecode(text, frames)
        rate = None if frames is None else float(frames.rate)
        return read_time(text, Ruler.of(rate))
    except (UnitError, ValueError) as error:
        raise ValueError(f"line {line}: {error}") from error


def _delimiter(text: str) -> str:
    head = text.splitlines()[0] if text.strip() else ""
    return max(",;\t", key=head.count)


def _one_line(text: str) -> str:
    return " ".join(text.split())
