"""All pages: one look, nothing from outside, readable by everyone, and right on paper."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from sheet_samples import FAN, make_cue, make_plan, read_html

from thundersheet.base.finding import Finding, Refusal
from thundersheet.sheets.cue_sheet import cue_sheet_html
from thundersheet.sheets.one_page import one_page_html
from thundersheet.sheets.picture_page import picture_html, picture_svg
from thundersheet.sheets.proof_report import proof_report_html
from thundersheet.sheets.render import style, write_files

NEXT = ("thundersheet new my-prop", "thundersheet plan demo/lamp-room")


@pytest.fixture(scope="module")
def pages(plan, programme, proof) -> dict[str, str]:
    return {
        "cue-sheet": cue_sheet_html(plan),
        "picture": picture_html(plan, programme),
        "proof": proof_report_html(proof),
        "report": one_page_html(plan, programme, proof, try_next=NEXT),
    }


def test_every_page_is_well_formed(pages):
    for page in pages.values():
        assert page.startswith("<!DOCTYPE html>")
        read_html(page)


def test_no_page_asks_anyone_for_anything(pages, plan):
    names_a_place = re.compile(r"""(?:src|href)\s*=\s*["'](?!data:)|@import|url\((?!#)""")
    for page in [*pages.values(), picture_svg(plan)]:
        assert not names_a_place.search(page)
        assert "<script" not in page
        links = re.sub(r'xmlns="http://www\.w3\.org/2000/svg"', "", page)
        assert "http:" not in links
        assert "https:" not in links


def luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    full = colour if len(colour) == 7 else "#" + "".join(c * 2 for c in colour[1:])
    channels = [int(full[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def palettes() -> list[dict[str, str]]:
    roots = re.findall(r":root \{([^}]*)\}", style())
    found = [dict(re.findall(r"--([\w-]+): (#[0-9a-f]+)", root)) for root in roots]
    return [found[0], found[1], found[0] | found[2]]


@pytest.mark.parametrize("which", [0, 1, 2], ids=["light", "lantern", "print"])
def test_all_text_has_aa_contrast(which):
    # WCAG 2.2, criterion 1.4.3: 4.5 to 1; 1.4.11: 3 to 1 for what is drawn.
    colours = palettes()[which]
    for text in ("ink", "soft", "tone", "refuse", "warn", "note", "good", "wedge-line"):
        for ground in ("paper", "stripe", "fold"):
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
    assert contrast(colours["wedge-line"], colours["wedge"]) >= 3


def test_the_proof_says_its_verdict_before_anything_else(proof):
    text = [t.strip() for t in read_html(proof_report_html(proof)).text if t.strip()]
    after = text.index("Proof: The Lamp Room", 1)
    assert text[after + 2 : after + 4] == ["Words missing.", proof.because]


def test_every_word_of_a_proof_stands_in_the_plot_and_in_the_table(proof):
    page = proof_report_html(proof)
    for word in proof.words:
        assert page.count(f'data-word="{word.id}"') == 2


def test_missing_extra_and_wrong_words_have_shapes_of_their_own(proof):
    page = proof_report_html(proof)
    plot = page[page.index('class="plot"') : page.index("</svg>", page.index('class="plot"'))]
    marks = dict(re.findall(r'<g data-word="([^"]+)"><title>[^<]*</title><(\w+)', plot))
    drawn = re.findall(r'<g data-word="mark (?:30|44)">.*?d="([^"]+)"', plot)
    assert marks["mark 1"] == "circle"
    assert marks["mark 17"] == "rect"
    assert drawn[0] != drawn[1]


needs_paper = pytest.mark.skipif(
    not all(map(shutil.which, ("chromium", "pdfinfo", "pdftotext"))),
    reason="needs chromium and poppler-utils (Debian packages)",
)


def printed(page: str, folder: Path) -> list[str]:
    """The text of each page as chromium prints it."""
    source, pdf = folder / "page.html", folder / "page.pdf"
    source.write_text(page, encoding="utf-8")
    subprocess.run(
        ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
         "--no-first-run", "--disable-background-networking", "--disable-component-update",
         "--disable-sync", f"--user-data-dir={folder / 'profile'}", "--no-pdf-header-footer",
         f"--print-to-pdf={pdf}", source.as_uri()],
        check=True, capture_output=True,
    )  # fmt: skip
    info = subprocess.run(["pdfinfo", pdf], check=True, capture_output=True, text=True).stdout
    count = int(re.search(r"Pages:\s+(\d+)", info)[1])
    text = subprocess.run(["pdftotext", "-layout", pdf, "-"], check=True, capture_output=True)
    sheets = text.stdout.decode("utf-8").split("\f")[:-1]
    assert len(sheets) == count
    return sheets


@needs_paper
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_report_prints_on_one_sheet(plan, programme, proof, paper, tmp_path):
    assert (
        len(printed(one_page_html(plan, programme, proof, try_next=NEXT, paper=paper), tmp_path))
        == 1
    )


@needs_paper
def test_the_report_of_a_crowded_show_prints_on_one_sheet_too(programme, proof, tmp_path):
    cues = tuple(
        make_cue(1 + i * 0.35, f"device-number-{i % 24}", "on", f"what happens {i}", "soft", FAN)
        for i in range(230)
    )
    says = "a finding that goes on and on " * 12
    findings = tuple(Finding(code=f"LONG-{i}", grade="warn", says=says) for i in range(30))
    page = one_page_html(make_plan(cues, findings), programme, proof, NEXT, paper="Letter")
    assert len(printed(page, tmp_path)) == 1


@needs_paper
def test_each_sheet_of_a_long_cue_sheet_has_heading_fingerprint_and_number(tmp_path):
    cues = tuple(make_cue(i + 0.5, "fan", "on", f"draught {i}", "loose", FAN) for i in range(80))
    sheets = printed(cue_sheet_html(make_plan(cues), "Letter"), tmp_path)
    assert len(sheets) > 3
    listed = [sheet for sheet in sheets if "draught" in sheet]
    for number, sheet in enumerate(listed, 1):
        assert "leaves at" in sheet
        assert "plan 1f2e3d4c" in sheet
        assert f"page {number} of {len(sheets)}" in sheet
    # No row is split: what begins on a sheet (its draught) ends there (its window's band).
    assert all(sheet.count("draught ") == sheet.count("(−12..+15)") for sheet in listed)


def test_files_are_written_whole_and_nothing_else_is_left(tmp_path):
    folder = tmp_path / "made" / "here"
    paths = write_files(folder, {"a.html": "one", "b.csv": "é"})
    assert [path.read_text("utf-8") for path in paths] == ["one", "é"]
    write_files(folder, {"a.html": "two"})
    assert sorted(p.name for p in folder.iterdir()) == ["a.html", "b.csv"]
    assert (folder / "a.html").read_text() == "two"


def test_a_file_where_the_folder_should_be_is_refused_in_words(tmp_path):
    (tmp_path / "taken").write_text("x")
    with pytest.raises(Refusal, match=r"SHEET-01") as refused:
        write_files(tmp_path / "taken", {"a.html": "one"})
    assert "choose another folder" in str(refused.value)
    assert (tmp_path / "taken").read_text() == "x"
