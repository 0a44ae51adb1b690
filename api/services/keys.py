"""Access keys: made once, shown once, checked on every call, revoked at once.

A token is ``fw_<scope>_<id>_<secret>``. Only the id and the SHA-256 digest of the
secret are stored; a plain digest is enough because the secret is 256 random bits.
"""

from __future__ import annotations

import hashlib
import logging
import re
import secrets
from datetime import datetime, timedelta
from hmac import compare_digest

from api.ports import (
    SCOPES,
    Clock,
    Conflict,
    KeyRecord,
    NotAuthenticated,
    NotFound,
    Scope,
    StorageUnavailable,
    StoredKey,
    UnitOfWork,
)
from api.services.audit import note
from api.services.plain_text import plain_line
from api.services.snapshots import Snapshots
from pricing.errors import InvalidInput

USE_NOTED_EVERY = timedelta(hours=1)

_TOKEN = re.compile(
    r"fw_(?P<scope>[a-z]+)_(?P<id>[0-9a-f]{16})_(?P<secret>[A-Za-z0-9_-]{43})", re.ASCII
)
_NO_DIGEST = bytes(32)
_REFUSED = "a valid key is needed; send it as Authorization: Bearer fw_…"
_log = logging.getLogger(__name__)


class Keys:
    """The access keys of the workshop."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._noted: dict[str, datetime] = {}

    def create(self, scope: str, label: str) -> tuple[KeyRecord, str]:
        """Make a key; its token is in the answer and nowhere else.

        Raises:
            InvalidInput: the scope is not known, or the label is not a plain line.
        """
        secret = secrets.token_urlsafe(32)
        record = KeyRecord(
            id=secrets.token_hex(8),
            scope=_scope(scope),
            label=plain_line(label, "label", blank=False),
            created_at=self._clock.now(),
        )
        key = StoredKey(record=record, digest=_digest(secret))

        def add(unit: UnitOfWork) -> None:
            unit.revisions.bump("keys")
            unit.keys.add(key)
            note(unit, record.created_at, "key.created", record.id, after=_told(record))

        self._snapshots.write(add)
        return record, f"fw_{record.scope}_{record.id}_{secret}"

    def revoke(self, key_id: str) -> None:
        """Refuse a key from the next call on, in every process.

        Raises:
            NotFound: there is no such key.
            Conflict: it is revoked already.
        """
        when = self._clock.now()

        def revoke(unit: UnitOfWork) -> None:
            records = {key.record.id: key.record for key in unit.keys.all()}
            if key_id not in records:
                raise NotFound("no key has this id; list the keys to see their ids")
            if not unit.keys.revoke(key_id, when=when):
                raise Conflict("this key is revoked already; there is nothing to do")
            unit.revisions.bump("keys")
            note(unit, when, "key.revoked", key_id, before=_told(records[key_id]))

        self._snapshots.write(revoke)

    def list(self) -> tuple[KeyRecord, ...]:
        """Every key, revoked ones too, oldest first."""
        keys = self._snapshots.storage.read(lambda unit: unit.keys.all())
        return tuple(key.record for key in keys)

    def authenticate(self, token: str) -> KeyRecord:
        """The key that a token belongs to.

        Raises:
            NotAuthenticated: for whatever reason; the text is always the same.
        """
        parts = _TOKEN.fullmatch(token)
        if parts is None:
            raise NotAuthenticated(_REFUSED)
        key = self._snapshots.take().keys.get(parts["id"])
        # An unknown id costs the same work as a wrong secret.
        expected = _NO_DIGEST if key is None else key.digest
        right = compare_digest(_digest(parts["secret"]), expected)
        if key is None or not right or key.record.scope != parts["scope"]:
            raise NotAuthenticated(_REFUSED)
        if key.record.revoked_at is not None:
            raise NotAuthenticated(_REFUSED)
        self._note_use(key.record)
        return key.record

    def _note_use(self, record: KeyRecord) -> None:
        # At most once an hour, and never the call's own trouble: the answer does
        # not wait for the write lock and does not fail with it.
        now = self._clock.now()
        last = self._noted.get(record.id) or record.last_used_at
        if last is not None and now - last < USE_NOTED_EVERY:
            return
        self._noted[record.id] = now
        try:
            self._snapshots.storage.write(
                lambda unit: unit.keys.touch(record.id, when=now), wait=False
            )
        except StorageUnavailable:
            _log.info("the use of key %s could not be noted now", record.id)


def _told(record: KeyRecord) -> dict[str, object]:
    return {"scope": record.scope, "label": record.label}


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode("ascii")).digest()


def _scope(name: str) -> Scope:
    for scope in SCOPES:
        if scope == name:
            return scope
    raise InvalidInput(
        f"'{name[:40]}' is not a scope; use one of {', '.join(SCOPES)}",
        path=("scope",),
    )
