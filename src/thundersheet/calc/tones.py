"""What the cue track's tones are, how fast they may follow, and how well one can be timed."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, quantity, span, text, whole
from thundersheet.base.time import Span
from thundersheet.calc._sum import Result, Sum
from thundersheet.track.bound import onset_bound
from thundersheet.track.symbols import SYMBOLS, Voice, frequencies


@dataclass(frozen=True, kw_only=True)
class Ask(Record):
    """A tone as it is written."""

    symbol: str = text("One of 123A456B789C*0#D.", default="5", example="5")
    tone: Span = span("Its length.", default=Span.ms(50), low=0.012)
    gap: Span = span("The silence behind it.", default=Span.ms(50), low=0.008)
    ramp: Span = span("Its rise.", default=Span.ms(2), low=0.0)
    tones_in_a_word: int = whole("How many tones make a word.", default=7, low=1)
    speed: float = quantity(
        "share", "How much faster the file runs, as a share.", default=0.0, low=-0.2, high=0.2
    )
    noise_db: float = quantity(
        "level", "Signal to noise over the whole band at 48 kHz.", default=20.0
    )


def answer(ask: Ask) -> tuple[Result, ...]:
    """Frequencies, rates, and the best that any receiver could do."""
    if ask.symbol not in SYMBOLS or len(ask.symbol) != 1:
        raise ValueError(f"`{ask.symbol}` is no tone: the sixteen are {SYMBOLS}")
    low, high = (hertz * (1 + ask.speed) for hertz in frequencies(ask.symbol))
    pitch = ask.tone.s + ask.gap.s
    return (
        Result("low", low, "Hz"),
        Result("high", high, "Hz"),
        Result("tones_per_second", 1 / pitch, "1/s"),
        Result("word_length", ask.tones_in_a_word * pitch - ask.gap.s, "s"),
        Result("taken_by_receivers", abs(ask.speed) <= 0.015),
        Result("refused_by_receivers", abs(ask.speed) >= 0.035),
        Result("best_onset_error", _best(ask), "s"),
    )


def _best(ask: Ask) -> float:
    return onset_bound(ask.symbol, ask.tone, Voice(ramp=ask.ramp), ask.noise_db, 48_000)


SUM = Sum(
    about="The two frequencies of a tone, how fast tones may follow, how well one can be timed.",
    asks=Ask,
    answer=answer,
    formula="symbol = one of 697, 770, 852, 941 Hz with one of 1209, 1336, 1477, 1633 Hz; "
    "onset error: Cramér-Rao bound with level, phase and frequency unknown",
    source="ITU-T Q.23 and Q.24 (accept to 1.5 %, refuse from 3.5 %; secondary source)",
    cautions=("Cheap receivers want 50 ms on and 45 ms off (common practice, no source).",),
    example="symbol=5 tone=50ms gap=50ms",
)
