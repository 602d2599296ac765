"""A scatter as text for the terminal and as the document that `--json` prints.

In: `records.Scatter`. Out: a text, or dicts, lists, text and numbers only, and their schema.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan
from typing import Any

from thundersheet.base.finding import finding_json
from thundersheet.cli.say import table, wrapped
from thundersheet.rehearse.records import Checked, Doubt, Drawn, Scatter, Spread

SHOWN_DRIVERS = 4
WORTH = 0.01
"""Drivers below a hundredth of the variance are not named in the text."""
DRAWN: dict[Drawn, str] = {
    "fixed": "unknown, but the same in every show until it is measured or tuned",
    "night": "one for all of a show",
    "show": "another at every cue",
}


def scatter_text(found: Scatter) -> str:
    """A line a beat, what drives it below, then what was drawn."""
    head = ("cue", "mean", "sd", "1 %", "99 %", "inside", "tuned sd", "tuned", "may", "by")
    rows = table(head, (_row(each) for each in found.spreads), right=(1, 2, 3, 4, 5, 6, 7, 8))
    first, *lines = rows.split("\n")
    parts = [first]
    for line, spread in zip(lines, found.spreads, strict=True):
        parts.append(line)
        if spread.drivers:
            parts.append("    driven by " + _drivers(spread))
    return "\n".join(
        (
            *parts,
            "",
            *_drawn(found.doubts),
            *(wrapped(_checked(each)) for each in found.checks),
            "",
            wrapped(_in_short(found)),
        )
    )


def _checked(checked: Checked) -> str:
    return (
        f"Played again by the {checked.solver} plant: {checked.shows} of the shows, "
        f"{checked.landings} landings, on average {checked.mean_ms:+.1f} ms apart, root mean "
        f"square {checked.rms_ms:.2f}, worst {checked.worst_ms:+.1f} ({checked.worst_cue}); at "
        f"most {100 * checked.of_scatter:.1f} % of a landing's own scatter."
    )


def _row(spread: Spread) -> tuple[str, ...]:
    low, high = (spread.quantiles[0][1], spread.quantiles[-1][1]) if spread.quantiles else (0, 0)
    window = spread.window
    return (
        spread.cue,
        _ms(spread.mean_ms, "+.1f"),
        _ms(spread.sd_ms, ".1f"),
        _ms(low, "+.0f"),
        _ms(high, "+.0f"),
        _share(spread.inside),
        _ms(spread.tuned_sd_ms, ".1f"),
        _share(spread.tuned_inside),
        f"{window.early.in_ms:+.0f}..{window.late.in_ms:+.0f}",
        spread.by + (f", never {spread.missing} x" if spread.missing else ""),
    )


def _ms(value: float | None, form: str) -> str:
    return "-" if value is None or isnan(value) else format(value + 0.0, form)


def _share(value: float | None) -> str:
    """Never rounded up to all."""
    if value is None:
        return "-"
    return "100 %" if value == 1.0 else f"{min(100.0 * value, 99.9):.1f} %"


def _drivers(spread: Spread) -> str:
    named = [each for each in spread.drivers if each[2] >= WORTH][:SHOWN_DRIVERS]
    return ", ".join(
        f"{name} {100 * total:.0f} %" + (f" (±{100 * half:.0f})" if half else "")
        for name, _, total, half in named
    )


def _drawn(doubts: tuple[Doubt, ...]) -> Iterator[str]:
    for drawn, words in DRAWN.items():
        names: dict[tuple[str, str], list[float]] = {}
        for doubt in doubts:
            if doubt.drawn == drawn:
                law = " evenly" if doubt.law == "uniform" else ""
                names.setdefault((doubt.name, doubt.unit + law), []).append(doubt.sd)
        if names:
            listed = ", ".join(f"{n} {_amounts(u, sds)}" for (n, u), sds in names.items())
            yield wrapped(f"Drawn, {words}: {listed}.")


def _amounts(unit: str, sds: list[float]) -> str:
    plain, _, evenly = unit.partition(" ")
    factor, shown = {"share": (100.0, "%"), "s": (1000.0, "ms"), "K": (1.0, "K")}[plain]
    low, high = factor * min(sds), factor * max(sds)
    range_ = f"{low:.2g}" if f"{low:.2g}" == f"{high:.2g}" else f"{low:.2g}-{high:.2g}"
    return f"±{range_} {shown}" + (" evenly" if evenly else "")


def _in_short(found: Scatter) -> str:
    whole = any(each.by == "event-driven" for each in found.spreads)
    how = "each show whole and event-driven" if whole else "stroke by stroke"
    return (
        f"{found.show}: {found.shows:,} shows drawn by lot (seed {found.seed}) in "
        f"{found.seconds:.1f} s on {found.ran_on}, {how}. In {_share(found.all_inside)} "
        f"of them every landing is inside its window; in {_share(found.tuned_all_inside)} once "
        f"what is unknown but fixed has been tuned. Milliseconds, late is positive; ± is one "
        f"standard deviation."
    )


def scatter_json(found: Scatter) -> dict[str, Any]:
    """The document that `rehearse --scatter --json` prints."""
    return {
        "show": found.show,
        "shows": found.shows,
        "seed": found.seed,
        "solver": found.solver,
        "ran_on": found.ran_on,
        "seconds": round(found.seconds, 3),
        "all_inside": found.all_inside,
        "tuned_all_inside": found.tuned_all_inside,
        "checks": [_check(each) for each in found.checks],
        "beats": [_beat(each) for each in found.spreads],
        "doubts": [_doubt(each) for each in found.doubts],
        "findings": [finding_json(finding) for finding in found.findings],
    }


def _check(checked: Checked) -> dict[str, Any]:
    return {
        "solver": checked.solver,
        "shows": checked.shows,
        "landings": checked.landings,
        "mean_ms": checked.mean_ms,
        "rms_ms": checked.rms_ms,
        "worst_ms": checked.worst_ms,
        "worst_cue": checked.worst_cue,
        "of_scatter": checked.of_scatter,
    }


def _beat(spread: Spread) -> dict[str, Any]:
    return {
        "cue": spread.cue,
        "by": spread.by,
        "window_ms": [spread.window.early.in_ms, spread.window.late.in_ms],
        "shows": spread.shows,
        "missing": spread.missing,
        "inside": spread.inside,
        "mean_ms": _number(spread.mean_ms),
        "sd_ms": spread.sd_ms,
        "quantiles": [{"share": share, "ms": _number(ms)} for share, ms in spread.quantiles],
        "tuned_inside": spread.tuned_inside,
        "tuned_sd_ms": spread.tuned_sd_ms,
        "drivers": [
            {"name": name, "first": first, "total": total, "half_width": half}
            for name, first, total, half in spread.drivers
        ],
    }


def _number(value: float) -> float | None:
    return None if isnan(value) else value


def _doubt(doubt: Doubt) -> dict[str, Any]:
    return {
        "name": doubt.name,
        "of": doubt.of,
        "sd": doubt.sd,
        "unit": doubt.unit,
        "law": doubt.law,
        "drawn": doubt.drawn,
        "source": doubt.source,
    }
