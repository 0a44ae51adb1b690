"""What must never leave the workshop, in every disguise, and what alone may.

Every figure that a maker keeps to himself is planted as a value that occurs nowhere
else. An answer is clean if none of them is in it, plain or disguised, and if it has no
member and no header but those that are allowed here, one by one.
"""

from __future__ import annotations

import json
import re
import tomllib
from base64 import b64encode, urlsafe_b64decode
from copy import deepcopy
from functools import cache
from html import unescape
from urllib.parse import quote, unquote, unquote_plus

from tests.architecture.source import ROOT
from tests.http.quoting import COIN, PAIR

SPOT = "29.7717"
SUPPLIER = "CANARYSUPPLIER & Söhne <Ost>"
PLANTED = {
    "cost": "9173.4621",
    "paid": "9174.83",
    "wage": "91.7346",
    "overhead": "17.9143",
    "minutes": "613.37",
    "failure rate": "0.2971",
    "margin": "0.37913",
    "floor": "0.21977",
    "supplier": SUPPLIER,
    "start of the supplier": "CANARYSUPPLIER",
    "stage": "CANARYSTAGE",
    "policy": "canary_policy",
    "not published": "CANARYHIDDEN",
    "reason": "CANARYREASON",
    "spot": SPOT,
}
SECRET_NAMES = re.compile(
    r"cost|margin|markup|labou?r|minutes|failure|overhead|supplier|spot_paid|profit",
    re.IGNORECASE,
)
SHORTEST = 6  # characters of a figure, that it is no other one by chance
_SURE = 7  # characters of base64, that they are no others by chance

# What may be said, by the name of the schema: member → schema of what it holds.
ALLOWED = {
    "Problem": dict.fromkeys(
        ("type", "title", "status", "detail", "instance", "violated-policies")
    )
    | {"errors": "Fault"},
    "Fault": dict.fromkeys(("detail", "pointer", "parameter", "header")),
    "HealthDocument": dict.fromkeys(("status",)),
    "RingSizeDocument": dict.fromkeys(
        (
            "label", "inside_diameter_mm", "inside_circumference_mm", "us", "us_exact",
            "uk", "iso", "jp", "ch",
        )
    ),
    "PublicListingPageDocument": {"listings": "PublicListingDocument"},
    "PublicListingDocument": dict.fromkeys(("sku", "title", "kind", "currency"))
    | {"bands": "BandDocument"},
    "BandDocument": dict.fromkeys(("from", "to", "price")),
    "CustomerSheetDocument": dict.fromkeys(
        (
            "number", "workshop", "status", "created_at", "valid_until", "decided_at",
            "timezone", "currency", "goods", "shipping", "tax", "tax_rate",
            "tax_inclusive", "total", "deposit", "balance", "make_by",
            "customer_note", "renewed_by",
        )
    )
    | {
        "pieces": "SheetPieceDocument",
        "cautions": "SheetCautionDocument",
        "spot": "SheetSpotDocument",
        "renews": "SheetRenewedDocument",
    },
    "SheetPieceDocument": dict.fromkeys(
        (
            "coin", "size", "quantity", "unit", "total", "extras", "own_coin",
            "own_coin_text",
        )
    ),
    "SheetCautionDocument": dict.fromkeys(("code", "text")),
    "SheetSpotDocument": dict.fromkeys(("price", "as_of")),
    "SheetRenewedDocument": dict.fromkeys(("number", "total")),
    "WindowListingPageDocument": {"listings": "WindowListingDocument"},
    "WindowListingDocument": dict.fromkeys(
        ("sku", "title", "availability", "currency", "tax_included")
    )
    | {"bands": "WindowBandDocument", "cautions": "WindowCautionDocument"},
    "WindowBandDocument": dict.fromkeys(("from", "to", "price")),
    "WindowCautionDocument": dict.fromkeys(("code", "text")),
    "WindowPriceDocument": dict.fromkeys(
        (
            "sku", "title", "quantity", "unit_price", "total", "tax", "tax_included",
            "currency", "valid_until", "availability",
        )
    )
    | {"size": "WindowSizeDocument", "cautions": "WindowCautionDocument"},
    "WindowSizeDocument": dict.fromkeys(("system", "size")),
    "ProductDocument": dict.fromkeys(("@context", "@type", "sku", "name"))
    | {"offers": "OfferDocument"},
    "OfferDocument": dict.fromkeys(
        ("@type", "name", "price", "priceCurrency", "priceValidUntil", "availability")
    )
    | {"priceSpecification": "UnitPriceDocument"},
    "UnitPriceDocument": dict.fromkeys(
        (
            "@type", "price", "priceCurrency", "validThrough",
            "valueAddedTaxIncluded", "unitCode",
        )
    ),
    "WindowHoldDocument": dict.fromkeys(
        (
            "id", "number", "status", "sku", "quantity", "unit_price", "total", "tax",
            "tax_included", "currency", "valid_until", "token",
        )
    )
    | {"size": "WindowSizeDocument"},
    "SigningKeysDocument": {"keys": "SigningKeyDocument"},
    "SigningKeyDocument": dict.fromkeys(("kty", "crv", "x", "kid", "use", "alg")),
}  # fmt: skip
TOKEN_HEAD = {"alg", "kid", "typ"}
TOKEN_CLAIMS = {
    "iss", "aud", "jti", "iat", "exp", "sku", "size", "quantity", "unit_price",
    "total", "tax", "tax_included", "currency", "system",
}  # fmt: skip
HEADERS = {
    "Accept",
    "Date",
    "Access-Control-Allow-Headers", "Access-Control-Allow-Methods",
    "Access-Control-Allow-Origin", "Access-Control-Expose-Headers",
    "Access-Control-Max-Age", "Allow", "Cache-Control", "Content-Length",
    "Content-Security-Policy", "Content-Type", "Cross-Origin-Opener-Policy",
    "Cross-Origin-Resource-Policy", "ETag", "Link", "Location", "RateLimit",
    "RateLimit-Policy", "Referrer-Policy", "Retry-After", "Vary", "WWW-Authenticate",
    "X-Content-Type-Options", "X-Request-Id", "X-Robots-Tag",
}  # fmt: skip


