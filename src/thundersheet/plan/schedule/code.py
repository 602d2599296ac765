"""The words' coding: sixteen symbols, a check digit, a start that never occurs inside.

In: numbers. Out: symbols, and back. Nothing here knows time. A mark is
``# n2 n1 n0 f1 f0 c``: the start, the mark's number in base 15, a fifth of the show's fingerprint,
a check digit. Why so: docs/decisions/0005-words-of-the-cue-track.md.
"""

from __future__ import annotations

from functools import cache
from math import comb

SYMBOLS = "0123456789ABCD*#"
"""By value. Q.23's sixteen; the letters mean ten to thirteen, as they do to any programmer."""
VALUE = {symbol: value for value, symbol in enumerate(SYMBOLS)}
START = "#"
"""Opens a mark and is never inside one."""
ZERO_BIT, ONE_BIT = "*", "#"
"""Layout `direct`: these two carry the fingerprint and are never a cue."""
CUE_SYMBOLS = SYMBOLS[:14]

BASE = 15
NUMBER_DIGITS, PART_DIGITS = 3, 2
DIGITS = NUMBER_DIGITS + PART_DIGITS + 1
"""Of a mark, the check digit included and the start not."""
MARKS = BASE * BASE * BASE
"""So many marks can be told apart: 56 minutes at one a second."""
MARK_TONES = DIGITS + 1

FINGERPRINT_BITS = 32
MARK_PARTS = 5
PART_VALUES = 105
"""15 x 7: the second digit of a part keeps its top bit free, see `mark_symbols`."""

CHUNKS, CHUNK_BITS = 4, 8
CHUNK_TONES = 2 + CHUNK_BITS + 4
"""Layout `direct`: which chunk, eight bits of the fingerprint, four of check."""


@cache
def _times(a: int, b: int) -> int:
    """The product in GF(16) with x^4 + x + 1."""
    product = 0
    for bit in range(4):
        if b >> bit & 1:
            product ^= a << bit
    for bit in (6, 5, 4):
        if product >> bit & 1:
            product ^= 0b10011 << (bit - 4)
    return product


@cache
def _power(exponent: int) -> int:
    """The primitive element 2 to the power; its powers run through all fifteen."""
    value = 1
    for _ in range(exponent % 15):
        value = _times(value, 2)
    return value


def syndrome(digits: tuple[int, ...]) -> int:
    """Sum of alpha^i d_i over GF(16): zero for a whole word.

    For up to 15 digits it is not zero after any single substitution, adjacent or jump
    transposition, twin or jump twin error: each of those leaves (a + b) times a sum of one or two
    different powers of alpha. (J. Verhoeff, "Error Detecting Decimal Codes", 1969, for the list.)
    """
    if len(digits) > 15:
        raise ValueError("the check digit covers at most 15 digits")
    total = 0
    for position, digit in enumerate(digits):
        total ^= _times(_power(position), digit)
    return total


def missing_digit(digits: tuple[int, ...], position: int) -> int:
    """The one value at `position` that makes the word whole, whatever stands there now."""
    without = (*digits[:position], 0, *digits[position + 1 :])
    return _times(_power(-position), syndrome(without))


def with_check(digits: tuple[int, ...]) -> tuple[int, ...]:
    """The digits with their check digit behind them."""
    return (*digits, missing_digit((*digits, 0), len(digits)))


def in_base(value: int, base: int, digits: int) -> tuple[int, ...]:
    """The value's digits, greatest first (ValueError when they do not reach)."""
    out = []
    for _ in range(digits):
        value, digit = divmod(value, base)
        out.append(digit)
    if value:
        raise ValueError("the number does not fit its digits")
    return tuple(reversed(out))


def fingerprint_parts(fingerprint: int) -> tuple[int, ...]:
    """The five values of 0..104 that mark n carries by n modulo 5, greatest first."""
    if not 0 <= fingerprint < 2**FINGERPRINT_BITS:
        raise ValueError("a fingerprint has 32 bits")
    return in_base(fingerprint, PART_VALUES, MARK_PARTS)


def fingerprint_of_parts(parts: tuple[int, ...]) -> int | None:
    """The fingerprint that five parts make; None when no 32-bit number has these parts."""
    value = 0
    for part in parts:
        value = value * PART_VALUES + part
    return value if len(parts) == MARK_PARTS and value < 2**FINGERPRINT_BITS else None


