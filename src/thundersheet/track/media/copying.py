"""Copying packets as they are, and proving it: nothing is decoded here.

Time stamps are moved by one constant so that the source's zero becomes the target's, and missing
decoding stamps are filled in; the bytes of a packet are never touched.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thundersheet.track.media.door import opened

if TYPE_CHECKING:
    from av.packet import Packet


@dataclass(slots=True)
class Tally:
    """Packets of one track: how many, and the hash of all their bytes in order."""

    packets: int = 0
    digest: Any = field(default_factory=hashlib.sha256)

    def add(self, packet: Packet[Any]) -> None:
        """Count one in."""
        self.packets += 1
        self.digest.update(memoryview(packet))


class Tallies:
    """Tallies by track number of the file."""

    def __init__(self) -> None:
        self.by_track: defaultdict[int, Tally] = defaultdict(Tally)

    def add(self, track: int, packet: Packet[Any]) -> None:
        """Count a packet in."""
        self.by_track[track].add(packet)

    def of(self, track: int) -> tuple[int, str]:
        """The number of packets and their hash."""
        tally = self.by_track[track]
        return tally.packets, tally.digest.hexdigest()


def tally_file(path: Path, *, tracks: Iterable[int] | None = None, edits: bool = True) -> Tallies:
    """Count and hash the packets of a file; `edits` False also sees what an edit list hides."""
    found = Tallies()
    options = {} if edits else {"ignore_editlist": "1"}
    with opened(path, **options) as container:
        wanted = [s for s in container.streams if tracks is None or s.index in set(tracks)]
        for packet in container.demux(wanted):
            if packet.size:
                found.add(packet.stream_index, packet)
    return found


class Stamps:
    """Moves the time stamps of one track and makes its decoding stamps whole and rising."""

    def __init__(self, shift: Fraction) -> None:
        self.shift = shift
        self.waiting: list[Packet[Any]] = []
        self.last: int | None = None

    def ready(self, packet: Packet[Any]) -> Iterator[Packet[Any]]:
        """The packets that can be written now, this one or those that waited with it.

        Matroska stores no decoding stamps; the first packets of a track with B-frames come
        without one, and dropping them would lose pictures. They wait for the first that has one.
        """
        if packet.dts is None and self.last is None and len(self.waiting) < 64:
            self.waiting.append(packet)
            return
        yield from self._released(packet)

    def rest(self) -> Iterator[Packet[Any]]:
        """Those that still wait at the end."""
        if self.waiting:
            yield from self._released(self.waiting.pop())

    def _released(self, packet: Packet[Any]) -> Iterator[Packet[Any]]:
        group, self.waiting = [*self.waiting, packet], []
        step, dts = max(1, packet.duration or 1), packet.dts
        if dts is None:
            known = [p.pts for p in group if p.pts is not None]
            dts = min(known, default=0) if self.last is None else self.last + step
        for place, one in enumerate(group):
            one.dts = dts - step * (len(group) - 1 - place)
            yield self._moved(one)

    def _moved(self, packet: Packet[Any]) -> Packet[Any]:
        by = round(self.shift / Fraction(packet.time_base))
        dts = (packet.dts or 0) - by
        if self.last is not None:
            dts = max(dts, self.last - by + 1)
        self.last = dts + by
        packet.pts = max(dts, packet.pts - by) if packet.pts is not None else dts
        packet.dts = dts
        return packet
