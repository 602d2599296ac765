"""The kinds of arrays that the receiver's steps hand to each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
"""Sound, and whatever is as long as sound."""
Waves = NDArray[np.complex64]
"""Amplitudes with phases."""
Doubles = NDArray[np.float64]
"""One entry a tone."""
Whole = NDArray[np.int64]
Small = NDArray[np.int8]
"""Numbers of symbols, one entry a look."""
Mask = NDArray[np.bool_]
Samples = NDArray[np.int16] | NDArray[np.int32] | NDArray[np.float32] | NDArray[np.float64]
"""Sound as it comes in: whole numbers or floats of full scale 1."""
