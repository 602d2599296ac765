"""What the JSON Schemas of all our documents are built of.

In: names and kinds of values. Out: pieces of JSON Schema (2020-12).
"""

from __future__ import annotations

from typing import Any

from thundersheet.plan.frozen import finding_schema

Schema = dict[str, Any]

DRAFT = "https://json-schema.org/draft/2020-12/schema"
TEXT: Schema = {"type": "string"}
NUMBER: Schema = {"type": "number"}
MAYBE_NUMBER: Schema = {"type": ["number", "null"]}
MAYBE_TEXT: Schema = {"type": ["string", "null"]}
MAYBE_WHOLE: Schema = {"type": ["integer", "null"]}


def record(properties: dict[str, Schema], doc: str = "") -> Schema:
    """An object of exactly these properties, all of them there."""
    found: Schema = {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }
    return {"description": doc, **found} if doc else found


def listing(items: Schema) -> Schema:
    """A list."""
    return {"type": "array", "items": items}


def document(title: str, doc: str, properties: dict[str, Schema]) -> Schema:
    """A whole document."""
    return {"$schema": DRAFT, "title": title, **record(properties, doc)}


FINDING = finding_schema()
