"""The OpenAPI document arranged for reading: groups, operations, tables of members."""

from __future__ import annotations

import json
import shlex
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

Tree = Mapping[str, Any]

_METHODS = ("get", "post", "put", "patch", "delete")
_DEEPEST = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One member or parameter: its name, form, and what it is for."""

    name: str
    form: str
    needed: bool
    about: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """One kind of problem an operation may answer with."""

    status: str
    slug: str
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One operation as its page shows it."""

    name: str
    method: str
    path: str
    summary: str
    about: str
    scope: str
    parameters: tuple[Row, ...]
    body: tuple[Row, ...]
    status: str
    answer: tuple[Row, ...]
    answer_headers: tuple[tuple[str, str], ...]
    command: str
    example: str
    refusals: tuple[Refusal, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The operations of one resource."""

    slug: str
    title: str
    about: str
    entries: tuple[Entry, ...]


def groups(document: Tree) -> tuple[Group, ...]:
    """The operations of an OpenAPI document by group, in its order."""
    by_title: dict[str, list[Entry]] = {tag["name"]: [] for tag in document["tags"]}
    for path, item in document["paths"].items():
        for method in _METHODS:
            if method in item:
                entry = _entry(document, method, path)
                by_title[item[method]["tags"][0]].append(entry)
    return tuple(
        Group(
            slug=tag["name"].lower().replace(" ", "-"),
            title=tag["name"],
            about=tag["description"],
            entries=tuple(by_title[tag["name"]]),
        )
        for tag in document["tags"]
    )


def _entry(document: Tree, method: str, path: str) -> Entry:
    operation = document["paths"][path][method]
    status, answer = next(iter(operation["responses"].items()))
    content = answer.get("content", {}).get("application/json", {})
    return Entry(
        name=operation["operationId"],
        method=method.upper(),
        path=path,
        summary=operation["summary"],
        about=operation.get("description", ""),
        scope=operation["x-scope"],
        parameters=tuple(_parameters(document, operation)),
        body=tuple(_rows(document, _body(operation).get("schema", {}))),
        status=status,
        answer=tuple(_rows(document, content.get("schema", {}))),
        answer_headers=tuple(
            (name, header["description"]) for name, header in answer["headers"].items()
        ),
        command=_command(operation, method, path),
        example=_pretty(content["example"]) if "example" in content else "",
        refusals=tuple(_refusals(document, operation)),
    )


def _body(operation: Tree) -> Tree:
    content: Tree = operation.get("requestBody", {}).get("content", {})
    found: Tree = content.get("application/json", {})
    return found


def _parameters(document: Tree, operation: Tree) -> Iterator[Row]:
    for parameter in operation["parameters"]:
        yield Row(
            name=parameter["name"],
            form=_form(document, parameter["schema"]),
            needed=parameter["required"],
            about=f"In the {parameter['in']}. {parameter['description']}".strip(),
        )


def _resolved(document: Tree, schema: Tree) -> Tree:
    """The schema itself, behind its reference and beside null."""
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[-1]
        found: Tree = document["components"]["schemas"][name]
        return found
    real = [one for one in schema.get("anyOf", ()) if one.get("type") != "null"]
    return _resolved(document, real[0]) if len(real) == 1 else schema


def _rows(
    document: Tree, schema: Tree, above: str = "", depth: int = 0
) -> Iterator[Row]:
    schema = _resolved(document, schema)
    needed = schema.get("required", ())
    for name, member in schema.get("properties", {}).items():
        inner = _resolved(document, member)
        yield Row(
            name=above + name,
            form=_form(document, member),
            needed=name in needed,
            about=member.get("description", inner.get("description", "")),
        )
        if depth < _DEEPEST:
            listed = inner.get("items")
            below = f"{above}{name}[]." if listed else f"{above}{name}."
            yield from _rows(document, listed or inner, below, depth + 1)


def _form(document: Tree, schema: Tree) -> str:
    """What a value looks like, in a few words."""
    inner = _resolved(document, schema)
    kinds = inner.get("type", "object")
    names = [kinds] if isinstance(kinds, str) else list(kinds)
    nullable = "null" in names or (inner is not schema and "anyOf" in schema)
    kind = next((name for name in names if name != "null"), "null")
    words = _words(document, inner, kind)
    return f"{words}, or null" if nullable else words


def _words(document: Tree, schema: Tree, kind: str) -> str:
    if "enum" in schema:
        return "one of " + ", ".join(str(one) for one in schema["enum"] if one)
    if kind == "array":
        return f"list; each entry: {_form(document, schema['items'])}"
    if schema.get("format") == "decimal":
        words = schema.get("x-range")
        return f"number as text{', ' + words if words else ''}"
    if kind == "integer":
        return f"whole number, {schema['minimum']} to {schema['maximum']}"
    if kind == "string":
        form = "time (RFC 3339)" if schema.get("format") == "date-time" else "text"
        most = schema.get("maxLength")
        return f"{form}, up to {most} characters" if most else form
    return {"boolean": "true or false", "object": "the members below"}.get(kind, kind)


def _command(operation: Tree, method: str, path: str) -> str:
    """The example request as a curl command; $FINEWEIGHT is the service's address."""
    query = {}
    for parameter in operation["parameters"]:
        example = str(parameter.get("example", ""))
        path = path.replace(f"{{{parameter['name']}}}", example)
        if parameter["in"] == "query" and example:
            query[parameter["name"]] = example
    address = path + (f"?{urlencode(query)}" if query else "")
    parts = ["curl" if method == "get" else f"curl -X {method.upper()}"]
    if operation["security"]:
        parts.append('-H "Authorization: Bearer $FINEWEIGHT_KEY"')
    if any(one["name"] == "If-Match" for one in operation["parameters"]):
        parts.append('-H "If-Match: $ETAG"')
    if "example" in _body(operation):
        parts.append("-H 'Content-Type: application/json'")
        parts.append(f"-d {shlex.quote(_indented(_body(operation)['example']))}")
    parts.append(f'"$FINEWEIGHT{address}"')
    return " \\\n  ".join(parts)


def _pretty(value: Any) -> str:
    return json.dumps(value, indent=2, ensure_ascii=False)


def _indented(value: Any) -> str:
    return _pretty(value).replace("\n", "\n  ")


def _refusals(document: Tree, operation: Tree) -> Iterator[Refusal]:
    for status, answer in operation["responses"].items():
        kinds = answer.get("content", {}).get("application/problem+json", {})
        for slug in kinds.get("examples", {}):
            example = document["components"]["examples"][slug]["value"]
            yield Refusal(status=status, slug=slug, title=example["title"])
