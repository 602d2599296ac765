"""What a proof's evidence means, in plain words: the cause, what it does to the show, the mend.

In comes a ``Case`` (plan, ears, the line the tones lie on, the words); out go the verdict, one
sentence, and findings, gravest cause first. Each check is one function; it looks at the case and
says nothing when there is nothing to say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from thundersheet.base.finding import Cure, Finding, worst
from thundersheet.base.source import Place
from thundersheet.base.time import Time, clock
from thundersheet.plan.records import Plan
from thundersheet.track.proof.ears import Ear, Ears
from thundersheet.track.proof.match import Line
from thundersheet.track.proof.records import ProvedWord

EXPLAINS = {
    "PROOF-01": "No tones at all were found in any channel of any sound track of the file. The "
    "editor or the player's conversion has dropped the control channel, or the wrong file was "
    "exported.",
    "PROOF-02": "Both channels carry the same sound: somebody mixed the two into one (mono). Tones "
    "and programme now lie over each other, guests hear the tones, and a receiver loses most of "
    "them. Export in stereo with both channels kept apart.",
    "PROOF-03": "The tones are in the channel where the programme should be. Guests would hear the "
    "tones and the receiver the programme. Swap the channels in the export, or the two plugs.",
    "PROOF-04": "The tones are too quiet or too loud for an ordinary receiver, or far from the "
    "level at which they were written. Cheap receivers take about 29 dB.",
    "PROOF-05": "The tops of the tones are cut off flat. Clipping adds false frequencies and moves "
    "onsets. Lower the level before the stage that clips; a limiter counts too.",
    "PROOF-06": "The file runs faster or slower than the plan. Every cue is right at the head and "
    "off at the end. Usual causes: frame rate converted (4.2 % between film and video, 0.1 % "
    "between 30 and 29.97 frames a second), sample rate mistaken, music re-timed.",
    "PROOF-07": "The file starts later or earlier than the plan's 0:00: something was put in front "
    "or cut off the head.",
    "PROOF-08": "The file ends before the plan does: its tail was cut, or the export broke off.",
    "PROOF-09": "The fingerprint in the file is not this plan's: the file was made from an older "
    "plan or belongs to another show. Write the cue track again from this book.",
    "PROOF-10": "Encoders put some silence in front of the sound (priming) and say so in the file. "
    "A player that ignores this plays sound and tones late by that much, while the picture is in "
    "time. Tones and sound stay together, so hits stay on their sound.",
    "PROOF-11": "Words of the cue track were not heard. In layout `direct` their cues will not "
    "leave; in layout `marks` the controller goes on by its own clock.",
    "PROOF-12": "Words were heard with other symbols than were written: other cues would leave.",
    "PROOF-13": "Tones were heard where none was written. A receiver would act on them.",
    "PROOF-14": "Programme, hum or noise lies under the tones in the control channel. Receivers "
    "lose tones or hear false ones when it comes near the tones' level.",
    "PROOF-15": "Tones or the gaps between them are shorter than cheap receivers take (50 ms on, "
    "45 ms off; common practice, no source; ITU-T Q.24 by a secondary source: 40 ms each).",
    "PROOF-16": "Single words stand off their instants by more than is allowed although the file "
    "as a whole is in time: a stretch was re-timed, or sound was dropped and filled.",
}
LEAST_TONE_S, LEAST_GAP_S = 0.050, 0.045
SLACK_S = 0.0015
LOUD_DBFS, QUIET_DBFS = -1.0, -32.0
SIDES = {"left": 0, "right": 1}


@dataclass(frozen=True, slots=True)
class Case:
    """All that the checks may look at."""

    plan: Plan
    ears: Ears
    line: Line | None
    words: tuple[ProvedWord, ...]
    carried: str
    """The fingerprint heard, in hex digits; empty when none was whole."""
    allowed_ms: float

    @property
    def ear(self) -> Ear:
        """The channel that carries the tones."""
        assert self.ears.chosen is not None
        return self.ears.chosen

    def in_state(self, state: str) -> tuple[ProvedWord, ...]:
        """The words in one state."""
        return tuple(word for word in self.words if word.state == state)

    @property
    def place(self) -> Place:
        """The file as a whole."""
        return Place("")


Check = Callable[[Case], Iterator[tuple[str, Finding]]]
"""Yields (cause in a few words, finding)."""


def judge(case: Case) -> tuple[str, str, tuple[Finding, ...]]:
    """The verdict, the sentence that gives it, and all findings."""
    if case.ears.chosen is None:
        cause, finding = _silent()
        return cause, finding.says, (finding,)
    said = [pair for check in CHECKS for pair in check(case)]
    findings = tuple(finding for _, finding in said)
    if worst(findings) == "refuse":
        cause, first = next(pair for pair in said if pair[1].grade == "refuse")
        return cause, first.says, findings
    return "proved", _well(case), findings


def _well(case: Case) -> str:
    heard = [abs(word.error_ms) for word in case.in_state("heard") if word.error_ms is not None]
    return (
        f"All {len(case.words)} words were heard where they belong, the worst "
        f"{max(heard, default=0.0):.2f} ms off."
    )


def _finding(
    code: str, grade: str, says: str, do: str = "", about: tuple[str, ...] = ()
) -> Finding:
    assert grade in ("refuse", "warn", "note")
    cures = (Cure(do=do),) if do else ()
    return Finding(code=code, grade=grade, says=says, cures=cures, about=about)  # type: ignore[arg-type]


def _silent() -> tuple[str, Finding]:
    return "no tones", _finding(
        "PROOF-01",
        "refuse",
        "No tones were found in any channel of this file.",
        "Prove the file that `track` wrote or an export of it, with both channels of the sound and "
        "the control channel not muted",
    )


def _summed(case: Case) -> Iterator[tuple[str, Finding]]:
    """Both channels alike, or a single channel with programme under the tones."""
    ear = case.ear
    alone = ear.sound.channels == 1 and len(case.ears.all) == 1
    mixed = ear.between_dbfs > ear.level_dbfs - 45
    if case.ears.twin() or (alone and mixed):
        how = "Both channels carry the same sound" if not alone else "The file has one channel"
        yield (
            "summed to mono",
            _finding(
                "PROOF-02",
                "refuse",
                f"{how}: tones and programme were summed to mono.",
                "Export in stereo, nothing panned or mixed down, and set the player to stereo",
            ),
        )


def _swapped(case: Case) -> Iterator[tuple[str, Finding]]:
    """Tones on the other side than the book says."""
    side = case.plan.style.channel
    ear = case.ear
    if side not in SIDES or ear.sound.channels < 2 or ear.channel == SIDES[side]:
        return
    if case.ears.twin():
        return
    cause = "channels swapped" if ear.channel == 1 - SIDES[side] else "tones in another channel"
    yield (
        cause,
        _finding(
            "PROOF-03",
            "refuse",
            f"The tones are in the {ear.side} channel; the book has them on the {side}.",
            "Swap left and right in the export",
        ),
    )


def _stale(case: Case) -> Iterator[tuple[str, Finding]]:
    """A fingerprint that is not this plan's, or none at all."""
    if case.carried and case.carried != case.plan.fingerprint:
        same = sum(word.state == "heard" for word in case.words)
        yield (
            "another plan's file",
            _finding(
                "PROOF-09",
                "refuse",
                f"The file carries fingerprint {case.carried}, this plan has "
                f"{case.plan.fingerprint}: it was made from an older plan or belongs to another "
                f"show ({same} of {len(case.plan.schedule.words)} words agree).",
                "Write the cue track again from this book, or prove against the book it came from",
            ),
        )
    elif case.line is None:
        yield (
            "another show's file",
            _finding(
                "PROOF-09",
                "refuse",
                "There are tones, but not in the order of this plan: the file belongs to another "
                "show.",
                "Write the cue track again from this book",
            ),
        )
    elif not case.carried and case.plan.schedule.copies:
        yield (
            "fingerprint not heard",
            _finding(
                "PROOF-09",
                "warn",
                f"No whole fingerprint was heard; this plan's is {case.plan.fingerprint}.",
            ),
        )


