"""Where the example books are: in the installed package, or in the checkout beside `src`."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.book.write import save_bytes

EXAMPLES = ("lamp-room", "clockmakers-window")
"""Folders of the demo's own shows, in the order in which they are made."""
COPIED = (".yaml", ".csv")
"""What a book is made of; media are made anew."""


EXPLAINS = {
    "DEMO-02": "The example books are part of the package; where they are missing, it was not "
    "installed whole.",
    "DEMO-03": "The demo copies its books into the folder you name, which needs room there and "
    "the right to write.",
}


def example_folder(name: str) -> Path:
    """The folder of an example book.

    Raises Refusal DEMO-02 where it is in neither place.
    """
    package = Path(str(resources.files("thundersheet")))
    places = (package / "examples" / name, package.parents[1] / "examples" / name)
    for place in places:
        if (place / "book.yaml").is_file():
            return place
    says = f"The example book {name!r} is missing from this installation."
    raise Refusal.because("DEMO-02", says, "Install Thundersheet again.", Place(str(places[0])))


def example_folders() -> tuple[Path, ...]:
    """The folders of the demo's own shows."""
    return tuple(example_folder(name) for name in EXAMPLES)


def copy_example(example: Path, folder: Path) -> Path:
    """A copy of an example's folder in `folder`, written over an older copy; the book's path."""
    target = folder / example.name
    try:
        target.mkdir(parents=True, exist_ok=True)
        for path in sorted(example.iterdir()):
            if path.suffix in COPIED:
                save_bytes(target / path.name, path.read_bytes())
    except OSError as error:
        says = f"The example book cannot be copied here: {error.strerror or error}."
        allowed = "Choose a new folder with room, where this user may write."
        raise Refusal.because("DEMO-03", says, allowed, Place(str(target))) from error
    return target / "book.yaml"
