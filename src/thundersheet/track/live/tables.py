"""All numbers of the night's receiver, as they stand in a microcontroller or in gates.

Frequencies: ITU-T Q.23, secondary source. What each test is good for, and the word lengths of
all that is computed, are in docs/reference/live-receiver.md.
"""

from __future__ import annotations

from math import floor, pi, sin

RATE = 8000
"""Samples a second."""
HOP = 30
"""Samples of a hop, 3.75 ms: the first null of a boxcar of so many, 266.7 Hz, lies on the
268 Hz from 941 to 1209 Hz."""
LARGEST = 2047
"""Samples are signed, of 12 bits: -2048 to 2047."""
NONE = -1
"""No digit."""

TONES = 8
STEPS = (5710, 6308, 6980, 7709, 9904, 10945, 12100, 13378)
"""Phase increments, round(f * 65536 / 8000), of 697 770 852 941 | 1209 1336 1477 1633 Hz."""
SINE = tuple(floor(127 * sin(2 * pi * (k + 0.5) / 256) + 0.5) for k in range(256))
"""round(127 sin(2 pi (k + 1/2) / 256)); no entry lies near enough to a half to be in doubt."""
COSINE = SINE[64:] + SINE[:64]

LEVEL = 3906
"""Of Q: about -30 dBm, where 0 dBm is an amplitude of 1000."""
HOLD_LEVEL = 1562
DOMINANCE, HOLD_DOMINANCE = 14, 8
"""16 (QL + QH) >= this times E. A perfect pair gives 22."""
HIGH_OVER_LOW, LOW_OVER_HIGH = 4, 20
"""Twist: +6 and -13 dB, with room for what 1.5 % off costs."""
IN_GROUP = 4
"""The best of a group over each other of it: 6 dB."""
LAGS = (2, 2, 2, 2, 1, 1, 1, 1)
"""Hops between the two looks whose phases are compared."""
TURNS = (71, 85, 105, 136, 57, 66, 79, 96)
"""round(64 tan(2 pi f * 0.0255 * lag * 30 / 8000)): more than 2.55 % off is refused."""

PLENTY = 7
"""Looks in favour that suffice alone."""
ENOUGH = 6
"""Looks in favour that suffice when the tone is known to be old enough and still sounds."""
OLD = 8 * 220
"""Age in eighths of a sample that is old enough: 27.5 ms from the middle of the attack."""
YOUNG = 8 * 320
"""Age beyond which nothing goes down, 40 ms: a digit is known some 30 ms after its attack, what
is older has swelled up without one. Of 18 false digits in 1.1 h of music all were older."""
BLANKS = 2
"""Looks in a row without a digit that end a candidate: one alone is forgiven."""
MISSES = 6
"""Looks in a row that no longer hold an active digit: 22.5 ms, so a break of 10 ms is none."""
KEPT = 16
"""Looks that the age may go back."""
