"""The proof: a finished media file decoded again and held against the plan.

In come the plan and the file's sound, as an honest player plays it; out goes a ``Proof``. It
hears every sound track and channel, lays the tones on the plan's, pairs word with word, and
lets ``verdicts`` say what that means. It opens nothing and changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from thundersheet.plan.records import Plan
from thundersheet.plan.schedule import Word
from thundersheet.track.media import Sound
from thundersheet.track.proof.ears import Ear, open_ears
from thundersheet.track.proof.match import Line, lay, pair
from thundersheet.track.proof.records import Proof, ProvedWord, WordState
from thundersheet.track.proof.verdicts import Case, judge
from thundersheet.track.receive import Tone
from thundersheet.track.words import heard_fingerprint

ALLOWED_MS = 3.0
"""Error of one word above which it counts: the jitter of a simple receiver (measured with our
integer receiver: +-2.9 ms), and ten times what AAC at 96 kb/s costs."""

LEAST_SHARE = 0.4


def prove(plan: Plan, sounds: Sequence[Sound], media: str, allowed_ms: float = ALLOWED_MS) -> Proof:
    """Hold the sound tracks of one file against the plan; `media` is its name for people."""
    wanted = sum(len(word.symbols) for word in plan.schedule.words)
    tries = [(ears, _lay(plan, ears.chosen)) for ears in open_ears(sounds, wanted, plan.style.ramp)]
    ears, line = max(tries, key=lambda found: found[1].tones if found[1] else 0)
    tones = ears.chosen.tones if ears.chosen else ()
    words = _words(plan.schedule.words, tones, line)
    carried = heard_fingerprint(tones, plan.schedule)
    case = Case(plan, ears, line, words, carried, allowed_ms)
    verdict, because, findings = judge(case)
    return Proof(
        verdict=verdict,
        because=because,
        media=media,
        show=plan.show,
        fingerprint=plan.fingerprint,
        heard_fingerprint=carried,
        words=words,
        speed_ppm=None if line is None else (1 / line.slope - 1) * 1e6,
        offset_ms=None if line is None else line.offset_s * 1000,
        allowed_ms=allowed_ms,
        findings=findings,
    )


def _lay(plan: Plan, ear: Ear | None) -> Line | None:
    if ear is None:
        return None
    written = [
        (onset.s, symbol)
        for word in plan.schedule.words
        for onset, symbol in zip(word.tone_onsets, word.symbols, strict=True)
    ]
    heard = [(tone.onset_s, tone.symbol) for tone in ear.tones]
    pitch = 1 / (1 + (ear.speed_ppm or 0.0) / 1e6)
    line = lay(written, heard, guesses=(1.0, pitch))
    # Of two strangers' tones a few always agree: less than this share is no line at all.
    enough = LEAST_SHARE * min(len(written), len(heard))
    return line if line is not None and line.tones >= enough else None


def _words(
    words: Sequence[Word], tones: Sequence[Tone], line: Line | None
) -> tuple[ProvedWord, ...]:
    """Each written word as heard, then each heard tone that belongs to none, in order of time."""
    if line is None:
        return (*(_missing(word) for word in words), *(_extra(tone) for tone in tones))
    slots = [(t.s, s) for w in words for t, s in zip(w.tone_onsets, w.symbols, strict=True)]
    heard = [(tone.onset_s, tone.symbol) for tone in tones]
    reach = min((word.tone.s for word in words), default=0.05) * 0.8
    mine = pair(slots, heard, line, reach)
    proved, at = [], 0
    for word in words:
        own = mine[at : at + len(word.symbols)]
        at += len(word.symbols)
        proved.append(_proved(word, [None if j is None else tones[j] for j in own]))
    strange = [_extra(tone) for j, tone in enumerate(tones) if j not in set(mine)]
    return tuple(sorted((*proved, *strange), key=_when))


def _proved(word: Word, tones: Sequence[Tone | None]) -> ProvedWord:
    heard = "".join("?" if tone is None else tone.symbol for tone in tones)
    first = next(((i, tone) for i, tone in enumerate(tones) if tone is not None), None)
    if first is None:
        return _missing(word)
    index, tone = first
    # Where the first tone is lost, the next one tells where it would have been.
    since = word.tone_onsets[index].since(word.onset).s
    state: WordState = "heard" if heard == word.symbols else "wrong"
    return ProvedWord(
        id=word.id,
        state=state,
        expected_s=word.onset.s,
        heard_s=tone.onset_s - since,
        symbols=word.symbols,
        heard=heard,
        cues=word.cues,
    )


def _missing(word: Word) -> ProvedWord:
    return ProvedWord(
        id=word.id,
        state="missing",
        expected_s=word.onset.s,
        heard_s=None,
        symbols=word.symbols,
        heard="",
        cues=word.cues,
    )


def _extra(tone: Tone) -> ProvedWord:
    return ProvedWord(
        id=f"extra {tone.onset_s:.3f}",
        state="extra",
        expected_s=None,
        heard_s=tone.onset_s,
        symbols="",
        heard=tone.symbol,
    )


def _when(word: ProvedWord) -> float:
    at = word.expected_s if word.expected_s is not None else word.heard_s
    return 0.0 if at is None else at
