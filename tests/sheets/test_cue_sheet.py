import csv
import io
from dataclasses import replace

import pytest
from sheet_samples import NOW, make_cue, make_cues, make_plan, read_html

from thundersheet.base.time import Span
from thundersheet.plan.schedule import Word
from thundersheet.sheets.cue_sheet import BOM, CSV_HEADINGS, cue_sheet_csv, cue_sheet_html


def rows_of(text: str, delimiter: str = ",") -> list[dict[str, str]]:
    assert text.startswith(BOM)
    return list(
        csv.DictReader(io.StringIO(text.removeprefix(BOM), newline=""), delimiter=delimiter)
    )


def test_every_cue_stands_once_on_the_sheet_in_the_order_in_which_they_leave(plan):
    found = read_html(cue_sheet_html(plan))
    assert found.cues == [cue.id for cue in plan.cues]


def test_each_row_says_when_the_cue_leaves_why_so_early_and_by_which_mark(plan):
    text = " ".join(read_html(cue_sheet_html(plan)).text)
    row = text[text.index("0:41.188") :][:160]
    assert row.startswith("0:41.188 0:41.500 ~312 valve 15 + hose 8 + filling 31 + moving 258")
    assert "hit −80..+40" in row
    assert "mark 41 +188 ms" in row


def test_findings_stand_below_gravest_first(plan):
    page = cue_sheet_html(plan)
    assert page.index("SAFE-02") < page.index("PLAN-03") < page.index("AIR-11")


def test_markup_in_the_book_is_words_on_the_page():
    evil = "</td><script>alert(1)</script>&amp;"
    plan = make_plan((make_cue(1.0, 'x"onload="y', "on", evil, "soft", NOW),))
    page = cue_sheet_html(replace(plan, show="</style><script>1</script>"))
    found = read_html(page)
    assert "<script" not in page
    assert evil in found.text


@pytest.mark.parametrize("delimiter", [",", ";"])
def test_csv_comes_back_whole_through_the_csv_module(plan, delimiter):
    rows = rows_of(cue_sheet_csv(plan, delimiter), delimiter)
    assert tuple(rows[0]) == CSV_HEADINGS
    assert [row["cue"] for row in rows] == [cue.id for cue in plan.cues]
    point = "," if delimiter == ";" else "."
    for row, cue in zip(rows, plan.cues, strict=True):
        assert float(row["leaves at s"].replace(point, ".")) == pytest.approx(cue.leaves_at.s)
        assert float(row["lead ms"].replace(point, ".")) == pytest.approx(cue.lead.total.in_ms)
        assert row["what"] == cue.target.what


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_words_that_a_spreadsheet_would_run_are_made_text(start):
    # The list is OWASP's, "CSV Injection" (Community pages, 2024).
    plan = make_plan((make_cue(1.0, "lamp", "on", f'{start}cmd|"/c calc"', "soft", NOW),))
    assert rows_of(cue_sheet_csv(plan))[0]["what"].startswith("'")


def test_a_cue_before_the_start_has_a_minus_that_no_spreadsheet_runs():
    rows = rows_of(cue_sheet_csv(make_plan(make_cues())))
    assert rows[0]["leaves at"] == "−0:00.002"
    assert float(rows[0]["leaves at s"]) == -0.002


def test_in_the_direct_layout_each_cue_names_its_tone():
    cues = (make_cue(1.0, "lamp", "on", "light", "soft", NOW),)
    plan = make_plan(cues, ())
    at = cues[0].at - Span.ms(48)
    tone = Word(id="cue 1", kind="cue", symbols="5", onset=at, tone_onsets=(at,),
                tone=Span.ms(50), cues=(cues[0].id,), switches_at=cues[0].at)  # fmt: skip
    direct = replace(plan, schedule=replace(plan.schedule, layout="direct", words=(tone,)))
    assert rows_of(cue_sheet_csv(direct))[0]["cue track"] == "tone 5"