def _speed(case: Case) -> Iterator[tuple[str, Finding]]:
    """Drift over the show beyond what is allowed for one word."""
    if case.line is None:
        return
    drift_ms = (case.line.slope - 1) * case.plan.length.s * 1000
    sure = abs(case.line.slope - 1) > 4 * case.line.slope_sd
    if abs(drift_ms) <= case.allowed_ms or not sure:
        return
    share = (1 / case.line.slope - 1) * 100
    pace = "fast" if share > 0 else "slow"
    pitch = case.ear.speed_ppm
    follows = pitch is not None and abs(pitch / 1e4 - share) < max(0.02, 0.2 * abs(share))
    how = "pitch and all" if follows else "with its pitch kept"
    yield (
        f"runs {abs(share):.2g} % {pace}",
        _finding(
            "PROOF-06",
            "refuse",
            f"The file runs {abs(share):.3g} % {pace}, {how}: cues are "
            f"{abs(drift_ms):.0f} ms {'late' if drift_ms > 0 else 'early'} at the end.",
            "Keep the frame rate and the sample rate in the export; do not re-time the sound",
        ),
    )


def _shifted(case: Case) -> Iterator[tuple[str, Finding]]:
    """The whole line late or early: cut head, something put in front, priming counted in."""
    if case.line is None or abs(case.line.offset_s * 1000) <= case.allowed_ms:
        return
    ms = case.line.offset_s * 1000
    unsaid = case.ear.sound.unsaid_priming_s * 1000
    if unsaid and abs(ms - unsaid) < 2:
        says = f"The sound is {ms:.1f} ms late: the coder's priming is counted in."
        do = "Export to MP4 or MOV, which say how much priming to skip"
    elif ms < 0:
        says = f"The head of the file is cut: everything comes {-ms:.1f} ms early."
        do = "Export from 0:00 of the programme"
    else:
        says = f"Something stands in front: everything comes {ms:.1f} ms late."
        do = "Export from 0:00 of the programme, without a leader"
    cause = "head cut" if ms < 0 else "starts late"
    yield cause, _finding("PROOF-07", "refuse", says, do)


