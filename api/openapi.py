"""The OpenAPI document, built from the declared operations alone.

References:
    [1] OpenAPI Specification 3.1.0; for a scheme that is not OAuth the list of a
        security requirement may name the roles needed (Security Requirement Object).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any, cast

import yaml
from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from apispec.ext.marshmallow.openapi import OpenAPIConverter
from marshmallow import Schema

from api import openapi_headers, problems
from api.endpoint import Operation, Routes
from api.problems import MEDIA_TYPE, ProblemType
from api.schemas.exact import DecimalText, Field
from api.schemas.fields import (
    Choice,
    PatternText,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.problem import ProblemDocument
from api.security import OPEN

VERSION = "1"
_TYPES: Mapping[type[Field], tuple[str, str | None]] = {
    DecimalText: ("string", "decimal"),
    Text: ("string", None),
    PatternText: ("string", None),
    Choice: ("string", None),
    StrictInteger: ("integer", None),
    StrictBoolean: ("boolean", None),
    UtcTime: ("string", "date-time"),
}
_RULE_VALUE = re.compile(r"<(?:[a-z]+:)?([a-z_]+)>")
_MEANINGS = {
    201: "Created; Location says where.",
    204: "Done; there is nothing to answer.",
    304: "Unchanged since the version that If-None-Match names.",
}
_ABOUT = """\
Prices rings made from silver coins.

