"""What many rooms of the tests need: the example books and the tools from outside."""

import os
from pathlib import Path

import pytest

# As the command line does: numpy's BLAS with a thread a core mostly waits for itself.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

ROOT = Path(__file__).resolve().parent.parent
EXAMPLES = ROOT / "examples"


@pytest.fixture(scope="session")
def example_book() -> Path:
    """The Lamp Room's clean book."""
    return EXAMPLES / "lamp-room" / "book.yaml"
