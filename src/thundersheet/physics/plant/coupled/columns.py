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
Net = tuple[Rows, Rows, Rows, Rows, Fill, Sequence[Row]]
"""bodies, devices, parameters of their strokes, jets, air, tables of chains."""
Room = tuple[Rows, Blocks, Rows, Blocks, Blocks, Blocks, Blocks, Rows, Rows]
"""`WORK` rows over the whole state; the kernel's states and rates (`AS`); pressures and R T of the
bodies; then the Jacobian: devices' own blocks, their answer to their body, how their flows answer
to them and to their body, the bodies' own block, and the counters'."""

# A body. A way of air (`kernel.flow`) is six columns.
(B_VOLUME, B_PARENT, B_SET, B_DROP, B_HEAT, B_RT_A, B_ISO, B_FIXED) = range(8)
B_WAY, B_LEAK, BODY = 8, 14, 20

# A device: what feeds it, how it stands, which of its states move, and what it came to.
(D_BODY, D_SET, D_DROP, D_FED, D_GOING, D_AT_END, D_CUSHIONED, D_OUT, D_COUNT) = range(9)
D_INDEX = 9
(D_START, D_MID, D_FULL, D_SPEED, D_ENERGY, D_LOW) = range(19, 25)
DEVICE = 25

(J_BODY, J_SET, J_DROP, J_OPEN, J_LOW) = range(5)
J_WAY, JET = 5, 11

# The open air and the compressor: mass flow Q0 + Q1 p while it is on.
(A_P, A_RHO, A_RT, A_ON, A_Q0, A_Q1, A_RT_IN, AIR) = range(8)

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

# Rows of the work over the whole state.
W_X, W_NEW, W_F, W_END, W_1, W_2, W_3, W_4, W_TRY, WORK = range(10)
# States and rates as the kernel has them, of each device, at both ends of the step, and scratch.
AS_Z, AS_NEW, AS_K, AS_END, AS_TRY, AS_TRY_K, AS = range(7)
S_P, S_RT, STANDS = range(3)

# The clock of a call of `march.advance`.
(T_NOW, T_UNTIL, T_STEP, T_REFUSED, T_TOLERANCE, T_LONGEST, T_STEPS, T_MOST, T_CUT_IN, T_CUT_OUT,
 T_GRID, T_EVERY, T_FILLED, CLOCK) = range(14)  # fmt: skip


def counters_at(net: Net) -> int:
    """Where the counters begin in the state."""
    return 2 * len(net[0]) + STATE * len(net[1]) + len(net[3])


def jets_at(net: Net) -> int:
    """Where the jets' columns begin in the state."""
    return 2 * len(net[0]) + STATE * len(net[1])


def device_at(net: Net, i: int) -> int:
    """Where a device's columns begin in the state."""
    return 2 * len(net[0]) + STATE * i
