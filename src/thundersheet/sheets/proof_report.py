"""The report of a proof: the verdict in a sentence, figures, the error of each word, findings.

In: a proof. Out: one HTML page. Time runs down the plot as it does on every sheet; early is left,
late is right. It judges nothing: the verdict is the proof's.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence

from thundersheet.base.time import Time
from thundersheet.sheets.error_plot import plot_errors, round_up
from thundersheet.sheets.markup import Markup, join, say, tag
from thundersheet.sheets.page import Paper, page
from thundersheet.sheets.wording import at, list_findings, signed
from thundersheet.track.proof.records import Proof, ProvedWord

SHOWN = 400
"""So many rows of the words' table; a longer proof lists all that are not as planned first."""


def proof_report_html(proof: Proof, paper: Paper = None) -> str:
    """The whole report."""
    title = f"Proof: {proof.show}"
    head = tag("header", tag("h1", say(title)), tag("p", say(_of(proof)), class_="quiet"),
               class_="masthead")  # fmt: skip
    sections = [
        verdict(proof),
        figures(proof_figures(proof)),
        tag("h2", say("How late each word was heard")),
        tag("div", join(_plots(proof)), class_="plots"),
        tag("h2", say("Findings")),
        list_findings(proof.findings),
        tag("h2", say("Words")),
        _table(proof),
    ]
    stamp = f"{proof.show}, plan {proof.fingerprint}, proof of {proof.media}"
    return page(title, head, *sections, stamp=stamp, paper=paper)


def verdict(proof: Proof) -> Markup:
    """The verdict, with a tick or a cross, as every page shows it."""
    mark = "M6 21l9 9l19 -21" if proof.proved else "M9 9l22 22m0 -22l-22 22"
    sign = tag(
        "svg",
        tag("path", d=mark, fill="none", stroke="currentColor", stroke_width=5),
        viewBox="0 0 40 40",
        role="img",
        aria_label="proved" if proof.proved else "not proved",
    )
    says = tag("span", tag("b", say(proof.verdict.capitalize() + ". ")), say(proof.because))
    return tag("div", sign, says, class_=f"verdict {'good' if proof.proved else 'bad'}")


def proof_figures(proof: Proof) -> dict[str, str]:
    """The figures by name."""
    errors = [word.error_ms for word in proof.words if word.error_ms is not None]
    heard = sum(word.state == "heard" for word in proof.words)
    planned = sum(word.state != "extra" for word in proof.words)
    worst = max(errors, key=abs, default=None)
    return {
        "words heard": f"{heard} of {planned}",
        "missing, wrong, extra": ", ".join(
            str(_count(proof, state)) for state in ("missing", "wrong", "extra")
        ),
        "worst error": _unknown(worst, "ms"),
        "typical error (median)": _unknown(
            statistics.median(map(abs, errors)) if errors else None, "ms", plus=False
        ),
        "allowed": f"±{proof.allowed_ms:g} ms",
        "speed of the file": _unknown(proof.speed_ppm, "ppm"),
        "offset at 0:00": _unknown(proof.offset_ms, "ms"),
        "plan in the file": proof.heard_fingerprint or "not heard",
    }


def figures(of: dict[str, str]) -> Markup:
    """Figures side by side, each under its name."""
    return tag(
        "dl",
        join(tag("div", tag("dt", say(name)), tag("dd", say(value))) for name, value in of.items()),
        class_="figures",
    )


def _of(proof: Proof) -> str:
    return f"{proof.media} held against plan {proof.fingerprint}"


def _count(proof: Proof, state: str) -> int:
    return sum(word.state == state for word in proof.words)


def _unknown(value: float | None, unit: str, plus: bool = True) -> str:
    return (
        "not known" if value is None else f"{signed(value, 2) if plus else f'{value:.2g}'} {unit}"
    )


def _plots(proof: Proof) -> list[Markup]:
    """Against what is allowed; and enlarged, where all errors would hide behind the zero line."""
    errors = [abs(word.error_ms) for word in proof.words if word.error_ms is not None]
    worst = max(errors, default=0.0)
    plots = [
        _figure(proof, round_up(max(worst, proof.allowed_ms) * 1.1), "Against what is allowed")
    ]
    if 0 < worst < proof.allowed_ms / 8:
        plots.append(_figure(proof, round_up(worst * 1.1), "The same, enlarged"))
    return plots


def _figure(proof: Proof, reach_ms: float, says: str) -> Markup:
    plot = plot_errors(proof.words, proof.allowed_ms, reach_ms)
    return tag("figure", tag("figcaption", tag("b", say(says))), plot)


def _table(proof: Proof) -> Markup:
    shown = _worth_showing(proof.words)
    left_out = len(proof.words) - len(shown)
    heads = ("expected", "heard", "error, ms", "word", "planned, heard", "state")
    head = tag("thead", tag("tr", join(tag("th", say(text), scope="col") for text in heads)))
    table = tag("table", head, tag("tbody", join(map(_row, shown))), class_="words")
    note = f"{left_out} more words were heard as planned." if left_out else ""
    return tag("div", table, tag("p", say(note), class_="quiet"), class_="wide")


def _worth_showing(words: Sequence[ProvedWord]) -> Sequence[ProvedWord]:
    if len(words) <= SHOWN:
        return words
    bad = [word for word in words if word.state != "heard"][:SHOWN]
    return bad or words[:SHOWN]


def _row(word: ProvedWord) -> Markup:
    error = word.error_ms
    symbols = word.symbols if word.symbols == word.heard else f"{word.symbols}, {word.heard or '-'}"
    cues = tag("span", say(", ".join(word.cues)), class_="small") if word.cues else Markup("")
    return tag(
        "tr",
        tag("td", say(_instant(word.expected_s)), class_="at"),
        tag("td", say(_instant(word.heard_s)), class_="at"),
        tag("td", say("" if error is None else signed(error))),
        tag("td", say(word.id), cues),
        tag("td", tag("code", say(symbols))),
        tag("td", say(word.state)),
        class_=word.state,
        data_word=word.id,
    )


def _instant(seconds: float | None) -> str:
    return "" if seconds is None else at(Time.seconds(seconds), 4)
