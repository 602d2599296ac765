"""The demo: two shows of our own from book to proved media file, sound and picture included.

`run_demo` does all of it in a folder; `make_programme` makes only a demo show's sound and picture.
"""

from __future__ import annotations

from thundersheet.demo.programme import make_programme, make_sound
from thundersheet.demo.run import run_demo

__all__ = ["make_programme", "make_sound", "run_demo"]
