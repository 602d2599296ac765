"""The command line: which verbs there are, and how each of them ends.

A verb is one file in this package with ``ABOUT``, ``EXAMPLE``, ``arguments(parser)`` and
``run(args) -> int``; it is imported only when it is called, so that `--help` costs nothing.
Here is the one place where a Refusal becomes a sentence and an exit code:
0 fine, 1 findings that refuse, 2 input or usage, 130 interrupted.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

VERBS = {
    "new": "write a first book to start from",
    "check": "read a book and say everything that is wrong, unsafe or too tight",
    "plan": "work out when each command must leave so that it lands on its beat",
    "track": "write the plan as tones into the programme's sound",
    "prove": "hold a finished media file against the book",
    "listen": "list the tones in any media file",
    "recut": "move the beats after the programme was cut again; markers in and out",
    "rehearse": "play the show, or a whole evening, against physics finer than the plan's",
    "explain": "say more about the code at the end of a finding",
    "calc": "the quick sums of the bench: cylinder, stroke, air, hose, tones",
    "demo": "make two whole shows of our own, from book to proved media file",
}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one verb and return its exit code."""
    words = list(sys.argv[1:] if argv is None else argv)
    if not words or words[0] in ("-h", "--help", "help"):
        sys.stdout.write(_overview())
        return 0 if words else 2
    if words[0] == "--version":
        from thundersheet import __version__

        sys.stdout.write(f"thundersheet {__version__}\n")
        return 0
    verb = words[0]
    if verb not in VERBS:
        sys.stderr.write(_unknown(verb))
        return 2
    from thundersheet.cli.ends import run_verb, seldom_look_for_cycles

    if argv is None:  # a process of our own, not a caller's
        seldom_look_for_cycles()
    return run_verb(verb, words[1:])


def _overview() -> str:
    lines = [
        "Thundersheet: from one text file, the book, to a prop that lands on its beats.",
        "",
        "usage: thundersheet VERB [...]",
        "`thundersheet VERB --help` says more, with an example.",
        "",
        *(f"  {verb:<9}{about}" for verb, about in VERBS.items()),
        "",
        "Start with `thundersheet demo` or `thundersheet new my-prop`.",
        "Exit codes: 0 fine, 1 findings that refuse, 2 input or usage, 130 interrupted.",
        "Every figure is a planning aid, not a certificate.",
        "Software is never the emergency stop.",
    ]
    return "\n".join(lines) + "\n"


def _unknown(verb: str) -> str:
    import difflib

    near = difflib.get_close_matches(verb, VERBS, n=1)
    hint = f" Did you mean `{near[0]}`?" if near else ""
    return f"There is no verb `{verb}`.{hint} The verbs are: {', '.join(VERBS)}.\n"
