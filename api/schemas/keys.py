"""Access keys on the wire: everything but the secret, which is shown once."""

from __future__ import annotations

from api.schemas.document import Answer, Document
from api.schemas.fields import Choice, ListOf, Part, PatternText, Text, UtcTime

SCOPES = ("bench", "shop", "window")
MOST_KEYS = 1000


class KeyIdText(PatternText):
    """The public part of a key."""

    pattern = "^[0-9a-f]{16}$"
    form = "the id of a key: 16 hexadecimal digits"


class KeyPath(Document):
    """Which key."""

    key_id = KeyIdText(required=True)


class KeyBody(Document):
    """A key to be made."""

    scope = Choice(
        SCOPES,
        required=True,
        metadata={
            "description": "bench: everything; shop: accept quotes, read published "
            "prices; window: published prices only"
        },
    )
    label = Text(
        least=1,
        most=80,
        required=True,
        metadata={"description": "Where it is used, to know it again."},
    )


class KeyDocument(Answer):
    """A key as it may be shown."""

    id = KeyIdText()
    scope = Choice(SCOPES)
    label = Text(most=80)
    created_at = UtcTime()
    last_used_at = UtcTime(
        allow_none=True, metadata={"description": "Noted once an hour at most."}
    )
    revoked_at = UtcTime(allow_none=True)


class NewKeyDocument(KeyDocument):
    """A key just made, with its token."""

    token = Text(
        most=100,
        metadata={"description": "Shown this once; only its digest is kept."},
    )


class KeyListDocument(Answer):
    """All keys, revoked ones too, oldest first."""

    keys = ListOf(Part(KeyDocument), most=MOST_KEYS)
