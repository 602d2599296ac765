"""Where everything stands in the rows of numbers that the coupled solver works on.

Plain floats in lists or arrays, as `physics.kernel` has them. A body of air is its mass and its
internal energy: then sums over bodies are kept to the last digit, whatever the step.
"""

from __future__ import annotations

from collections.abc import MutableSequence, Sequence

Row = Sequence[float]
Fill = MutableSequence[float]
Rows = Sequence[MutableSequence[float]]
Blocks = Sequence[Sequence[MutableSequence[float]]]
Tables = Sequence[Row]
Net = tuple[Rows, Rows, Rows, Fill, Tables]
"""Bodies, devices, jets, the clock, tables of chains. Few arrays, as the compiler writes each of
them into every call."""
Room = tuple[Rows, Blocks, Blocks, Rows]
"""`WORK` rows over the whole state; the kernel's states and rates (`AS`) of each device; each
device's share of the Jacobian (`BLOCK`); the bodies' share, the counters' behind it."""

# What is fed by a path, a body or a jet: the path's way of air (`kernel.flow`, six columns), what
# it is fed by (-1: by none), its regulator.
WAY, F_BY, F_SET, F_DROP = 0, 6, 7, 8

# A body, behind what feeds it.
(B_VOLUME, B_HEAT, B_RT_A, B_ISO, B_FIXED, B_P, B_RT) = range(9, 16)
B_LEAK, BODY = 16, 22

# A device, behind its stroke's parameters: what feeds it, how it stands, which of its states move,
# and what it came to.
(D_BODY, D_SET, D_DROP, D_FED, D_GOING, D_AT_END, D_CUSHIONED, D_OUT, D_COUNT) = range(77, 86)
D_INDEX = 86
(D_START, D_MID, D_FULL, D_SPEED, D_ENERGY, D_LOW, D_CHANGED) = range(96, 103)
DEVICE = 103

J_OPEN, J_LOW, JET = 9, 10, 11

# The state: two columns a body, `STATE` a device, one a jet (what it took), then the counters.
# A device: mass and energy of the drive tube, drive chamber, exhaust tube, exhaust chamber; then
# position, speed and what it took.
X_DN, X_D, X_EN, X_E, X_Y, X_V, X_TOOK = 0, 2, 4, 6, 8, 9, 10
MOVING = 10
STATE = 11
C_IN, C_OUT, C_HEAT_IN, C_HEAT_OUT, COUNTERS = range(5)
"""Mass in and out, energy in and out, over the run."""

# What a device's flows come to: mass and enthalpy from its body, mass to the open, heat from its
# walls, and enthalpy to the open with the work on its piston.
O_TOOK, O_TOOK_H, O_GONE, O_HEAT, O_WENT, FLOWS = range(6)

# Rows of the work over the whole state; six stages from `W_1`; `W_DRIFT` is how the
# rates change by themselves as valves open.
W_X, W_NEW, W_F, W_END, W_1, W_TRY, W_DRIFT, WORK = 0, 1, 2, 3, 4, 10, 11, 12
# States and rates as the kernel has them, of each device, at both ends of the step, and scratch.
AS_Z, AS_NEW, AS_K, AS_END, AS_TRY, AS_TRY_K, AS = range(7)
# A device's share of the Jacobian: its own block, how its states answer to its body's two, how its
# flows answer to its states, and to its body's; the same before the step's length is in it; and the
# states at which it was made.
G_OWN, G_REACH, G_TELL, G_DIRECT, G_RAW, G_RAW_REACH, G_RAW_DIRECT, G_SEEN, BLOCK = (
    *(0, 10, 12, 17, 22, 32, 34, 39, 40),
)

# The clock: of a call of `advance.advance`; the open air; and the compressor, whose mass flow is
# Q0 + Q1 p while it is on.
(T_NOW, T_UNTIL, T_STEP, T_REFUSED, T_TOLERANCE, T_LONGEST, T_STEPS, T_MOST, T_CUT_IN, T_CUT_OUT,
 T_GRID, T_EVERY, T_FILLED, A_P, A_RHO, A_RT, A_ON, A_Q0, A_Q1, A_RT_IN,
 CLOCK) = range(21)  # fmt: skip


def counters_at(net: Net) -> int:
    """Where the counters begin in the state."""
    return 2 * len(net[0]) + STATE * len(net[1]) + len(net[2])


def jets_at(net: Net) -> int:
    """Where the jets' columns begin in the state."""
    return 2 * len(net[0]) + STATE * len(net[1])


def device_at(net: Net, i: int) -> int:
    """Where a device's columns begin in the state."""
    return 2 * len(net[0]) + STATE * i
