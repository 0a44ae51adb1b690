"""Tokens are signed as the standards say, and nothing else passes for one."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
from datetime import UTC, datetime

import jwt
import pytest
from jwt.api_jws import PyJWS

from api.services.window.price_tokens import (
    LONGEST,
    as_jwk,
    key_name,
    new_pair,
    signed,
    verified,
)
from pricing.errors import InvalidInput

# RFC 8037, appendix A: a private and public key (A.1, A.2), the thumbprint (A.3), and
# a signature (A.4) over "Example of Ed25519 signing", checked (A.5).
PRIVATE = "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A"
PUBLIC = "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
THUMBPRINT = "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"
EXAMPLE = (
    "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc."
    "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt"
    "9g7sVvpAr_MuM0KAg"
)
NOW = datetime(2026, 12, 1, 12, tzinfo=UTC)
CLAIMS = {
    "iss": "fineweight",
    "aud": "shop",
    "jti": "zQ0r9sHq3mX1vT7cLd5w2A",
    "iat": int(NOW.timestamp()),
    "exp": int(NOW.timestamp()) + 3600,
    "total": "189.95",
}
KEYS = [as_jwk(PUBLIC)]


def token(**claims):
    said = {name: value for name, value in (CLAIMS | claims).items() if value != ()}
    return signed(said, private=PRIVATE, kid=THUMBPRINT)


def check(text, keys=KEYS, *, audience="shop", issuer="fineweight", now=NOW):
    return verified(text, keys, audience=audience, issuer=issuer, now=now)


def refused(text, match, **asked):
    with pytest.raises(InvalidInput, match=match) as refusal:
        check(text, **asked)
    assert refusal.value.path == ("token",)


def part(document):
    raw = json.dumps(document).encode()
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


# As published


def test_the_key_of_the_published_example_has_its_published_name():
    assert key_name(PUBLIC) == THUMBPRINT
    assert as_jwk(PUBLIC) == {
        "kty": "OKP",
        "crv": "Ed25519",
        "x": PUBLIC,
        "kid": THUMBPRINT,
        "use": "sig",
        "alg": "EdDSA",
    }


def test_the_library_signs_the_published_example_as_published():
    key = jwt.PyJWK({"kty": "OKP", "crv": "Ed25519", "d": PRIVATE, "x": PUBLIC})
    made = PyJWS().encode(
        b"Example of Ed25519 signing", key.key, "EdDSA", headers={"typ": None}
    )
    assert made == EXAMPLE


def test_the_signature_of_a_token_is_that_of_the_published_key():
    header, payload, signature = token().split(".")
    said = json.loads(base64.urlsafe_b64decode(header + "=="))
    assert said == {"alg": "EdDSA", "kid": THUMBPRINT, "typ": "JWT"}
    public = jwt.PyJWK(KEYS[0]).key
    raw = base64.urlsafe_b64decode(signature + "==")
    public.verify(raw, f"{header}.{payload}".encode())
    assert len(raw) == 64


# Checking


def test_a_token_says_what_it_was_made_of():
    assert check(token()) == CLAIMS


def test_new_keys_differ_and_sign():
    pairs = {new_pair() for _ in range(5)}
    assert len(pairs) == 5
    public, private = pairs.pop()
    made = signed(CLAIMS, private=private, kid=key_name(public))
    assert check(made, [as_jwk(public), *KEYS]) == CLAIMS


def test_a_token_expires_at_its_very_second():
    almost = datetime.fromtimestamp(CLAIMS["exp"] - 1, UTC)
    assert check(token(), now=almost) == CLAIMS
    then = datetime.fromtimestamp(CLAIMS["exp"], UTC)
    refused(token(), "has expired; ask for today's price", now=then)
    assert check(token(), now=None) == CLAIMS


@pytest.mark.parametrize("place", range(3))
def test_a_changed_token_is_refused(place):
    parts = token().split(".")
    raw = bytearray(base64.urlsafe_b64decode(parts[place] + "=="))
    raw[len(raw) // 2] ^= 1
    parts[place] = base64.urlsafe_b64encode(raw).rstrip(b"=").decode()
    refused(".".join(parts), "not one of ours, or was changed")


def test_a_lower_price_under_the_old_signature_is_refused():
    header, _, signature = token().split(".")
    cheaper = part(CLAIMS | {"total": "1.00"})
    refused(f"{header}.{cheaper}.{signature}", "was changed")


def test_a_token_for_somebody_else_is_refused():
    refused(token(aud="bank"), "meant for somebody else")
    refused(token(), "meant for somebody else", audience="bank")
    refused(token(iss="another"), "not one of ours")


def test_a_token_of_another_key_is_refused():
    public, private = new_pair()
    other = signed(CLAIMS, private=private, kid=key_name(public))
    refused(other, "not one of ours")
    posing = signed(CLAIMS, private=private, kid=THUMBPRINT)
    refused(posing, "not one of ours")
    refused(token(), "not one of ours", keys=[])


@pytest.mark.parametrize("name", ["none", "None", "NONE", "nOnE"])
def test_a_token_without_a_signature_is_refused(name):
    header = part({"alg": name, "kid": THUMBPRINT, "typ": "JWT"})
    for signature in ("", "AAAA"):
        refused(f"{header}.{part(CLAIMS)}.{signature}", "not one of ours")


def test_the_public_key_is_not_taken_for_a_shared_secret():
    header = part({"alg": "HS256", "kid": THUMBPRINT})
    said = f"{header}.{part(CLAIMS)}"
    for secret in (PUBLIC.encode(), base64.urlsafe_b64decode(PUBLIC + "=")):
        mac = hmac.new(secret, said.encode(), hashlib.sha256).digest()
        signature = base64.urlsafe_b64encode(mac).rstrip(b"=").decode()
        refused(f"{said}.{signature}", "not one of ours")


def test_a_key_in_the_header_is_not_believed():
    public, private = new_pair()
    claims = dict(CLAIMS)
    key = jwt.PyJWK({"kty": "OKP", "crv": "Ed25519", "d": private, "x": public}).key
    headers = {"kid": THUMBPRINT, "jwk": as_jwk(public), "jku": "https://a.example/"}
    refused(jwt.encode(claims, key, "EdDSA", headers=headers), "not one of ours")


@pytest.mark.parametrize("name", ["iss", "aud", "jti", "iat", "exp"])
def test_a_claim_that_is_missing_is_refused(name):
    refused(token(**{name: ()}), "this price token is")


@pytest.mark.parametrize("exp", [True, None, "soon", [], {}])
def test_a_time_that_is_none_is_refused(exp):
    public, private = new_pair()
    made = signed(CLAIMS | {"exp": exp}, private=private, kid=key_name(public))
    refused(made, "this price token", keys=[as_jwk(public)])


@pytest.mark.parametrize(
    "text",
    [
        "",
        ".",
        "..",
        "a.b.c",
        "....",
        "é.é.é",
        "eyJhbGciOiJFZERTQSJ9",
        "eyJhbGciOiJFZERTQSJ9..",
        part({"alg": "EdDSA", "kid": 7}) + ".e30.AA",
        part([]) + ".e30.AA",
        EXAMPLE,
        "a" * LONGEST,
        "\x00",
    ],
)
def test_what_is_no_token_is_refused(text):
    refused(text, "not one of ours")


def test_what_is_endless_is_not_even_read():
    refused("a" * (LONGEST + 1), "longer than any")