Amounts, measures and rates are text ("27.50"), never JSON numbers. Unknown members
and parameters are refused. Errors are problem documents (RFC 9457); each type has a
page of its own. Keys go into the Authorization header as a bearer token. A bench key
reaches everything, a shop key what is marked shop or window, a window key only what
is marked window."""

Document = dict[str, Any]
_JSON = "application/json"
_TEXT = {"type": "string"}


def _schema_name(schema: Schema | type[Schema]) -> str:
    kind = schema if isinstance(schema, type) else type(schema)
    return kind.__name__.removesuffix("Document").removesuffix("Schema")


def _keywords(converter: OpenAPIConverter, field: Any, **_: Any) -> Document:
    if not isinstance(field, Field):
        return {}
    words = dict(field.keywords())
    if "$ref" in words:  # a document of a shape that has a schema
        words |= converter.resolve_nested_schema(words.pop("$ref"))  # type: ignore[no-untyped-call]
    if "anyOf" in words:  # a choice between documents names their schemas
        words["anyOf"] = [
            converter.resolve_nested_schema(one)  # type: ignore[no-untyped-call]
            if isinstance(one, Schema)
            else one
            for one in words["anyOf"]
        ]
    return words


def document(resources: Iterable[Routes]) -> Document:
    """The OpenAPI document of these resources, as plain data."""
    resources = tuple(resources)
    plugin = MarshmallowPlugin(schema_name_resolver=_schema_name)
    spec = APISpec(
        title="Fineweight",
        version=VERSION,
        openapi_version="3.1.0",
        info={"description": _ABOUT, "license": {"name": "MIT", "identifier": "MIT"}},
        plugins=[plugin],
        servers=[{"url": "/"}],
    )
    converter = cast("OpenAPIConverter", plugin.converter)  # made just now, by spec
    for kind, (name, form) in _TYPES.items():
        converter.field_mapping[kind] = (name, form)
    converter.add_attribute_function(_keywords)  # type: ignore[no-untyped-call]
    spec.components.security_scheme("key", {"type": "http", "scheme": "bearer"})
    for problem in problems.PROBLEMS.values():
        spec.components.example(problem.slug, {"value": _example(problem)})
    for routes in resources:
        if routes.operations:
            spec.tag({"name": routes.title, "description": routes.about})
        for operation in routes.operations:
            described = _operation(operation, routes.title)
            described["parameters"] = _parameters(operation, converter)
            path = _RULE_VALUE.sub(r"{\1}", operation.rule)
            spec.path(path=path, operations={operation.method.lower(): described})
    return spec.to_dict()


class Description:
    """The OpenAPI document of some resources, built when first asked for."""

    def __init__(self, resources: Sequence[Routes]) -> None:
        self.resources = tuple(resources)

    @cached_property
    def document(self) -> Document:
        """The document as plain data."""
        return document(self.resources)


def to_yaml(resources: Iterable[Routes]) -> str:
    """The OpenAPI document of these resources as YAML text."""
    return yaml.safe_dump(
        document(resources), sort_keys=False, allow_unicode=True, width=88
    )


def _operation(operation: Operation, group: str) -> Document:
    scope = operation.scope
    described: Document = {
        "tags": [group],
        "operationId": operation.name,
        "summary": operation.summary,
        "security": [] if scope is OPEN else [{"key": [str(scope)]}],
        "x-scope": str(scope),
        "responses": _answers(operation) | _refusals(operation),
    }
    if operation.about:
        described["description"] = operation.about
    form = operation.takes
    media = _JSON if form is None else form.media
    body = operation.body if form is None else _TEXT
    if body is not None:
        described["requestBody"] = {
            "required": operation.body_needed,
            "content": {media: _content(body, operation.examples.body)},
        }
    return described


def _content(schema: Schema | Document, example: Any) -> Document:
    return {"schema": schema} | ({} if example is None else {"example": example})


def _parameters(operation: Operation, converter: OpenAPIConverter) -> list[Document]:
    examples = operation.examples
    found = [
        *_values("path", operation.path, examples.path or {}, converter),
        *_values("query", operation.query, examples.query or {}, converter),
    ]
    return [*found, *openapi_headers.parameters(operation)]


def _values(
    place: str,
    schema: Schema | None,
    examples: Mapping[str, str],
    converter: OpenAPIConverter,
) -> Iterator[Document]:
    for name, field in (schema.fields if schema else {}).items():
        described = converter.field2property(field)
        value: Document = {"in": place, "name": name, "required": field.required}
        value["description"] = described.pop("description", "")
        value["schema"] = described
        if name in examples:
            value["example"] = examples[name]
        yield value


def _answers(operation: Operation) -> Document:
    first = next(iter(operation.answers))
    answers: Document = {}
    for status, schema in operation.answers.items():
        headers = openapi_headers.of_answer(operation, first=status == first)
        answer: Document = {
            "description": _MEANINGS.get(status, "The answer."),
            "headers": headers,
        }
        example = operation.examples.answer if status == first else None
        form, narrow = operation.gives, operation.narrowed.get(status)
        if form is not None:
            answer["content"] = {form.media: _content(schema or _TEXT, example)}
        elif schema is not None:
            shown = schema if narrow is None else {"anyOf": [schema, narrow]}
            answer["content"] = {_JSON: _content(shown, example)}
        if status == first and operation.links:
            answer["links"] = {
                name: {"operationId": name, "parameters": dict(parameters)}
                for name, parameters in operation.links.items()
            }
        answers[str(status)] = answer
    if operation.method == "GET" and "ETag" in operation.answer_headers:
        answers["304"] = {"description": _MEANINGS[304]}
    return answers


def _refusals(operation: Operation) -> Document:
    by_status: dict[str, list[ProblemType]] = {}
    for kind in operation.refusals():
        by_status.setdefault(str(kind.status), []).append(kind)
    return {
        status: {
            "description": " · ".join(kind.title for kind in kinds),
            **openapi_headers.of_refusal(operation, kinds),
            "content": {
                MEDIA_TYPE: {
                    "schema": ProblemDocument,
                    "examples": {
                        kind.slug: {"$ref": f"#/components/examples/{kind.slug}"}
                        for kind in kinds
                    },
                }
            },
        }
        for status, kinds in by_status.items()
    }


def _example(kind: ProblemType) -> Document:
    return {
        "type": kind.uri,
        "title": kind.title,
        "status": kind.status,
        "detail": kind.meaning,
        "instance": "urn:fineweight:request:4bf92f3577b34da6a3ce929d0e0e4736",
    }
