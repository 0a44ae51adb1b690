"""What is wrong with a document that was given, member by member."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from marshmallow import Schema, ValidationError

from pricing.errors import Fault, InvalidInput, Path


def read(schema: Schema, document: Any) -> Any:
    """What a schema makes of a document, for readers that know no HTTP.

    Raises:
        InvalidInput: with every fault and the path of its member.
    """
    try:
        return schema.load(document)
    except ValidationError as error:
        found = tuple(Fault(path, text) for path, text in faults(error))
        count = "one value" if len(found) == 1 else f"{len(found)} values"
        raise InvalidInput(f"{count} cannot be used", faults=found) from error


def faults(error: ValidationError) -> list[tuple[Path, str]]:
    """Every fault, with the path of its member, in the order of the paths."""
    return sorted(_leaves(error.messages, ()), key=str)


def _leaves(messages: Any, path: Path) -> Iterator[tuple[Path, str]]:
    if isinstance(messages, dict):
        for name, inner in messages.items():
            yield from _leaves(inner, path if name == "_schema" else (*path, name))
    else:
        for text in messages:
            yield path, str(text)
