"""The OpenAPI document arranged for reading: groups, operations, tables of members."""

from __future__ import annotations

import json
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from api.web.forms import Tree, form, kinds

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
class Ledger:
    """The members of one document; ``name`` is its schema's."""

    name: str = ""
    rows: tuple[Row, ...] = ()


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
    body: Ledger
    status: str
    answer: Ledger
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
    _, content = _first(answer)
    return Entry(
        name=operation["operationId"],
        method=method.upper(),
        path=path,
        summary=operation["summary"],
        about=operation.get("description", ""),
        scope=operation["x-scope"],
        parameters=tuple(_parameters(document, operation)),
        body=_ledger(document, _body(operation)[1].get("schema", {})),
        status=status,
        answer=_ledger(document, content.get("schema", {})),
        answer_headers=tuple(
            (name, header["description"]) for name, header in answer["headers"].items()
        ),
        command=_command(operation, method, path),
        example=_pretty(content["example"]) if "example" in content else "",
        refusals=tuple(_refusals(document, operation)),
    )


def _first(described: Tree) -> tuple[str, Tree]:
    """Media type and schema of a body or an answer; empty where there is none."""
    contents: dict[str, Tree] = described.get("content", {})
    return next(iter(contents.items()), ("", {}))


def _body(operation: Tree) -> tuple[str, Tree]:
    return _first(operation.get("requestBody", {}))


def _parameters(document: Tree, operation: Tree) -> Iterator[Row]:
    for parameter in operation["parameters"]:
        yield Row(
            name=parameter["name"],
            form=form(document, parameter["schema"]),
            needed=parameter["required"],
            about=f"In the {parameter['in']}. {parameter['description']}".strip(),
        )


def _ledger(document: Tree, schema: Tree) -> Ledger:
    name = schema.get("$ref", "").rsplit("/", 1)[-1]
    return Ledger(name=name, rows=tuple(_rows(document, schema)))


def _members(document: Tree, schema: Tree) -> tuple[Tree, str]:
    """The document a member holds or lists, and what leads from it to the members."""
    for kind in kinds(document, schema):
        if "items" in kind:
            return _members(document, kind["items"])[0], "[]."
        if "properties" in kind:
            return kind, "."
    return {}, ""


def _rows(
    document: Tree, schema: Tree, above: str = "", depth: int = 0
) -> Iterator[Row]:
    holder, _ = _members(document, schema)
    for name, member in holder.get("properties", {}).items():
        yield Row(
            name=above + name,
            form=form(document, member),
            needed=name in holder.get("required", ()),
            about=member.get("description", ""),
        )
        if depth < _DEEPEST:
            _, step = _members(document, member)
            yield from _rows(document, member, above + name + step, depth + 1)


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
    media, body = _body(operation)
    if "example" in body:
        parts.append(f"-H 'Content-Type: {media}'")
        flag = "--data-binary" if isinstance(body["example"], str) else "-d"
        parts.append(f"{flag} {shlex.quote(_indented(body['example']))}")
    parts.append(f'"$FINEWEIGHT{address}"')
    return " \\\n  ".join(parts)


def _pretty(value: Any) -> str:
    if isinstance(value, str):
        return value
    return json.dumps(value, indent=2, ensure_ascii=False)


def _indented(value: Any) -> str:
    if isinstance(value, str):
        return value
    return _pretty(value).replace("\n", "\n  ")


def _refusals(document: Tree, operation: Tree) -> Iterator[Refusal]:
    for status, answer in operation["responses"].items():
        problems = answer.get("content", {}).get("application/problem+json", {})
        for slug in problems.get("examples", {}):
            example = document["components"]["examples"][slug]["value"]
            yield Refusal(status=status, slug=slug, title=example["title"])
