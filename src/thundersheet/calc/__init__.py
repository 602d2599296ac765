"""The quick sums of the bench, one file a sum, each the very function that the plan uses.

In come keys and values as a builder writes them, out come named results with formula, source and
cautions. A sum is found by its file's name; there is no list to edit.
"""

from __future__ import annotations

import importlib
import pkgutil

from thundersheet.calc._sum import Result, Sum

__all__ = ["SUMS", "Result", "Sum", "sum_named"]

SUMS: tuple[str, ...] = tuple(
    sorted(each.name for each in pkgutil.iter_modules(__path__) if not each.name.startswith("_"))
)
"""The names that `thundersheet calc` takes."""


def sum_named(name: str) -> Sum:
    """The sum of this name (KeyError when there is none)."""
    if name not in SUMS:
        raise KeyError(name)
    found: Sum = importlib.import_module(f"{__name__}.{name}").SUM
    return found