def _tail(case: Case) -> Iterator[tuple[str, Finding]]:
    """Sound that ends before the plan's last words."""
    if case.line is None:
        return
    last = max((word.end.s for word in case.plan.schedule.words), default=0.0)
    heard_end = case.ear.sound.length_s
    if heard_end >= case.line.offset_s + case.line.slope * last - 0.005:
        return
    end = (heard_end - case.line.offset_s) / case.line.slope
    lost = sum(word.onset.s > end for word in case.plan.schedule.words)
    yield (
        "tail cut",
        _finding(
            "PROOF-08",
            "refuse",
            f"The sound ends at {clock(Time.seconds(heard_end))}, before the plan does: "
            f"{lost} words are lost.",
            "Export the whole programme",
        ),
    )


def _wrong(case: Case) -> Iterator[tuple[str, Finding]]:
    yield from _listed(case, "wrong", "PROOF-12", "words wrong", "were heard with other symbols")


def _missing(case: Case) -> Iterator[tuple[str, Finding]]:
    yield from _listed(case, "missing", "PROOF-11", "words missing", "were not heard")


def _extra(case: Case) -> Iterator[tuple[str, Finding]]:
    yield from _listed(case, "extra", "PROOF-13", "extra tones", "were heard where none is written")


def _listed(
    case: Case, state: str, code: str, cause: str, what: str
) -> Iterator[tuple[str, Finding]]:
    """One finding for all words in a state, the first few named."""
    words = case.in_state(state)
    if not words:
        return
    names = ", ".join(_named(word) for word in words[:5])
    more = f" and {len(words) - 5} more" if len(words) > 5 else ""
    total = len(case.plan.schedule.words)
    count = f"{len(words)} tones" if state == "extra" else f"{len(words)} of {total} words"
    yield (
        cause,
        _finding(
            code,
            "refuse",
            f"{count} {what}: {names}{more}.",
            about=tuple(cue for word in words for cue in word.cues),
        ),
    )


def _named(word: ProvedWord) -> str:
    at = word.expected_s if word.expected_s is not None else word.heard_s
    when = clock(Time.seconds(at or 0.0))
    cues = f" ({', '.join(word.cues[:3])})" if word.cues else ""
    heard = f" heard {word.heard}" if word.state in ("wrong", "extra") else ""
    return f"{word.symbols or ''}{heard} at {when}{cues}".strip()


def _off(case: Case) -> Iterator[tuple[str, Finding]]:
    """Single words off the line that the others lie on."""
    if case.line is None:
        return
    off = [word for word in case.in_state("heard") if abs(_rest_ms(case, word)) > case.allowed_ms]
    if off:
        worst_ms = max((_rest_ms(case, word) for word in off), key=abs)
        yield (
            "words off their instants",
            _finding(
                "PROOF-16",
                "refuse",
                f"{len(off)} words stand off their instants, the worst by {worst_ms:+.1f} ms: "
                f"{', '.join(_named(word) for word in off[:5])}.",
                about=tuple(cue for word in off for cue in word.cues),
            ),
        )


