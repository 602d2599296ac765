"""How a verb starts and ends: its arguments, its refusals, an interruption, a broken pipe."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from types import ModuleType

from thundersheet.base.finding import Refusal

FINE, REFUSED, USAGE, INTERRUPTED = 0, 1, 2, 130


def run_verb(verb: str, words: Sequence[str]) -> int:
    """Run the verb's module and return its exit code; never a traceback for the user's input."""
    module = importlib.import_module(f"thundersheet.cli.{verb}")
    parser = parser_of(verb, module)
    try:
        args = parser.parse_args(words)
    except SystemExit as end:  # argparse has said what was wrong
        return USAGE if end.code else FINE
    try:
        code: int = module.run(args)
        sys.stdout.flush()
    except Refusal as refusal:
        _say_refusal(refusal, as_json=getattr(args, "json", False))
        return USAGE
    except KeyboardInterrupt:
        sys.stderr.write("\nInterrupted; nothing was left half-written.\n")
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read us has gone (`| head`): end quietly, and keep Python from complaining.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    return code


def parser_of(verb: str, module: ModuleType) -> argparse.ArgumentParser:
    """The verb's own parser, with its example at the end of its help."""
    parser = argparse.ArgumentParser(
        prog=f"thundersheet {verb}",
        description=module.ABOUT,
        epilog=f"example:\n{module.EXAMPLE}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    module.arguments(parser)
    return parser


def help_of(verb: str) -> str:
    """What `thundersheet VERB --help` prints, for the reference page."""
    return parser_of(verb, importlib.import_module(f"thundersheet.cli.{verb}")).format_help()


def _say_refusal(refusal: Refusal, *, as_json: bool) -> None:
    from thundersheet.cli.say import put_json, wrapped
    from thundersheet.sheets.documents import findings_json

    for finding in refusal.findings:
        sys.stderr.write(wrapped(str(finding)) + "\n")
    count = len(refusal.findings)
    if count > 1:
        sys.stderr.write(f"{count} things stand in the way.\n")
    if as_json:
        put_json({"findings": findings_json(refusal.findings)})