def mark_symbols(number: int, fingerprint: int) -> str:
    """The seven symbols of a mark.

    All digits but the check are below 15, so only the check could come out as the start symbol.
    Then the spare top bit of the part's last digit is set, which changes the check digit.
    """
    part = fingerprint_parts(fingerprint)[number % MARK_PARTS]
    high, low = divmod(part, 7)
    number_digits = in_base(number, BASE, NUMBER_DIGITS)
    word = with_check((*number_digits, high, low))
    if word[-1] == VALUE[START]:
        word = with_check((*number_digits, high, low + 8))
    return START + "".join(SYMBOLS[digit] for digit in word)


def mark_of(symbols: str) -> tuple[int, int] | None:
    """A mark's number and fingerprint part, or None when these symbols are no mark."""
    if len(symbols) != MARK_TONES or symbols[0] != START or START in symbols[1:]:
        return None
    digits = tuple(VALUE[symbol] for symbol in symbols[1:])
    n2, n1, n0, high, low, _ = digits
    if syndrome(digits) or low & 7 == 7:
        return None
    spare_needed = with_check((n2, n1, n0, high, low & 7))[-1] == VALUE[START]
    if spare_needed != (low >= 8):
        return None
    return (n2 * BASE + n1) * BASE + n0, high * 7 + (low & 7)


def undetected_chance(symbol_error: float, digits: int = DIGITS) -> float:
    """Chance that wrong digits pass the check digit when each is wrong this often, any way alike.

    Sum over w of A_w (p/15)^w (1-p)^(n-w), with the weights of an MDS code of n digits, one
    check, over GF(16) (MacWilliams and Sloane, "The Theory of Error-Correcting Codes", ch. 11).
    An upper bound for a mark: its start, its spare bit and its place in time are checked too.
    """
    total = 0.0
    for weight in range(2, digits + 1):
        terms = (
            (-1) ** j * comb(weight, j) * (16 ** (weight - 1 - j) - 1) for j in range(weight - 1)
        )
        words = comb(digits, weight) * sum(terms)
        total += words * (symbol_error / 15) ** weight * (1 - symbol_error) ** (digits - weight)
    return total


def remainder4(bits: tuple[int, ...]) -> tuple[int, ...]:
    """CRC-4 with x^4 + x + 1 (the polynomial of ITU-T G.704): d = 3 up to 15 bits in all."""
    register = 0
    for bit in (*bits, 0, 0, 0, 0):
        register = register << 1 | bit
        if register & 0b10000:
            register ^= 0b10011
    return tuple(register >> shift & 1 for shift in (3, 2, 1, 0))


def _bits(value: int, count: int) -> tuple[int, ...]:
    """So many bits of the value, greatest first."""
    return tuple(value >> shift & 1 for shift in reversed(range(count)))


def chunk_symbols(index: int, fingerprint: int) -> str:
    """Layout `direct`: the 14 two-valued tones that carry one of four chunks of the fingerprint."""
    byte = fingerprint >> CHUNK_BITS * (CHUNKS - 1 - index) & 0xFF
    # The check is turned over, so that silence or a stuck symbol is never a whole word.
    bits = (*_bits(index, 2), *_bits(byte, CHUNK_BITS))
    check = tuple(1 - bit for bit in remainder4(bits))
    return "".join((ZERO_BIT, ONE_BIT)[bit] for bit in (*bits, *check))


def chunk_of(symbols: str) -> tuple[int, int] | None:
    """Which chunk and its byte, or None when these symbols are no chunk."""
    if len(symbols) != CHUNK_TONES or set(symbols) - {ZERO_BIT, ONE_BIT}:
        return None
    bits = tuple(int(symbol == ONE_BIT) for symbol in symbols)
    value = int("".join(map(str, bits[:10])), 2)
    return (
        (value >> 8, value & 0xFF) if chunk_symbols(value >> 8, _placed(value)) == symbols else None
    )


def _placed(value: int) -> int:
    """A fingerprint that has this chunk's byte in this chunk's place, zeros elsewhere."""
    return (value & 0xFF) << CHUNK_BITS * (CHUNKS - 1 - (value >> 8))
