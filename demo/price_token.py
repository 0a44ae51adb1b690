"""What a held price says, checked by the shop itself without asking anybody.

References:
    [1] RFC 7515, JSON Web Signature; RFC 7519, JSON Web Token; RFC 8037, EdDSA in them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, NotRequired, TypedDict, cast

import jwt

ISSUER = "fineweight"
AUDIENCE = "shop"
ALGORITHM = "EdDSA"
NEEDED = ["iss", "aud", "jti", "iat", "exp", "sku", "size", "quantity", "total"]
FAILED = "This is no price that the workshop has held."


class Size(TypedDict):
    """A finger size in one of the systems."""

    system: str
    size: str


class Held(TypedDict):
    """The claims of a token that are used here; amounts as decimal strings."""

    jti: str
    sku: str
    size: Size
    quantity: int
    unit_price: str
    total: str
    tax: str
    currency: str
    exp: NotRequired[int]


class NotHeld(Exception):
    """The token is no promise of the workshop."""


class HoldOver(Exception):
    """It was one, and its time is over; ``held`` says of what."""

    def __init__(self, held: Held) -> None:
        super().__init__("The time for which this price was held is over.")
        self.held = held


@dataclass
class TokenCheck:
    """Checks tokens with the workshop's public keys, fetched once and when one is new.

    Attributes:
        fetch_keys: the JWK Set that the workshop publishes.
    """

    fetch_keys: Callable[[], dict[str, Any]]
    _keys: list[jwt.PyJWK] = field(default_factory=list)

    def read(self, token: str) -> Held:
        """What was promised. Raises NotHeld, HoldOver."""
        try:
            key = self._key(jwt.get_unverified_header(token).get("kid", ""))
            return self._claims(token, key)
        except jwt.ExpiredSignatureError:
            raise HoldOver(self._claims(token, key, verify_exp=False)) from None
        except jwt.PyJWTError as error:
            raise NotHeld(FAILED) from error

    @staticmethod
    def _claims(token: str, key: jwt.PyJWK, *, verify_exp: bool = True) -> Held:
        claims = jwt.decode(
            token,
            key,
            algorithms=[ALGORITHM],  # never what the token itself asks for
            audience=AUDIENCE,
            issuer=ISSUER,
            options={"require": NEEDED, "verify_exp": verify_exp},
        )
        return cast("Held", claims)

    def _key(self, kid: str) -> jwt.PyJWK:
        """The key of that name; keys are fetched anew only where it is not known."""
        found = self._known(kid)
        if found is None:
            self._keys = jwt.PyJWKSet.from_dict(self.fetch_keys()).keys
            found = self._known(kid)
        if found is None:
            raise NotHeld(FAILED)
        return found

    def _known(self, kid: str) -> jwt.PyJWK | None:
        return next((key for key in self._keys if key.key_id == kid), None)
