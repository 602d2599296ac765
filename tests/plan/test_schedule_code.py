"""The words' coding: every error that a check digit is for, tried without exception."""

from __future__ import annotations

import random
from itertools import product

import pytest

from thundersheet.plan.schedule import code
from thundersheet.track.symbols import SYMBOLS as KEYPAD

# The test's own GF(16): logarithms to the base 2, x^4 + x + 1 (W. Peterson and E. Weldon,
# "Error-Correcting Codes", appendix C: 1 2 4 8 3 6 12 11 5 10 7 14 15 13 9).
POWERS = [1, 2, 4, 8, 3, 6, 12, 11, 5, 10, 7, 14, 15, 13, 9]
LOG = {value: exponent for exponent, value in enumerate(POWERS)}


def outside_check(digits: tuple[int, ...]) -> int:
    total = 0
    for position, digit in enumerate(digits):
        if digit:
            total ^= POWERS[(LOG[digit] + position) % 15]
    return total


def every_mark() -> list[tuple[int, ...]]:
    """A third of all the words there are: each number with each part it may carry."""
    words = []
    for number in range(0, code.MARKS, 3):
        for part in range(code.PART_VALUES):
            place = code.MARK_PARTS - 1 - number % code.MARK_PARTS
            fingerprint = part * code.PART_VALUES**place
            if fingerprint < 2**32:
                symbols = code.mark_symbols(number, fingerprint)
                words.append(tuple(code.VALUE[s] for s in symbols[1:]))
    return words


def test_the_sixteen_symbols_are_those_of_the_keypad():
    assert sorted(code.SYMBOLS) == sorted(KEYPAD)


def test_the_check_is_the_sum_over_gf16_by_an_independent_table():
    rng = random.Random(5)
    for _ in range(2000):
        digits = tuple(rng.randrange(16) for _ in range(rng.randrange(1, 16)))
        assert code.syndrome(digits) == outside_check(digits)


def test_no_mark_holds_the_start_inside_and_all_read_back():
    for number in range(code.MARKS):
        for fingerprint in (0, 0xFFFFFFFF, 0x12345678):
            symbols = code.mark_symbols(number, fingerprint)
            assert symbols.count(code.START) == 1
            part = code.fingerprint_parts(fingerprint)[number % 5]
            assert code.mark_of(symbols) == (number, part)


def test_every_single_substitution_at_every_length_is_found():
    # Linear: an error pattern passes just when it is itself a word, so one word stands for all.
    for length in range(1, 16):
        for position in range(length):
            for error in range(1, 16):
                pattern = tuple(error if i == position else 0 for i in range(length))
                assert outside_check(pattern) != 0
                assert code.syndrome(pattern) != 0


@pytest.mark.parametrize(("apart", "kind"), [(1, "adjacent"), (2, "jump")])
def test_every_transposition_and_twin_error_at_every_length_is_found(apart, kind):
    # ab -> ba and aa -> bb both add a + b at two places: the same pattern in characteristic 2.
    for length in range(2, 16):
        for position in range(length - apart):
            for error in range(1, 16):
                pattern = [0] * length
                pattern[position] = pattern[position + apart] = error
                assert code.syndrome(tuple(pattern)) != 0, kind


def test_every_word_withstands_every_single_substitution_and_transposition():
    words = every_mark()
    whole = set(words)
    assert len(words) == len(whole) > 100_000
    rng = random.Random(3)
    for word in rng.sample(words, 3000):
        for position, value in product(range(6), range(16)):
            wrong = (*word[:position], value, *word[position + 1 :])
            assert wrong == word or not _reads(wrong)
        for i, j in ((i, i + n) for n in (1, 2) for i in range(6 - n)):
            swapped = list(word)
            swapped[i], swapped[j] = swapped[j], swapped[i]
            assert tuple(swapped) == word or not _reads(tuple(swapped))
            if word[i] == word[j]:
                for value in set(range(16)) - {word[i]}:
                    twin = list(word)
                    twin[i] = twin[j] = value
                    assert not _reads(tuple(twin))


def _reads(digits: tuple[int, ...]) -> bool:
    return code.mark_of(code.START + "".join(code.SYMBOLS[d] for d in digits)) is not None


def test_a_plain_sum_would_miss_every_transposition():
    # Why the digits are weighed: a check that adds them up cannot tell their order.
    assert (1 + 2) % 16 == (2 + 1) % 16
    assert code.syndrome((1, 2)) != code.syndrome((2, 1))


def test_undetected_chance_is_that_of_a_count_over_all_error_patterns():
    # All 16^4 patterns of a word of four digits, each digit wrong with chance p, any way alike.
    p = 0.01
    count = 0.0
    for pattern in product(range(16), repeat=4):
        if any(pattern) and outside_check(pattern) == 0:
            wrong = sum(bool(d) for d in pattern)
            count += (p / 15) ** wrong * (1 - p) ** (4 - wrong)
    assert code.undetected_chance(p, 4) == pytest.approx(count, rel=1e-9)


def test_undetected_chance_of_a_five_digit_word_is_the_published_7e_7():
    # The figure of our notes on control tones: 7e-7 at one symbol error in a thousand.
    assert code.undetected_chance(1e-3, 5) == pytest.approx(7e-7, rel=0.06)
    assert code.undetected_chance(1e-3) < 1.1e-6


def test_fingerprint_parts_carry_all_32_bits():
    for value in (0, 1, 2**32 - 1, 0xDEADBEEF):
        assert code.fingerprint_of_parts(code.fingerprint_parts(value)) == value
    assert code.fingerprint_of_parts((104,) * 5) is None
    with pytest.raises(ValueError, match="32 bits"):
        code.fingerprint_parts(2**32)


def test_chunks_read_back_and_one_or_two_wrong_tones_are_found():
    for index, byte in product(range(4), range(256)):
        symbols = code.chunk_symbols(index, byte << 8 * (3 - index))
        assert code.chunk_of(symbols) == (index, byte)
    flip = {code.ZERO_BIT: code.ONE_BIT, code.ONE_BIT: code.ZERO_BIT}
    symbols = code.chunk_symbols(2, 0xA500)
    for i in range(14):
        for j in range(i, 14):
            wrong = list(symbols)
            wrong[i] = flip[wrong[i]]
            if j > i:
                wrong[j] = flip[wrong[j]]
            assert code.chunk_of("".join(wrong)) is None


def test_a_stuck_symbol_is_no_chunk():
    assert code.chunk_of("*" * 14) is None
    assert code.chunk_of("#" * 14) is None


def test_the_remainder_is_the_crc4_of_the_catalogue():
    # CRC-4/G-704, check value 0x7 for "123456789" bit-reflected (catalogue of parametrised CRC
    # algorithms); fed here with each byte's least bit first, the result reflected.
    bits = tuple(byte >> n & 1 for byte in b"123456789" for n in range(8))
    assert int("".join(map(str, code.remainder4(bits)[::-1])), 2) == 0x7
