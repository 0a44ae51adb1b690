"""Hooks on the wire: everything but their secrets, which are shown once."""

from __future__ import annotations

from api.schemas.document import Answer, Document
from api.schemas.fields import (
    Choice,
    ListOf,
    Part,
    PatternText,
    QueryInteger,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.telling import told

EVENTS = ("listing.prices_changed", "quote.accepted", "quote.expired")
STEPS = ("begin", "finish")
MOST_LISTED = 100
_MOST_URL = 2000
_EVENTS = "What it is told."
_STATUS = "The status of the last answer; null: none came."
_FAILED = "Why the last try failed: http_status, redirect, gone, timeout, \
unreachable, unknown_host, forbidden_address, bad_certificate…"
_REASON = f"{_FAILED}; disabled: it still waited when the hook was switched off."
_TROUBLE = f"{_FAILED}; empty: it was not tried yet, or nothing waits."
_WHY = "Why the program switched it off: gone (410), too_many_failures; empty: it did \
not."


class HookIdText(PatternText):
    """The id of a hook."""

    pattern = "^[0-9a-f]{16}$"
    form = "the id of a hook: 16 hexadecimal digits"


class MessageIdText(PatternText):
    """The id of a message."""

    pattern = "^msg_[0-9a-f]{32}$"
    form = "the id of a message: msg_ and 32 hexadecimal digits"


class HookPath(Document):
    """Which hook."""

    hook_id = told(HookIdText, "The id of a hook.", required=True)


class HookBody(Document):
    """A hook to be made."""

    url = told(
        Text,
        "Where messages are sent by POST: https, a public address unless its network "
        "is allowed by a setting.",
        least=1,
        most=_MOST_URL,
        required=True,
    )
    events = told(
        ListOf, _EVENTS, Choice(EVENTS), least=1, most=len(EVENTS), required=True
    )


class HookChangeBody(HookBody):
    """A hook as it is to be."""

    enabled = told(
        StrictBoolean,
        "Whether it is told anything. What waits when it is switched off counts as "
        "failed, and can be sent again.",
        required=True,
    )


class WaitingDocument(Answer):
    """What waits for a hook, and how the oldest of it stands."""

    messages = told(StrictInteger, "How many wait.", least=0, most=10_000_000)
    tries = told(StrictInteger, "How often the oldest was sent.", least=0, most=1000)
    answered = told(StrictInteger, _STATUS, least=100, most=999, allow_none=True)
    reason = told(Text, _TROUBLE, most=100)
    next_try_at = told(
        UtcTime,
        "When the oldest is sent next, and none of the others before it; null: "
        "nothing waits.",
        allow_none=True,
    )


class HookDocument(Answer):
    """A hook as it may be shown."""

    id = told(HookIdText, "Names it.")
    url = told(Text, "Where messages are sent.", most=_MOST_URL)
    events = told(ListOf, _EVENTS, Choice(EVENTS), most=len(EVENTS))
    enabled = told(StrictBoolean, "Whether it is told anything.")
    why_disabled = told(Text, _WHY, most=100)
    secrets = told(
        StrictInteger,
        "How many secrets messages are signed with: two while they are changed.",
        least=1,
        most=2,
    )
    created_at = told(UtcTime, "When it was made.")
    waiting = told(Part, "What is still to arrive.", WaitingDocument)


class HookSecretDocument(HookDocument):
    """A hook with its newest secret."""

    secret = told(
        Text,
        "What messages are signed with (Standard Webhooks); shown this once.",
        most=100,
    )


class HookListDocument(Answer):
    """All hooks, oldest first."""

    hooks = told(ListOf, "Every hook.", Part(HookDocument), most=MOST_LISTED)


class RotateBody(Document):
    """A step in changing the secret."""

    step = told(
        Choice,
        "begin: sign with a new secret beside the present one, and show it. finish: "
        "drop the old one, once the receiver knows the new one.",
        STEPS,
        required=True,
    )


class RotatedDocument(HookDocument):
    """A hook after a step in changing its secret."""

    secret = told(
        Text, "The new secret, shown this once; null: none.", most=100, allow_none=True
    )


class FailuresQuery(Document):
    """How many failures."""

    limit = told(
        QueryInteger,
        "At most so many, the oldest.",
        least=1,
        most=MOST_LISTED,
        load_default=50,
    )


class FailureDocument(Answer):
    """A message that was given up."""

    id = told(MessageIdText, "The same at every try, in webhook-id.")
    event = told(Choice, "What it tells.", EVENTS)
    created_at = told(UtcTime, "When it was written.")
    tried_at = told(UtcTime, "When it was tried last, or would have been.")
    tries = told(StrictInteger, "How often it was sent.", least=0, most=1000)
    answered = told(StrictInteger, _STATUS, least=100, most=999, allow_none=True)
    reason = told(Text, _REASON, most=100)


class FailureListDocument(Answer):
    """Messages that were given up, oldest first."""

    failures = told(
        ListOf, "At most as many as asked for.", Part(FailureDocument), most=MOST_LISTED
    )


class ReplayBody(Document):
    """What is to be sent again."""

    messages = told(
        ListOf,
        "Ids of failed messages. Left out: all that failed.",
        MessageIdText(),
        least=1,
        most=MOST_LISTED,
        load_default=None,
    )


class ReplayedDocument(Answer):
    """What is sent again."""

    messages = told(StrictInteger, "How many are sent again.", least=0, most=10_000_000)
