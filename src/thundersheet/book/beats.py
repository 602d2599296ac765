"""What a beat's `do` says, understood: `shutter open`, `lamp to 60 % over 2 s`, `gust for 120 ms`.

The longest device name that fits comes first, then one of the builder's own words or the kind's
action, then `to`, `over` and `for`. Nothing is guessed: what does not fit is a ``MoveError``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from thundersheet.base.read_time import read_span
from thundersheet.base.time import Span
from thundersheet.base.units import UnitError, read_quantity
from thundersheet.book.reading import Known, hint
from thundersheet.model.device import Action, Device, Move

EXPLAINS = {
    "BOOK-40": "A beat, rule, variant or measurement begins with a name that no device has.",
    "BOOK-50": "The device is there, but it cannot be told to do this. Its kind has the actions "
    "that the message lists, and the book may give them your own words under `words`.",
    "BOOK-51": "The action is there, but what follows it is not understood: an action may be "
    "followed by `to` and where to, `over` and how long the change takes, `for` and how long the "
    "output stays on, as far as the action takes them.",
    "BOOK-53": "`words` gives a word for an action that this kind of device does not have, "
    "or takes the name of one of its actions for another.",
}

_CLAUSE = re.compile(r"(?:^|\s+)(to|over|for)\s+(.+?)(?=\s+(?:to|over|for)\s|$)")


class MoveError(UnitError):
    """A text that tells no device of the book to do anything it can."""

    def __init__(self, code: str, says: str, allowed: str = "") -> None:
        self.code = code
        super().__init__(says, allowed)


def move_of(text: str, devices: Mapping[str, Known]) -> Move | None:
    """What one text tells one device to do; None where the device's kind is unknown."""
    plain = " ".join(text.split())
    name = _longest(plain, devices)
    if name is None:
        first = plain.split(" ")[0] if plain else ""
        says = f"`{text}` begins with no device of this book."
        raise MoveError("BOOK-40", says, hint(first, devices) or "Write it under `devices`.")
    known = devices[name]
    if known.kind is None:
        return None
    action, tail = _action(name, plain[len(name) :].strip(), known.kind, known.words)
    return _with_clauses(Move(device=name, action=action.name), action, tail, text)


def _longest(text: str, names: Iterable[str]) -> str | None:
    """The longest of the names with which the text begins, as whole words."""
    fits = (name for name in names if text == name or text.startswith(f"{name} "))
    return max(fits, key=len, default=None)


def _action(
    name: str, rest: str, kind: type[Device], words: Mapping[str, str]
) -> tuple[Action, str]:
    """The action that the words after the device's name begin with, and what follows it."""
    actions = {action.name: action for action in kind.ACTIONS}
    known = actions | {word: actions[own] for word, own in words.items() if own in actions}
    said = _longest(rest, known)
    if said is not None and not _is_clause(said, rest):
        return known[said], rest[len(said) :].strip()
    if (usual := _usual(kind, rest)) is not None:
        return usual, rest
    says = (
        f"`{rest}` is nothing that `{name}` ({kind.KIND}) can do."
        if rest
        else f"`{name}` ({kind.KIND}) is not told what to do."
    )
    raise MoveError("BOOK-50", says, hint(rest, known))


def _is_clause(said: str, rest: str) -> bool:
    """Whether a builder's word that is also one of ours (`to`) opens a clause: `to 60 %`."""
    return said in ("to", "over", "for") and rest[len(said) :].strip()[:1].isdigit()


def _usual(kind: type[Device], rest: str) -> Action | None:
    """The action meant when none is named: the first that goes `to` somewhere, or the only one."""
    if rest.startswith("to "):
        return next((action for action in kind.ACTIONS if "to" in action.takes), None)
    only = len(kind.ACTIONS) == 1 and (not rest or rest.startswith(("over ", "for ")))
    return kind.ACTIONS[0] if only else None


def _with_clauses(move: Move, action: Action, tail: str, text: str) -> Move:
    clauses: dict[str, str] = {}
    end = 0
    for match in _CLAUSE.finditer(tail):
        if match.start() != end or match[1] in clauses:
            break
        clauses[match[1]], end = match[2], match.end()
    if tail[end:].strip():
        says = f"`{text}`: `{tail[end:].strip()}` is not understood."
        raise MoveError("BOOK-51", says, _takes(action))
    for word in clauses:
        if word not in action.takes:
            says = f"`{text}`: `{action.name}` takes no `{word}`."
            raise MoveError("BOOK-51", says, _takes(action))
    try:
        return Move(
            device=move.device,
            action=move.action,
            to=_where(clauses.get("to"), action),
            over=_length(clauses.get("over")),
            hold=_length(clauses.get("for")),
        )
    except UnitError as error:
        raise MoveError("BOOK-51", f"`{text}`: {error.says}", error.allowed) from None


def _takes(action: Action) -> str:
    if not action.takes:
        return f"`{action.name}` stands alone."
    shown = {"to": f"`to` {_A_WHERE.get(action.to, 'a place')}", "over": "`over 2 s`"}
    shown["for"] = "`for 70 ms`"
    return f"`{action.name}` takes {', '.join(shown[word] for word in sorted(action.takes))}."


_A_WHERE = {"share": "a share (`to 60 %`)", "angle": "an angle (`to 30 deg`)", "number": "a number"}


def _where(written: str | None, action: Action) -> float | None:
    if written is None:
        return None
    if action.to == "number":
        if re.fullmatch(r"[+-]?(?:\d{1,12}(?:\.\d{0,12})?|\.\d{1,12})", written) is None:
            raise UnitError(f"`{written}` is no plain number.", "Write `to 27.5`.")
        return float(written)
    value = read_quantity(written, action.to)
    if action.to == "share" and not 0 <= value <= 1:
        raise UnitError(f"`{written}` is no share.", "Write 0 % to 100 %, or 0 to 1.")
    return value


def _length(written: str | None) -> Span | None:
    if written is None:
        return None
    span = read_span(written)
    if span.ns < 0:
        raise UnitError(f"`{written}` is negative.", "Write a length of time such as `2 s`.")
    return span
