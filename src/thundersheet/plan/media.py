"""What screens and players do to the time of picture and sound.

In: a book and its cues. Out: findings. Figures of ITU-R BT.1359-1 (1998): sound early of its
picture is noticed from 45 ms and not accepted from 90 ms; late, from 125 ms and from 185 ms. EBU
Recommendation R37 (2007) asks for 40 ms early to 60 ms late end to end.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from thundersheet.base.finding import Finding, Grade
from thundersheet.base.time import Span, Time
from thundersheet.model.book import Book
from thundersheet.model.device import Device
from thundersheet.model.show import Beat
from thundersheet.plan.records import Cue
from thundersheet.plan.timeline import lag_of, picture_lag, screen_lag

EXPLAINS = {
    "SHOW-07": "A screen's lag seems to be in the show twice: once as the screen's `lag`, and "
    "again in the beats' own times, in the tempo, or as the player's. Everything that meets the "
    "screen would land late by the lag.",
    "SHOW-08": "The sound leaves the speakers at once and the picture waits for its screen. From "
    "45 ms on, people notice that sound comes early (ITU-R BT.1359-1); 90 ms they do not accept. "
    "Delay the sound, or set the screen to a low-delay mode.",
}

EARLY_NOTICED, EARLY_REFUSED = Span.ms(45), Span.ms(90)
LATE_NOTICED, LATE_REFUSED = Span.ms(125), Span.ms(185)
R37_EARLY, R37_LATE = Span.ms(40), Span.ms(60)
SOURCE = "ITU-R BT.1359-1; EBU R37"
ROUND = Span.ms(100)
"""People write beats in tenths of a second; after a shift they are off this grid."""
ENOUGH = 3
"""So many shifted beats are no accident."""


def media(book: Book, cues: Sequence[Cue]) -> tuple[Finding, ...]:
    """Findings about lag and skew of picture and sound."""
    del cues  # the beats as written tell more than the cues
    return (*_player_too(book), *_shifted_beats(book), *_shifted_tempo(book), *_skew(book))


def skew_grade(sound_late: Span) -> Grade | None:
    """What ITU-R BT.1359-1 makes of sound so late of its picture (early is negative)."""
    if sound_late <= -EARLY_REFUSED or sound_late >= LATE_REFUSED:
        return "refuse"
    if sound_late <= -EARLY_NOTICED or sound_late >= LATE_NOTICED:
        return "warn"
    return None


Notice = Literal["unnoticed", "noticed", "not accepted"]


def notice(landing_late: Span) -> Notice:
    """What ITU-R BT.1359-1 expects people to make of a landing so late of its sound.

    What is seen late has its sound early, and that is borne least.
    """
    found = skew_grade(-landing_late)
    if found is None:
        return "unnoticed"
    return "noticed" if found == "warn" else "not accepted"


def _players(book: Book) -> Iterator[tuple[Device, Device]]:
    """Players with the screen each of them shows its picture on."""
    by_name = {device.name: device for device in book.devices}
    for device in book.devices:
        screen = by_name.get(str(getattr(device, "screen", "")))
        if screen is not None:
            yield device, screen


def _player_too(book: Book) -> Iterator[Finding]:
    for player, screen in _players(book):
        lag = lag_of(screen)
        if lag and lag_of(player) == lag:
            yield Finding(
                code="SHOW-07",
                grade="warn",
                place=player.origin.of("lag"),
                says=f"{player.name} and its screen {screen.name} both have a lag of {lag}.",
                allowed="One lag counts once: write it at the screen, and at the player only what "
                "the player adds by itself.",
                about=(player.name, screen.name),
            )


def _shifted_beats(book: Book) -> Iterator[Finding]:
    """Beats that stand on round times only when a lag is taken off once more."""
    groups: dict[Span, list[Beat]] = {}
    for beat in book.beats:
        lag = screen_lag(book, beat)
        if lag:
            groups.setdefault(lag, []).append(beat)
    for lag, beats in groups.items():
        shifted = [b for b in beats if not _round(b.at) and _round(b.at - lag)]
        if len(shifted) < ENOUGH or 2 * len(shifted) < len(beats):
            continue
        first = shifted[0]
        yield Finding(
            code="SHOW-07",
            grade="warn",
            place=first.origin.of("at"),
            says=f"{len(shifted)} of {len(beats)} beats that meet a screen with a lag of {lag} "
            f"stand {lag} after a round time, the first at {first.at}.",
            allowed=f"Beats are when the picture is in the file: the plan adds the lag itself. "
            f"Write {first.at - lag}.",
            about=tuple(beat.name for beat in shifted if beat.name),
        )


def _shifted_tempo(book: Book) -> Iterator[Finding]:
    lags = {lag for beat in book.beats if (lag := screen_lag(book, beat))}
    for tempo in book.show.tempo:
        for lag in sorted(lags):
            if not _round(tempo.at) and _round(tempo.at - lag):
                yield Finding(
                    code="SHOW-07",
                    grade="warn",
                    place=tempo.origin.of("at"),
                    says=f"The tempo starts at {tempo.at}, {lag} after a round time, and {lag} is "
                    "the lag of the screen that beats meet.",
                    allowed="The tempo is that of the file: the plan adds the lag itself. Write "
                    f"{tempo.at - lag} if the music starts there.",
                )


def _round(time: Time) -> bool:
    return time.ns % ROUND.ns == 0


def _skew(book: Book) -> Iterator[Finding]:
    for player, screen in _players(book):
        late = book.show.sound_delay - picture_lag(book, screen)
        found = skew_grade(late)
        if found is None:
            continue
        early = abs(late).in_ms
        yield Finding(
            code="SHOW-08",
            grade="warn" if found == "refuse" else "note",
            place=screen.origin.of("lag"),
            says=f"Sound from {player.name} is {early:g} ms "
            f"{'early of' if late.ns < 0 else 'late of'} its picture on {screen.name}.",
            allowed=f"Early is noticed from {EARLY_NOTICED}, late from {LATE_NOTICED}"
            + (
                f"; delay the sound by that much and write `sound delay: {-late}`."
                if late.ns < 0
                else "."
            ),
            about=(screen.name, player.name),
            source=SOURCE,
        )
