"""The coupled solver's own text compiled by numba, as `physics.bulk` does with strokes.

The first use on an installation compiles for some seconds and says so; the machine code is then
kept beside the package or in the user's cache folder, where one can be written.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from types import FunctionType
from typing import Any

from thundersheet.physics import events, kernel
from thundersheet.physics.bulk import quiet
from thundersheet.physics.plant.coupled import advance, columns, flows, happen, linear, stride

MODULES = (kernel, events, columns, flows, linear, stride, happen, advance)
INLINE = ("side_rates", "flow")
ENTRY = "advance"

Advance = Callable[..., int]


def compiled_advance(say: Callable[[str], None] = quiet) -> Advance:
    """`advance.advance` on arrays; ``say`` is told beforehand when this use has to compile."""
    fresh = not _compiled.cache_info().currsize
    loop: Any = _compiled()
    if fresh and not _stored(loop):
        say("Compiling the air plant for this machine: some seconds, the first time only.")
    entry: Advance = loop
    return entry


@lru_cache(maxsize=1)
def _compiled() -> Any:
    """The functions handed to numba, each with the others as its globals; no fastmath."""
    names: dict[str, Any] = {"__name__": advance.__name__}
    for module in MODULES:
        names |= {name: it for name, it in vars(module).items() if not name.startswith("__")}
    functions = {name: it for name, it in names.items() if isinstance(it, FunctionType)}
    for name, function in functions.items():
        twin = FunctionType(function.__code__, names, name)
        twin.__qualname__ = f"{name}_{_fingerprint()}" if name == ENTRY else name
        names[name] = _jit(twin, name)
    return names[ENTRY]


def _jit(function: FunctionType, name: str) -> Any:
    """The function as numba has it; only the outermost is called from Python or kept on the disk.

    Wrappers for callers that there are not would take a quarter of the time.
    """
    import numba

    njit: Any = numba.njit
    inner = name != ENTRY
    options = {
        "error_model": "numpy",
        "nogil": True,
        "_nrt": False,
        "forceinline": name in INLINE,
        "no_cfunc_wrapper": True,
        "no_cpython_wrapper": inner,
    }
    try:
        return njit(cache=not inner, **options)(function)
    except RuntimeError:
        # No folder that machine code could be kept in: compile anew in every process.
        return njit(**options)(function)


@lru_cache(maxsize=1)
def _fingerprint() -> str:
    """Of all the text: numba looks at one file only and would run yesterday's equations."""
    texts = (inspect.getsource(module) for module in (*MODULES, sys.modules[__name__]))
    return sha256("".join(texts).encode()).hexdigest()[:12]


def _stored(loop: Any) -> bool:
    """Whether numba will find the machine code on the disk."""
    folder = loop.stats.cache_path
    return bool(folder) and any(Path(folder).glob(f"*{_fingerprint()}*.nbi"))