def _rest_ms(case: Case, word: ProvedWord) -> float:
    """How far a heard word is from where the file's own line has it."""
    assert case.line is not None
    assert word.expected_s is not None
    assert word.heard_s is not None
    line = case.line.offset_s + case.line.slope * word.expected_s
    return (word.heard_s - line) * 1000


def _level(case: Case) -> Iterator[tuple[str, Finding]]:
    """Out of an ordinary receiver's range, or far from what was written."""
    level, written = case.ear.level_dbfs, case.plan.style.level_db
    if QUIET_DBFS <= level <= LOUD_DBFS and abs(level - written) <= 6:
        return
    out_of_range = not QUIET_DBFS <= level <= LOUD_DBFS
    yield (
        "level out of range" if out_of_range else "level changed",
        _finding(
            "PROOF-04",
            "refuse" if out_of_range else "warn",
            f"The tones are at {level:.0f} dBFS; they were written at {written:.0f}, and simple "
            f"receivers take {QUIET_DBFS:.0f} to {LOUD_DBFS:.0f}.",
            "Leave the level of the control channel alone: no normalising, no loudness match",
        ),
    )


def _clipped(case: Case) -> Iterator[tuple[str, Finding]]:
    if case.ear.clipped:
        yield (
            "clipped",
            _finding(
                "PROOF-05",
                "refuse",
                f"The tones are clipped: {case.ear.flat:.0%} of their samples lie at the top.",
                "Lower the level before the stage that clips, and switch limiters off",
            ),
        )


def _leak(case: Case) -> Iterator[tuple[str, Finding]]:
    """Programme or noise under the tones, by how far it lies below them."""
    below = case.ear.level_dbfs - case.ear.between_dbfs
    if below < 40 and not case.ears.twin():
        yield (
            "programme leaks in",
            _finding(
                "PROOF-14",
                "refuse" if below < 12 else "warn",
                f"Something else lies in the control channel, {below:.0f} dB below the tones.",
                "Pan the programme fully to the other side; no stereo widening, no joint stereo",
            ),
        )


def _short(case: Case) -> Iterator[tuple[str, Finding]]:
    """Tones or gaps shorter than cheap receivers take, unless the book wants them so."""
    tones = case.ear.tones
    style = case.plan.style
    least_tone = min(LEAST_TONE_S, style.tone.s) - SLACK_S
    least_gap = min(LEAST_GAP_S, style.gap.s) - SLACK_S
    short = [tone for tone in tones if tone.length_s < least_tone]
    gaps = [
        later.onset_s - earlier.onset_s - earlier.length_s for earlier, later in pairwise(tones)
    ]
    tight = [gap for gap in gaps if gap < least_gap]
    if len(short) > 0.02 * len(tones) or len(tight) > 0.02 * len(tones):
        shortest = min((tone.length_s for tone in short), default=style.tone.s) * 1000
        smallest = min(tight, default=style.gap.s) * 1000
        yield (
            "tones too short",
            _finding(
                "PROOF-15",
                "refuse",
                f"{len(short)} tones are too short and {len(tight)} gaps too small: down to "
                f"{shortest:.0f} ms on and {smallest:.0f} ms off.",
                "Write the cue track with 50 ms tones and 50 ms gaps",
            ),
        )


def _priming(case: Case) -> Iterator[tuple[str, Finding]]:
    """What a player that ignores priming would do; worth knowing, no fault of the file."""
    shift = case.ear.sound.ignoring_priming_s * 1000
    if abs(shift) > 1.0:
        yield (
            "priming",
            _finding(
                "PROOF-10",
                "note",
                f"Sound and tones are {shift:.1f} ms late on a player that does not skip the "
                "coder's leading silence (priming).",
            ),
        )


CHECKS: tuple[Check, ...] = (
    _summed,
    _swapped,
    _stale,
    _speed,
    _shifted,
    _tail,
    _clipped,
    _level,
    _short,
    _wrong,
    _missing,
    _extra,
    _off,
    _leak,
    _priming,
)
"""Gravest first: the first that refuses gives the verdict its name."""
