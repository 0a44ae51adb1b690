"""How a quote's document is kept, and the one place where kept ones are read.

A format is never changed: a new one gets a number and a reader of its own here,
which gives the members of the newest format. Quotes written before stay as they
are.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from api.ports import StorageUnavailable, StoredQuote

FORMAT = 2
"""The format that is written."""

Kept = Mapping[str, Any]


def kept_text(members: Mapping[str, object]) -> str:
    """The one JSON text of a quote's document: members sorted, no blanks, ASCII."""
    whole = {"format": FORMAT, **members}
    return json.dumps(whole, sort_keys=True, separators=(",", ":"), allow_nan=False)


def kept(quote: StoredQuote) -> Kept:
    """What a quote stands on, as it was written down when it was made.

    Raises:
        StorageUnavailable: it was written by a newer program.
    """
    document: Kept = json.loads(quote.document)
    number = document.get("format")
    if number == 1:  # nothing was held for a storefront then
        return {**document, "held": None}
    if number != FORMAT:
        raise StorageUnavailable(
            f"quote {quote.number} is kept in format {number}, which this program does "
            f"not know; it reads up to {FORMAT}: a newer program wrote it, install that"
        )
    return document
