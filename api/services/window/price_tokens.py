"""Signed price tokens: what they say, how they are signed and how they are checked.

Imported when the first token is signed or read: the library takes a while to load.

References:
    [1] RFC 7515, JSON Web Signature, the compact serialization; RFC 7519, the
        claims iss, aud, exp, iat and jti; RFC 8725 §3.1, §3.9: one algorithm is
        taken, whatever the header says, and the audience is always looked at.
    [2] RFC 8037, EdDSA with Ed25519 in JOSE; RFC 7517, sets of keys; RFC 7638, the
        name of a key from its public half.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

import jwt
from cryptography.exceptions import InvalidKey
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)

from pricing.errors import InvalidInput

ALGORITHM = "EdDSA"
LONGEST = 4096
"""Longest token that is looked at [characters]."""
_NEEDED = ("iss", "aud", "jti", "iat", "exp")
# Times are judged by the caller's clock, and not by the library's.
_OPTIONS: Any = {"require": _NEEDED, "verify_exp": False, "verify_iat": False}


def new_pair() -> tuple[str, str]:
    """A new public and private key, 32 bytes each in base64url."""
    private = Ed25519PrivateKey.generate()
    return (
        _text(private.public_key().public_bytes_raw()),
        _text(private.private_bytes_raw()),
    )


def key_name(public: str) -> str:
    """The name of a key: the SHA-256 thumbprint of its public half [2].

    >>> key_name("11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo")
    'kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k'
    """
    said = f'{{"crv":"Ed25519","kty":"OKP","x":"{public}"}}'
    return _text(hashlib.sha256(said.encode()).digest())


def as_jwk(public: str) -> dict[str, str]:
    """A public key as a member of a set of keys [2]."""
    return {
        "kty": "OKP",
        "crv": "Ed25519",
        "x": public,
        "kid": key_name(public),
        "use": "sig",
        "alg": ALGORITHM,
    }


def signed(claims: Mapping[str, object], *, private: str, kid: str) -> str:
    """The token of these claims."""
    key = Ed25519PrivateKey.from_private_bytes(_raw(private))
    return jwt.encode(dict(claims), key, ALGORITHM, headers={"kid": kid})


def verified(
    token: str,
    keys: Iterable[Mapping[str, str]],
    *,
    audience: str,
    issuer: str,
    now: datetime | None,
) -> Mapping[str, Any]:
    """The claims of a token, if they are true.

    Args:
        token: as it was handed over.
        keys: the public keys that count.
        audience: whom it has to be for.
        issuer: whom it has to be from.
        now: the time; None where an expired one is meant too.

    Raises:
        InvalidInput: it is no such token, was changed, is for another, or has expired.
    """
    if len(token) > LONGEST:
        raise _refused("is longer than any of ours")
    try:
        key = _named(token, keys)
        claims: Mapping[str, Any] = jwt.decode(
            token,
            key,
            [ALGORITHM],
            audience=audience,
            issuer=issuer,
            options=_OPTIONS,
        )
        expires = float(claims["exp"])
    except jwt.InvalidAudienceError as error:
        raise _refused("is meant for somebody else") from error
    except (jwt.PyJWTError, InvalidKey, ValueError, TypeError) as error:
        raise _refused("is not one of ours, or was changed") from error
    if now is not None and now.timestamp() >= expires:
        raise _refused("has expired; ask for today's price and hold that")
    return claims


def _named(token: str, keys: Iterable[Mapping[str, str]]) -> Ed25519PublicKey:
    kid = jwt.get_unverified_header(token).get("kid")
    for key in keys:
        if key["kid"] == kid:
            return Ed25519PublicKey.from_public_bytes(_raw(key["x"]))
    raise jwt.InvalidKeyError


def _refused(said: str) -> InvalidInput:
    return InvalidInput(f"this price token {said}", path=("token",))


def _text(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode("ascii")


def _raw(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
