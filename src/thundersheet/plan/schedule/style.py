"""What can be wrong with the way a book wants its cue track written.

In: the style. Out: findings TRACK-01 to TRACK-06. Ranges of single values are the reader's.
"""

from __future__ import annotations

from collections.abc import Iterator

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.time import Span
from thundersheet.model.show import CueTrack
from thundersheet.plan.schedule.marks import shortest_spacing

ACCEPTED = Span.ms(40)
"""A receiver must take tones and pauses of 40 ms and longer."""
REJECTED = Span.ms(23)
"""It may take anything under this for noise."""
Q24 = "figure after ITU-T Q.24 (tone) and ETSI ES 201 235-3 (pause), secondary source"
LOUDEST_DB = -3.1
KNOWN_AT_BEST = Span.ms(37)
"""Our integer receiver's latest report of a clean tone, counted from its onset."""


def check_style(style: CueTrack) -> Iterator[Finding]:
    """What does not go together in the style, or is hard on receivers."""
    yield from _short(style, "tone", style.tone, "TRACK-01")
    yield from _short(style, "gap", style.gap, "TRACK-02")
    if style.ramp * 3 > style.tone:
        yield Finding(
            code="TRACK-03",
            grade="refuse",
            place=style.origin.of("ramp"),
            says=f"The ramp of {style.ramp} at both ends leaves too little of a tone of "
            f"{style.tone}.",
            allowed="At most a third of the tone.",
            cures=(Cure(do=f"Write `ramp: {style.tone.in_ms / 10:g} ms`."),),
        )
    if style.level_db > LOUDEST_DB:
        yield Finding(
            code="TRACK-04",
            grade="refuse",
            place=style.origin.of("level_db"),
            says=f"Tones at {style.level_db:g} dB would clip: both frequencies together peak 3 dB "
            "above that.",
            allowed=f"{LOUDEST_DB:g} dB or lower; -12 dB is usual.",
        )
    elif style.level_db > -6.0:
        yield Finding(
            code="TRACK-04",
            grade="warn",
            place=style.origin.of("level_db"),
            says=f"Tones at {style.level_db:g} dB leave a coder and an amplifier little headroom: "
            "both frequencies together peak 3 dB above that.",
            allowed="-6 dB or lower.",
            cures=(Cure(do="Write `level: -12 dB`."),),
            source="common practice, no source",
        )
    if style.layout == "marks":
        yield from _spacing(style)
    elif style.listening < KNOWN_AT_BEST:
        yield Finding(
            code="TRACK-06",
            grade="warn",
            place=style.origin.of("listening"),
            says=f"A receiver that switches {style.listening} after a tone's start has not "
            "understood it yet.",
            allowed=f"{KNOWN_AT_BEST} or more; 48 ms is usual.",
            source="latency of our integer receiver, 30.8 to 36.5 ms clean",
        )


def _short(style: CueTrack, name: str, value: Span, code: str) -> Iterator[Finding]:
    """A tone or gap that cheap receivers need not take."""
    if value >= ACCEPTED:
        return
    certain = "will miss" if value < REJECTED else "may miss"
    yield Finding(
        code=code,
        grade="warn",
        place=style.origin.of(name),
        says=f"Receivers {certain} a {name} of {value}: they need not take less than {ACCEPTED}.",
        allowed=f"{ACCEPTED} or more, unless Thundersheet itself listens.",
        cures=(Cure(do=f"Write `{name}: 50 ms`.", cost="fewer words a second"),),
        source=Q24,
    )


def _spacing(style: CueTrack) -> Iterator[Finding]:
    """Marks that would run into each other."""
    least = shortest_spacing(style)
    if style.every is not None and style.every < least:
        yield Finding(
            code="TRACK-05",
            grade="refuse",
            place=style.origin.of("every"),
            says=f"Marks every {style.every} run into each other: seven tones of {style.tone} "
            f"with gaps of {style.gap} take longer.",
            allowed=f"{least} or more.",
            cures=(
                Cure(do=f"Write `every: {least}`, or leave it out."),
                Cure(do="Shorten `tone` and `gap`.", cost="cheap receivers may miss them"),
            ),
        )
