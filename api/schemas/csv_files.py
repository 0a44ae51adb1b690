"""CSV files on the wire: how they are written, and under which headings."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError

from api.schemas.document import Document
from api.schemas.fields import Choice, Field
from api.schemas.telling import told

DELIMITERS = (",", ";", "\t")
MARKS = (".", ",")


class ExportQuery(Document):
    """How a file is written."""

    delimiter = told(Choice, "What stands between cells.", DELIMITERS, load_default=",")
    decimal = told(Choice, "What stands before decimals.", MARKS, load_default=".")


class HeadingsText(Field):
    """Which of our columns stand under other headings: title=Name,price=Preis.

    Args:
        name: pattern of the name of a column.
        said: an example, and what else is said to whoever writes no such pairs.
        most: how long it may be [signs].
    """

    def __init__(self, name: str, said: str, *, most: int, **settings: Any) -> None:
        super().__init__(**settings)
        self.pattern = rf"^{name}=[^,=]+(,{name}=[^,=]+)*$"
        self.said = said
        self.most = most

    def keywords(self) -> Mapping[str, Any]:
        """The pattern."""
        return {"type": "string", "pattern": self.pattern, "maxLength": self.most}

    def _deserialize(self, value: str, *_: Any, **__: Any) -> dict[str, str]:
        if not re.fullmatch(self.pattern, value):
            said = f"{self.said} a heading holds no comma or ="
            raise ValidationError(f"this has to be pairs such as {said}")
        pairs = [pair.split("=") for pair in value.split(",")]
        found = {name: heading.strip() for name, heading in pairs}
        if len(found) < len(pairs) or not all(found.values()):
            raise ValidationError("each column of ours is mapped once, to some heading")
        return found
