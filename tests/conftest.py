"""What many rooms of the tests need: the example books and the tools from outside."""

from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
EXAMPLES = ROOT / "examples"


@pytest.fixture(scope="session")
def example_book() -> Path:
    """The Lamp Room's clean book."""
    return EXAMPLES / "lamp-room" / "book.yaml"