class Leak(AssertionError):
    """Something left the workshop."""


def plant(workshop) -> None:
    """Fill book, coin, listings and spot with canaries."""
    book = deepcopy(tomllib.loads((ROOT / "demo/price_book.toml").read_text("utf-8")))
    book["labour"] |= {
        "rate_per_hour": PLANTED["wage"],
        "overhead_per_hour": PLANTED["overhead"],
    }
    book["stages"][1] |= {
        "minutes": PLANTED["minutes"],
        "title": PLANTED["stage"],
        "scrap": {"rate": PLANTED["failure rate"]},
    }
    for policy in book["policies"]:
        policy |= {"target_margin": PLANTED["margin"], "floor_margin": PLANTED["floor"]}
    secret = book["policies"][0] | {"key": PLANTED["policy"]}
    book["policies"].append(secret)
    done(workshop.change("/v1/price-book", book))
    done(workshop.post("/v1/coins", coin(PLANTED["cost"])))
    price = {"metal": "XAG", "price": SPOT, "currency": "EUR", "note": SUPPLIER}
    done(workshop.post("/v1/spot-prices", price))


def coin(paid) -> dict:
    """The coin that rings are made of, bought for so much."""
    return {
        "key": COIN,
        "name": "Austria 50 schilling",
        "gross_mass_g": "20.00",
        "fineness_permille": "900",
        "diameter_mm": "34.00",
        "basis": "paid",
        "paid": paid,
        "source": SUPPLIER,
        "notes": SUPPLIER,
    }


def asked(**terms) -> dict:
    """What a quote is asked for, at the planted spot."""
    wanted = deepcopy(PAIR)
    wanted["lines"][0]["spot"]["price"] = SPOT
    return wanted | terms


def done(answer):
    """The answer, which has to be a success."""
    assert answer.status_code < 300, answer.text
    return answer


