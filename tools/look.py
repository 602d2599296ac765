"""Renders HTML or SVG files as they look at a desk, on a phone and on paper, as PNG to be viewed.

    python tools/look.py OUT_FOLDER FILE [FILE ...] [--dark] [--widths 1440,390]

Needs chromium and pdftoppm (Debian: chromium, poppler-utils). For contributors; never shipped.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

QUIET = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
)
DARK = "--blink-settings=preferredColorScheme=0"
LEAST_WIDTH = 500
"""Headless chromium opens no narrower window: a phone's page is shown in a frame instead."""


def browse(*arguments: str) -> None:
    """Run chromium once with a profile of its own."""
    chromium = shutil.which("chromium")
    if chromium is None:
        sys.exit("look: chromium is not installed (Debian: apt-get install chromium)")
    with tempfile.TemporaryDirectory() as profile:
        command = [chromium, *QUIET, f"--user-data-dir={profile}", *arguments]
        subprocess.run(command, check=True, capture_output=True, timeout=120)


def on_screen(source: Path, target: Path, width: int, tall: int, dark: bool) -> None:
    """One screenshot of a window this wide and this tall."""
    address = source.resolve().as_uri()
    with tempfile.TemporaryDirectory() as folder:
        if width < LEAST_WIDTH:
            frame = Path(folder) / "frame.html"
            frame.write_text(
                f'<body style="margin:0;background:#888"><iframe src="{address}" '
                f'style="border:0;width:{width}px;height:{tall}px"></iframe>'
            )
            address = frame.as_uri()
        size = f"--window-size={max(width, LEAST_WIDTH)},{tall}"
        browse(f"--screenshot={target}", size, *([DARK] if dark else []), address)


def on_paper(source: Path, folder: Path) -> None:
    """A PDF, and each of its pages as PNG."""
    pdf = folder / f"{source.stem}.pdf"
    browse(f"--print-to-pdf={pdf}", "--no-pdf-header-footer", source.resolve().as_uri())
    command = ["pdftoppm", "-r", "80", "-png", str(pdf), str(folder / f"{source.stem}-page")]
    subprocess.run(command, check=True)


def main() -> None:
    """Render each file in each way."""
    parser = argparse.ArgumentParser(description=__doc__, usage="look.py OUT FILE...")
    parser.add_argument("out", type=Path)
    parser.add_argument("files", type=Path, nargs="+")
    parser.add_argument("--dark", action="store_true", help="with the lantern palette")
    parser.add_argument("--widths", default="1440,390")
    parser.add_argument("--tall", type=int, default=1600)
    parser.add_argument("--no-paper", action="store_true")
    wanted = parser.parse_args()
    wanted.out.mkdir(parents=True, exist_ok=True)
    for source in wanted.files:
        for width in map(int, wanted.widths.split(",")):
            target = wanted.out / f"{source.stem}-{width}{'-dark' if wanted.dark else ''}.png"
            on_screen(source, target, width, wanted.tall, wanted.dark)
        if not wanted.no_paper:
            on_paper(source, wanted.out)


if __name__ == "__main__":
    main()
