"""Kinds of devices: one file a kind, found by its name; there is no list to edit.

`air cylinder` is in ``air_cylinder.py``. Files whose names begin with an underscore hold what
several kinds share. Only the kind that is asked for is imported.
"""

from __future__ import annotations

import functools
import importlib
import pkgutil
import re

from thundersheet.model.device import Device

_NAME = re.compile(r"[a-z][a-z0-9]*( [a-z0-9]+)*")


def kind_named(text: str) -> type[Device]:
    """The class of the kind called ``text``; KeyError when there is no such file."""
    if not _NAME.fullmatch(text):
        raise KeyError(text)
    path = f"{__name__}.{text.replace(' ', '_')}"
    try:
        module = importlib.import_module(path)
    except ModuleNotFoundError as error:
        if error.name != path:
            raise
        raise KeyError(text) from None
    for each in vars(module).values():
        if isinstance(each, type) and each.__module__ == path and "KIND" in vars(each):
            found: type[Device] = each
            if text == found.KIND:
                return found
    raise TypeError(f"{path} has no class with KIND = {text!r}")


def kind_names() -> tuple[str, ...]:
    """What may stand behind `kind:`, in alphabetical order; imports nothing."""
    return _names(tuple(__path__))


@functools.cache
def _names(folders: tuple[str, ...]) -> tuple[str, ...]:
    names = (module.name for module in pkgutil.iter_modules(folders))
    return tuple(sorted(name.replace("_", " ") for name in names if not name.startswith("_")))


def all_kinds() -> tuple[type[Device], ...]:
    """Every kind, imported, in the order of their names."""
    return tuple(kind_named(name) for name in kind_names())
