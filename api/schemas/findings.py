"""What was noticed about a price, on the wire."""

from __future__ import annotations

from api.schemas.document import Answer
from api.schemas.fields import Choice, Text
from api.schemas.telling import told

WEIGHTS = ("refuse", "ignore", "hold", "warn")
MOST_FINDINGS = 1000
_MOST_CHARACTERS = 2000


class FindingDocument(Answer):
    """One doubt about a price, or why there is none."""

    code = told(Text, "Short stable name.", most=60)
    text = told(
        Text, "What was given, what is allowed, what to do.", most=_MOST_CHARACTERS
    )
    weight = told(Choice, "What it makes of the price.", WEIGHTS)