def figures(document, *, secret=False) -> set[str]:
    """Every figure in a bench's document that stands under a name to keep secret."""
    if isinstance(document, dict):
        found = set()
        for name, value in document.items():
            kept = secret or is_secret(name)
            found |= figures(value, secret=kept)
        return found
    if isinstance(document, list):
        return set().union(*(figures(each, secret=secret) for each in document))
    plain = isinstance(document, str) and re.fullmatch(r"-?[0-9.]+", document)
    return {document} if secret and plain and len(document) >= SHORTEST else set()


def values(document) -> set[str]:
    """Every text in a document."""
    if isinstance(document, dict):
        return set().union(*map(values, document.values()))
    if isinstance(document, list):
        return set().union(*map(values, document))
    return {str(document)}


def sentences(document):
    """Every text of more than one word, without what it quotes of the question."""
    for text in values(document):
        if " " in text:
            yield re.sub("'[^']*'", "", text)


def is_secret(text: str) -> bool:
    """Whether a member's name, or a sentence, tells of what is to be kept."""
    return bool(SECRET_NAMES.search(text))


def names(document):
    """Every name of a member in a document."""
    if isinstance(document, dict):
        for name, value in document.items():
            yield name
            yield from names(value)
    elif isinstance(document, list):
        for value in document:
            yield from names(value)


@cache
def disguises(text: str) -> tuple[str, ...]:
    """How a text may stand in an answer: by its bytes and signs, or within base64."""
    plain = text.encode()
    found = [text, quote(text), json.dumps(text)[1:-1], plain.hex()]
    for shift in range(3):  # within a longer text; what its neighbours change is off
        coded = b64encode(b" " * shift + plain + b" " * 2).decode()
        whole = coded[-(-8 * shift // 6) : 8 * (shift + len(plain)) // 6]
        if len(whole) >= _SURE:
            found += [whole, whole.translate(str.maketrans("+/", "-_"))]
    return tuple(dict.fromkeys(found))


def search(text: str, secrets) -> list[str]:
    """The secrets that are in a text, in whatever disguise."""
    readings = {text, unescape(text), unquote(text), unquote_plus(text)}
    readings.add(re.sub(r"\\u([0-9a-fA-F]{4})", lambda m: chr(int(m[1], 16)), text))
    return [
        secret
        for secret in secrets
        if any(form in each for form in disguises(secret) for each in readings)
    ]


def check_members(document, schema: str) -> None:
    """Raise Leak for a member that nobody allowed, and for a name of a secret."""
    for one in document if isinstance(document, list) else [document]:
        if not isinstance(one, dict):
            continue
        allowed = ALLOWED.get(schema, {})
        more = sorted(one.keys() - allowed.keys())
        if more:
            raise Leak(f"{schema} may not have {', '.join(more)}")
        for name, value in one.items():
            if allowed[name]:
                check_members(value, allowed[name])
            elif name == "token":
                check_token(value)
            elif list(names(value)):
                raise Leak(f"{schema}: nothing is allowed within {name}")


def check_token(token: str) -> None:
    """Raise Leak for a claim in a signed token that nobody allowed."""
    head, claims, _ = (
        urlsafe_b64decode(part + "=" * (-len(part) % 4)) for part in token.split(".")
    )
    for text, allowed in ((head, TOKEN_HEAD), (claims, TOKEN_CLAIMS)):
        more = sorted(set(names(json.loads(text))) - allowed)
        if more:
            raise Leak(f"a token may not have {', '.join(more)}")


def check(answer, secrets, *, schema: str | None) -> None:
    """Raise Leak for anything in an answer that has to stay in the workshop.

    ``schema`` is what a success is an answer by; None for pages and for the
    description, which tells of all there is.
    """
    more = sorted({name for name, _ in answer.headers} - HEADERS)
    if more:
        raise Leak(f"headers that nobody allowed: {', '.join(more)}")
    for text in (answer.status, str(answer.headers), answer.text):
        found = search(text, secrets)
        if found:
            raise Leak(f"{', '.join(found)} in {text[:200]}")
    if not answer.data:
        return
    if answer.mimetype == "application/problem+json":
        schema = "Problem"
    if schema:
        check_members(answer.json, schema)
        said = (*names(answer.json), *sentences(answer.json))
        told = [each for each in said if is_secret(each)]
        if told:
            raise Leak(f"{schema} has {', '.join(told)}")
