"""A written document with its figures as figures again, so that pages can show them.

What a quote keeps are the documents that the wire writes: exact figures and times as
text. Which text is a figure, their schema knows.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from marshmallow import Schema, fields

from api.schemas.exact import DecimalText
from api.schemas.fields import UtcTime


def read_back(document: Mapping[str, Any], schema: Schema) -> dict[str, Any]:
    """The document with decimals and times in place of their text.

    Args:
        document: as ``schema`` wrote it; what it does not know stays as it is.
        schema: knows what each member is.
    """
    known = schema.dump_fields
    return {name: _value(value, known.get(name)) for name, value in document.items()}


def _value(value: Any, kind: Any) -> Any:
    if value is None:
        return None
    if isinstance(kind, DecimalText):
        return Decimal(value)
    if isinstance(kind, UtcTime):
        return datetime.fromisoformat(value)
    if isinstance(kind, fields.List):
        return [_value(each, kind.inner) for each in value]
    if isinstance(kind, fields.Nested):
        return read_back(value, kind.schema)
    return value
