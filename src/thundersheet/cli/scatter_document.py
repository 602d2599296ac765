"""The JSON Schema of what `rehearse --scatter --json` prints."""

from __future__ import annotations

from thundersheet.cli.documents_parts import (
    FINDING,
    MAYBE_NUMBER,
    NUMBER,
    TEXT,
    Schema,
    document,
    listing,
    record,
)

WHOLE: Schema = {"type": "integer", "minimum": 0}
DRIVER = record(
    {"name": TEXT, "first": NUMBER, "total": NUMBER, "half_width": NUMBER},
    "First-order and total Sobol index, and half of the total's 95 % interval (0: closed form).",
)
BEAT = record(
    {
        "cue": TEXT,
        "by": {"enum": ["coupled", "event-driven", "stroke by stroke", "linear", "measured"]},
        "window_ms": {**listing(NUMBER), "minItems": 2, "maxItems": 2},
        "shows": WHOLE,
        "missing": WHOLE,
        "inside": NUMBER,
        "mean_ms": MAYBE_NUMBER,
        "sd_ms": NUMBER,
        "quantiles": listing(record({"share": NUMBER, "ms": MAYBE_NUMBER})),
        "tuned_inside": MAYBE_NUMBER,
        "tuned_sd_ms": MAYBE_NUMBER,
        "drivers": listing(DRIVER),
    },
    "Landing error; late is positive. `tuned`: where only that varies which no tuning removes.",
)
DOUBT = record(
    {
        "name": TEXT,
        "of": TEXT,
        "sd": NUMBER,
        "unit": {"enum": ["share", "s", "K"]},
        "law": {"enum": ["normal", "uniform"]},
        "drawn": {"enum": ["fixed", "night", "show"]},
        "source": TEXT,
    },
    "What was drawn. A share is a factor exp(sd z); the sd of a uniform one is half its width.",
)
CHECK = record(
    {
        "solver": {"enum": ["coupled", "event-driven"]},
        "shows": WHOLE,
        "landings": WHOLE,
        "mean_ms": NUMBER,
        "rms_ms": NUMBER,
        "worst_ms": NUMBER,
        "worst_cue": TEXT,
        "of_scatter": NUMBER,
    },
    "Some of the drawn shows played again by the air plant as a whole: how far landings differ.",
)
SCATTER = document(
    "Thundersheet scatter",
    "What `thundersheet rehearse --scatter N --json` prints.",
    {
        "show": TEXT,
        "shows": WHOLE,
        "seed": WHOLE,
        "solver": {"enum": ["coupled", "event-driven"]},
        "ran_on": TEXT,
        "seconds": NUMBER,
        "all_inside": NUMBER,
        "tuned_all_inside": MAYBE_NUMBER,
        "checks": listing(CHECK),
        "beats": listing(BEAT),
        "doubts": listing(DOUBT),
        "findings": listing(FINDING),
    },
)
