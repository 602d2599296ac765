"""The command line starts in no time, says what is wrong in a sentence, and ends with the code
that design section 4 fixes."""

import os
import subprocess
import sys

import pytest

from thundersheet.cli import VERBS, main

HEAVY = {"numpy", "av", "numba", "highspy", "yaml", "argparse", "rich"}


def modules_after(code: str) -> set[str]:
    """Names of the modules that are loaded after the code has run in a new interpreter."""
    script = (
        f"import sys, io\nsys.stdout = io.StringIO()\n{code}\nprint(*sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    return set(done.stderr.split())


def test_the_overview_imports_nothing_heavy():
    loaded = modules_after("from thundersheet.cli import main; main(['--help'])")
    assert not loaded & HEAVY


@pytest.mark.parametrize("verb", ["check", "plan"])
def test_reading_and_planning_a_demo_book_imports_no_numpy(verb, example_book):
    code = f"from thundersheet.cli import main; main([{verb!r}, {str(example_book)!r}])"
    loaded = modules_after(code)
    assert not loaded & {"numpy", "av", "numba", "highspy", "rich"}


def test_the_overview_names_every_verb(capsys):
    assert main(["--help"]) == 0
    overview = capsys.readouterr().out
    assert all(f"\n  {verb} " in overview for verb in VERBS)


def test_no_verb_at_all_is_a_usage_error(capsys):
    assert main([]) == 2
    assert "usage: thundersheet VERB" in capsys.readouterr().out


def test_an_unknown_verb_is_named_with_the_nearest(capsys):
    assert main(["chekc"]) == 2
    assert capsys.readouterr().err.startswith(
        "There is no verb `chekc`. Did you mean `check`? The verbs are: new, check, plan,"
    )


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_helps_with_an_example(verb, capsys):
    assert main([verb, "--help"]) == 0
    said = capsys.readouterr().out
    assert "example:" in said
    assert f"thundersheet {verb}" in said.split("example:")[1]


@pytest.mark.parametrize("verb", VERBS)
def test_an_unknown_option_is_a_usage_error_and_no_traceback(verb, capsys):
    assert main([verb, "--no-such-option"]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_numpy_is_kept_to_one_thread_unless_the_user_says_otherwise():
    code = "from thundersheet.cli import main; main(['calc']); import os; print("
    said = [
        subprocess.run(
            [sys.executable, "-c", f"{code}os.environ['OPENBLAS_NUM_THREADS'])"],
            capture_output=True, text=True, check=True,
            env={key: value for key, value in os.environ.items() if "OPENBLAS" not in key} | more,
        ).stdout.split()[-1]
        for more in ({}, {"OPENBLAS_NUM_THREADS": "3"})
    ]  # fmt: skip
    assert said == ["1", "3"]
