"""Access keys on the wire: everything but the secret, which is shown once."""

from __future__ import annotations

from api.schemas.document import Answer, Document
from api.schemas.fields import Choice, ListOf, Part, PatternText, Text, UtcTime
from api.schemas.telling import told

SCOPES = ("bench", "shop", "window")
_MOST_KEYS = 100_000
_REACH = "bench: everything; shop: accept quotes, read published prices; window: \
published prices only."


class KeyIdText(PatternText):
    """The public part of a key."""

    pattern = "^[0-9a-f]{16}$"
    form = "the id of a key: 16 hexadecimal digits"


class KeyPath(Document):
    """Which key."""

    key_id = told(KeyIdText, "The id of a key.", required=True)


class KeyBody(Document):
    """A key to be made."""

    scope = told(Choice, _REACH, SCOPES, required=True)
    label = told(
        Text, "Where it is used, to know it again.", least=1, most=80, required=True
    )


class KeyDocument(Answer):
    """A key as it may be shown."""

    id = told(KeyIdText, "Names it; part of the token, but no secret.")
    scope = told(Choice, _REACH, SCOPES)
    label = told(Text, "Where it is used.", most=200)
    created_at = told(UtcTime, "When it was made.")
    last_used_at = told(
        UtcTime, "Noted once an hour at most; null: never.", allow_none=True
    )
    revoked_at = told(
        UtcTime, "From when on it is refused; null: it holds.", allow_none=True
    )


class NewKeyDocument(KeyDocument):
    """A key just made, with its token."""

    token = told(Text, "Shown this once; only its digest is kept.", most=100)


class KeyListDocument(Answer):
    """All keys, revoked ones too, oldest first."""

    keys = told(ListOf, "Every key.", Part(KeyDocument), most=_MOST_KEYS)
