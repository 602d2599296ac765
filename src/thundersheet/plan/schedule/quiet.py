"""Layout `direct`: the show's fingerprint in the stretches where no cue is.

In: the cue words. Out: fingerprint words between them. It never moves a cue.
"""

from __future__ import annotations

from collections.abc import Sequence

from thundersheet.base.time import Span, Time
from thundersheet.model.show import CueTrack
from thundersheet.plan.schedule.code import CHUNK_TONES, CHUNKS, chunk_symbols
from thundersheet.plan.schedule.records import Word

HEAD = Span.ms(50)
"""Left silent before the first word, for encoders and players that swallow the first samples."""
COPY_EVERY = Span.seconds(30)
"""One whole fingerprint for each half minute begun, two at least: a controller that joins late
knows a stale file within about a minute."""


def tone_onsets(onset: Time, tones: int, style: CueTrack) -> tuple[Time, ...]:
    """Where the tones of a word start: a pitch apart each."""
    return tuple(onset + (style.tone + style.gap) * index for index in range(tones))


def room_between(words: Sequence[Word], style: CueTrack, length: Time) -> list[tuple[int, int]]:
    """Where tones may start and must have ended, gaps kept on both sides."""
    rooms = []
    start = HEAD.ns
    for word in sorted(words, key=lambda w: w.onset):
        rooms.append((start, word.onset.ns - style.gap.ns))
        start = word.end.ns + style.gap.ns
    return [*rooms, (start, length.ns)]


def fingerprint_words(
    words: Sequence[Word], style: CueTrack, length: Time, fingerprint: int
) -> list[Word]:
    """As many copies as the show's length asks for and the quiet stretches hold.

    Each of a copy's four chunks goes to the first room after the copy's turn. Two chunks are two
    pitches of silence apart or have a cue between them: that is how a reader finds their ends.
    """
    pitch = (style.tone + style.gap).ns
    needs = CHUNK_TONES * pitch - style.gap.ns
    copies = max(2, -(-length.ns // COPY_EVERY.ns))
    rooms = room_between(words, style, length)
    out = []
    for turn in range(copies * CHUNKS):
        copy, index = divmod(turn, CHUNKS)
        onset = _take(rooms, length.ns * copy // copies, needs, style.gap.ns + 2 * pitch)
        if onset is not None:
            start = Time(onset)
            out.append(
                Word(
                    id=f"fingerprint {copy}.{index}",
                    kind="fingerprint",
                    symbols=chunk_symbols(index, fingerprint),
                    onset=start,
                    tone_onsets=tone_onsets(start, CHUNK_TONES, style),
                    tone=style.tone,
                )
            )
    return out


def _take(rooms: list[tuple[int, int]], after: int, needs: int, apart: int) -> int | None:
    """The first place of this size at or after an instant, else the last one before; taken."""
    late = [
        (max(a, after), room) for room in rooms if max((a := room[0]), after) + needs <= room[1]
    ]
    early = [(room[0], room) for room in rooms if room[0] + needs <= room[1]]
    if not early:
        return None
    onset, room = late[0] if late else early[-1]
    at = rooms.index(room)
    rooms[at : at + 1] = [(room[0], onset - apart), (onset + needs + apart, room[1])]
    return onset


def whole_copies(words: Sequence[Word]) -> int:
    """How often each chunk is there at least."""
    counts = [0] * CHUNKS
    for word in words:
        if word.kind == "fingerprint":
            counts[int(word.id.rsplit(".", 1)[1])] += 1
    return min(counts)
