"""How a verb starts and ends: its arguments, its refusals, an interruption, a broken pipe."""

from __future__ import annotations

import argparse
import atexit
import gc
import importlib
import os
import shutil
import sys
import textwrap
from collections.abc import Sequence
from types import ModuleType

from thundersheet.base.finding import Refusal
from thundersheet.cli.asked import signed

FINE, REFUSED, USAGE, INTERRUPTED = 0, 1, 2, 130


def run_verb(verb: str, words: Sequence[str]) -> int:
    """Run the verb's module and return its exit code; never a traceback for the user's input."""
    args = argparse.Namespace()
    _let_blas_be_one()
    try:
        module = importlib.import_module(f"thundersheet.cli.{verb}")
        parser_of(verb, module, _width()).parse_args([signed(word) for word in words], args)
        code: int = module.run(args)
        sys.stdout.flush()
    except SystemExit as end:  # argparse has said what was wrong
        return USAGE if end.code else FINE
    except Refusal as refusal:
        _say_refusal(refusal, as_json=getattr(args, "json", False))
        return USAGE
    except KeyboardInterrupt:
        sys.stderr.write("\nInterrupted; nothing was left half-written.\n")
        return INTERRUPTED
    except MemoryError:
        sys.stderr.write("There is not enough memory for this. Is the show's `length` right?\n")
        return USAGE
    except BrokenPipeError:  # whoever read us has gone (`| head`): end quietly
        return _mute(FINE)
    except OSError as error:
        what = error.filename or "its output"
        sys.stderr.write(f"`{verb}` cannot go on with {what}: {error.strerror or error}.\n")
        return _mute(USAGE)
    return code


def seldom_look_for_cycles() -> None:
    """Spare a process that lives for one verb most of Python's search for reference cycles.

    While modules load there are none, and at the end the system takes everything back faster:
    together a fifth of the time that `import numpy` takes.
    """
    gc.set_threshold(50_000, 20, 20)
    atexit.register(gc.freeze)


def _mute(code: int) -> int:
    """The exit code, with Python kept from complaining about output that nothing takes."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return code


def _let_blas_be_one() -> None:
    """One thread for numpy's matrix products, unless the user has set it; before numpy loads.

    Ours are many and small: with a thread on each core they mostly wait for each other. Measured
    on two cores: hearing a file with ten tones a second took 3 to 10 times as long.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def parser_of(verb: str, module: ModuleType, width: int) -> argparse.ArgumentParser:
    """The verb's own parser, with its example at the end of its help."""
    about = (textwrap.fill(part, width) for part in module.ABOUT.split("\n\n"))
    parser = argparse.ArgumentParser(
        prog=f"thundersheet {verb}",
        description="\n\n".join(about),
        epilog=f"example:\n{module.EXAMPLE}",
        formatter_class=lambda prog: argparse.RawDescriptionHelpFormatter(prog, width=width),
    )
    module.arguments(parser)
    return parser


def help_of(verb: str) -> str:
    """What `thundersheet VERB --help` prints, for the reference page."""
    module = importlib.import_module(f"thundersheet.cli.{verb}")
    return parser_of(verb, module, 80).format_help()


def _width() -> int:
    """Columns to fill: the terminal's, at most 100."""
    return min(100, shutil.get_terminal_size().columns)


def _say_refusal(refusal: Refusal, *, as_json: bool) -> None:
    from thundersheet.base.finding import finding_json
    from thundersheet.cli.say import put_json, wrapped

    for finding in refusal.findings:
        sys.stderr.write(wrapped(str(finding)) + "\n")
    count = len(refusal.findings)
    if count > 1:
        sys.stderr.write(f"{count} things stand in the way.\n")
    if as_json:
        put_json({"findings": [finding_json(finding) for finding in refusal.findings]})
