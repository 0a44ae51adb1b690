"""What a value of the OpenAPI document looks like, in a few words."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

Tree = Mapping[str, Any]

_AS_GOOD_AS_ENDLESS = 10**9


def kinds(document: Tree, schema: Tree) -> list[Tree]:
    """What a value may be but null, each behind its reference."""
    if "$ref" in schema:
        return [document["components"]["schemas"][schema["$ref"].rsplit("/", 1)[-1]]]
    if "anyOf" in schema:
        return [kind for one in schema["anyOf"] for kind in kinds(document, one)]
    return [] if schema.get("type") == "null" else [schema]


def form(document: Tree, schema: Tree) -> str:
    """What a value looks like, in a few words."""
    words = [_words(document, kind) for kind in kinds(document, schema)]
    nullable = "null" in schema.get("type", ()) or {"type": "null"} in schema.get(
        "anyOf", ()
    )
    return ", or ".join([*dict.fromkeys(words), *(["null"] if nullable else [])])


def _words(document: Tree, schema: Tree) -> str:
    named = schema.get("type", "object")
    kind = named if isinstance(named, str) else named[0]
    words = {"boolean": "true or false", "object": "the members below"}.get(kind, kind)
    if "enum" in schema:
        words = "one of " + ", ".join(_quoted(one) for one in schema["enum"] if one)
    elif kind == "array":
        words = f"list; each entry: {form(document, schema['items'])}"
    elif kind == "integer":
        words = f"whole number, {_range(schema)}"
    elif kind == "string":
        words = _text(schema)
    elif isinstance(schema.get("additionalProperties"), Mapping):
        words = "texts by name"
    return words


def _quoted(word: Any) -> str:
    """A word as it is; a mere sign so that it can be seen."""
    text = str(word)
    return text if any(sign.isalnum() for sign in text) else json.dumps(text)


def _range(schema: Tree) -> str:
    least, most = schema["minimum"], schema["maximum"]
    return f"{least} to {most}" if most < _AS_GOOD_AS_ENDLESS else f"{least} or more"


def _text(schema: Tree) -> str:
    if schema.get("format") == "decimal":
        words = schema.get("x-range")
        return f"number as text{', ' + words if words else ''}"
    if schema.get("format") == "date-time":
        return "time (RFC 3339)"
    if "maxLength" in schema:
        return f"text, up to {schema['maxLength']} characters"
    return str(schema.get("x-form", "text"))
