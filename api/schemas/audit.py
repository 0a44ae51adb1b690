"""The audit trail on the wire: who did what, when; only ever read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from api.schemas.document import Answer, Document
from api.schemas.fields import (
    Choice,
    Field,
    ListOf,
    Part,
    PatternText,
    QueryInteger,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.telling import told

WAYS = ("api", "page", "command line", "program")
MOST_ENTRIES = 100
_MOST_LISTED = 1000
_MOST_ID = 2**63 - 1
_SUBJECT = "What it was done to: the id of a key, quote or spot price, the key of a \
coin or feed, the version of the price book, the file of a backup."
_BY = "Who did it: the id of a key, or the user's name on the command line; empty: the \
program itself."


class ActionText(PatternText):
    """A kind of thing, or with a dot what was done to it."""

    pattern = r"^[a-z][a-z_]{0,39}(\.[a-z][a-z_]{0,39})?$"
    form = "a kind of thing such as coin, or an action such as coin.changed"


class PlainObject(Field):
    """A small document of whatever the change was about."""

    def keywords(self) -> Mapping[str, Any]:
        """An object of any members, or null."""
        return {"type": ["object", "null"], "additionalProperties": True}


class AuditQuery(Document):
    """Which part of the trail."""

    action = told(
        ActionText,
        "Only this action, as in coin.changed, or all of a kind: coin.",
        load_default=None,
    )
    subject = told(
        Text,
        f"Only of this. {_SUBJECT} A quote's number does as well.",
        least=1,
        most=200,
        load_default=None,
    )
    by = told(Text, "Only by this key or user.", least=1, most=200, load_default=None)
    since = told(
        UtcTime, "Only at this moment or later. Left out: all.", load_default=None
    )
    limit = told(
        QueryInteger,
        "At most so many entries.",
        least=1,
        most=MOST_ENTRIES,
        load_default=50,
    )
    cursor = told(
        Text,
        "Where the page begins, from the Link header of another.",
        least=1,
        most=500,
        load_default=None,
    )


class AuditEntryDocument(Answer):
    """One line of the audit trail."""

    id = told(StrictInteger, "Rises with every entry.", least=1, most=_MOST_ID)
    at = told(UtcTime, "When it was done.")
    by = told(Text, _BY, most=200)
    by_label = told(
        Text, "Label of that key; null: it was no key.", most=200, allow_none=True
    )
    via = told(Choice, "How it came in.", WAYS)
    action = told(ActionText, "The kind of thing, and what was done to it.")
    subject = told(Text, _SUBJECT, most=200)
    before = told(
        PlainObject, "What was so until then; null: nothing.", allow_none=True
    )
    after = told(
        PlainObject, "What is so from then on; null: nothing.", allow_none=True
    )
    request = told(
        Text, "Id of the request, as in its X-Request-Id; empty: none.", most=64
    )


class AuditListDocument(Answer):
    """Lines of the audit trail, newest first."""

    audit_entries = told(
        ListOf,
        "At most as many as asked for.",
        Part(AuditEntryDocument),
        most=_MOST_LISTED,
    )
