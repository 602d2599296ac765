"""The codes of findings, each with a paragraph that explains it.

A module that makes findings declares `EXPLAINS = {"AIR-07": "..."}` beside them; ``explained``
gathers all of them for the reference page. There is no central list.
"""

from __future__ import annotations

import importlib
import pkgutil
from types import ModuleType


def explained(package: ModuleType) -> dict[str, str]:
    """Every code that a module of the package explains, in order; two of a kind are an error."""
    found: dict[str, str] = {}
    for module in _modules(package):
        for code, text in getattr(module, "EXPLAINS", {}).items():
            if code in found:
                raise ValueError(f"{code} is explained twice, the second time in {module.__name__}")
            found[code] = text
    return dict(sorted(found.items()))


def _modules(package: ModuleType) -> list[ModuleType]:
    """The package's modules, imported; a program's entry (`__main__`) is left alone."""
    names = [
        each.name
        for each in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
        if not each.name.endswith(".__main__")
    ]
    return [importlib.import_module(name) for name in names]
