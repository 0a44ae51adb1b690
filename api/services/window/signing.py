"""The keys that price tokens are signed with: made when needed, changed every season.

The private half of a key is gone once another has taken its place. Its public half
is published for as long as a token signed with it can be valid.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from importlib import import_module
from typing import TYPE_CHECKING, Any, cast

from api.ports import Clock, UnitOfWork
from api.ports.signing import SigningKey
from api.services.audit import note
from api.services.snapshots import Snapshots

if TYPE_CHECKING:
    from types import ModuleType

ISSUER = "fineweight"
AUDIENCE = "shop"
"""Whom tokens are for: the shop's server."""
USED_FOR = timedelta(days=90)
"""After this a key is changed by itself."""
PUBLISHED_FOR = timedelta(hours=25)
"""How long after that its public half is shown: a hold lasts 24 hours at most."""


class Signing:
    """Signs price tokens, and tells with which keys to check them."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock

    def sign(self, unit: UnitOfWork, claims: Mapping[str, object]) -> str:
        """The token of these claims, in the transaction of ``unit``.

        It says for whom and from whom it is; a key that is too old is changed first.
        """
        key = self._in_use(unit)
        whole = {"iss": ISSUER, "aud": AUDIENCE, **claims}
        token = _tokens().signed(whole, private=key.private, kid=key.kid)
        return cast("str", token)

    def rotate(self) -> SigningKey:
        """Sign with a new key from now on. What was signed before stays valid."""
        return self._snapshots.write(self._renewed)

    def kept(self) -> tuple[SigningKey, ...]:
        """Every key, newest first; of those that were replaced the public half."""
        return self._snapshots.read(lambda unit: unit.signing_keys.all())

    def published(self) -> list[dict[str, str]]:
        """The public keys that a token may be signed with, as a set of keys has them.

        There is always one: the first is made when it is first asked for.
        """
        keys = self._snapshots.read(lambda unit: unit.signing_keys.all())
        if not keys:
            keys = (self._snapshots.write(self._in_use),)
        return [_tokens().as_jwk(key.public) for key in keys if self._is_shown(key)]

    def claims(self, token: str, *, expired: bool = False) -> Mapping[str, Any]:
        """What a token says, if it is one of ours.

        Args:
            token: as it was handed over.
            expired: whether one that has expired is meant too.

        Raises:
            InvalidInput: it is none, was changed, is for another, or has expired.
        """
        told = _tokens().verified(
            token,
            self.published(),
            audience=AUDIENCE,
            issuer=ISSUER,
            now=None if expired else self._clock.now(),
        )
        return cast("Mapping[str, Any]", told)

    def _is_shown(self, key: SigningKey) -> bool:
        retired = key.retired_at
        return retired is None or self._clock.now() < retired + PUBLISHED_FOR

    def _in_use(self, unit: UnitOfWork) -> SigningKey:
        now = self._clock.now()
        for key in unit.signing_keys.all():
            if key.retired_at is None and now < key.created_at + USED_FOR:
                return key
        return self._renewed(unit)

    def _renewed(self, unit: UnitOfWork) -> SigningKey:
        now, tokens = self._clock.now(), _tokens()
        for old in unit.signing_keys.all():
            unit.signing_keys.retire(old.kid, at=now)
        public, private = tokens.new_pair()
        kid = tokens.key_name(public)
        key = SigningKey(kid=kid, public=public, private=private, created_at=now)
        unit.signing_keys.add(key)
        note(unit, now, "signing_key.created", kid)
        return key


def _tokens() -> ModuleType:
    """What signs; imported when it is first needed."""
    return import_module("api.services.window.price_tokens")


def expiry(until: datetime) -> int:
    """An instant as a token has it [s since 1970], rounded down."""
    return int(until.timestamp())
