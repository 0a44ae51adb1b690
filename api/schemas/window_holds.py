"""Held prices on the wire, and the keys that their tokens are checked with."""

from __future__ import annotations

from api.schemas.document import Answer, Document
from api.schemas.fields import (
    Choice,
    CurrencyText,
    DecimalText,
    ListOf,
    Part,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.listings import SkuText
from api.schemas.quote_documents import NumberText
from api.schemas.quotes import MOST_TOKEN, STATUS, STATUSES, QuoteIdText
from api.schemas.telling import told
from api.schemas.window import MOST_PIECES, WindowPriceBody, WindowSizeDocument

_MOST_KEYS = 100


class WindowHoldBody(WindowPriceBody):
    """A ring whose price is to be held."""


class WindowHoldPath(Document):
    """Which held price."""

    quote_id = told(QuoteIdText, "The id of a held price.", required=True)


class WindowHoldDocument(Answer):
    """A held price; amounts without shipping."""

    id = told(QuoteIdText, "The quote that it is.")
    number = told(NumberText, "What people call it.")
    status = told(Choice, STATUS, STATUSES)
    sku = told(SkuText, "The listing.")
    size = told(Part, "As asked for.", WindowSizeDocument)
    quantity = told(StrictInteger, "How many pieces.", least=1, most=MOST_PIECES)
    unit_price = told(DecimalText, "Price of one piece.")
    total = told(DecimalText, "Price of all pieces.")
    tax = told(DecimalText, "Tax in the total, or on top of it.")
    tax_included = told(
        StrictBoolean, "Whether prices hold the tax already; else it comes on top."
    )
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    valid_until = told(UtcTime, "From then on it can no longer be accepted.")
    token = told(
        Text,
        "The same, signed for the shop's server (RFC 7515, EdDSA): iss, aud, jti (the "
        "id), iat, exp, sku, size, quantity, unit_price, total, tax, tax_included, "
        "currency.",
        most=MOST_TOKEN,
    )


class SigningKeyDocument(Answer):
    """A public key (RFC 7517, RFC 8037)."""

    kty = told(Choice, "What kind of key.", ("OKP",))
    crv = told(Choice, "The curve.", ("Ed25519",))
    x = told(Text, "The key, in base64url.", most=64)
    kid = told(Text, "Its name, in the header of each token.", most=64)
    use = told(Choice, "What it is for.", ("sig",))
    alg = told(Choice, "The only algorithm to take.", ("EdDSA",))


class SigningKeysDocument(Answer):
    """The keys that a valid token may be signed with."""

    keys = told(ListOf, "Newest first.", Part(SigningKeyDocument), most=_MOST_KEYS)


class NewSigningKeyDocument(Answer):
    """The key that prices are signed with from now on."""

    kid = told(Text, "Its name.", most=64)
    created_at = told(UtcTime, "When it was made.")
