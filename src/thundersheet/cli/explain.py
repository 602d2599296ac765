"""`explain`: say more about the code at the end of a finding."""

from __future__ import annotations

import argparse
import difflib

from thundersheet.base.finding import Refusal
from thundersheet.cli.say import out, wrapped

ABOUT = """\
Say more about a finding: give the code at its end. The same paragraphs stand in
docs/reference/findings.md."""
EXAMPLE = """\
  thundersheet explain AIR-07"""

EXPLAINS = {
    "EXPLAIN-01": "There is no finding of this code. Codes are a word and a number, as in "
    "`AIR-07`; they stand in brackets at the end of each finding.",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """The code."""
    parser.add_argument("code", help="the code of a finding, with or without its brackets")


def run(args: argparse.Namespace) -> int:
    """Print the paragraph of a code."""
    import thundersheet
    from thundersheet.base.codes import explained

    code = args.code.strip("[]").upper()
    found = explained(thundersheet)
    if code not in found:
        near = difflib.get_close_matches(code, found, n=3)
        hint = f"Did you mean {' or '.join(near)}?" if near else "Write it as in `AIR-07`."
        raise Refusal.because("EXPLAIN-01", f"There is no finding `{args.code}`.", hint)
    out(wrapped(f"{code}: {found[code]}"))
    return 0
