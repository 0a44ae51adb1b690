"""Prices held for buyers, and the keys that shops check their tokens with."""

from __future__ import annotations

from api.endpoint import Call, Examples, Reply, Routes
from api.ports import StoredQuote
from api.problems import CANNOT_HOLD, NOT_FOUND, SIZE_NOT_OFFERED
from api.quotas import HOLDS, SHOWN
from api.resources.quotes import tags_of
from api.resources.window import ADDRESS, WISH
from api.schemas.window_holds import (
    SigningKeysDocument,
    WindowHoldBody,
    WindowHoldDocument,
    WindowHoldPath,
)
from api.security import OPEN, WINDOW
from pricing.ring_size import RingSize, ring_size

HELD = f"{ADDRESS}/quotes"
KEYS = f"{ADDRESS}/signing-keys"
KEPT_S = 300
"""How long a shop may keep the keys; for one it does not know it asks again."""
_ETAG = {"ETag": "Its version; whoever accepts it names it in If-Match."}
_BY_ID = {"quote_id": "$response.body#/id"}
_ACCEPT = _BY_ID | {"header.If-Match": "$response.header.ETag"}

routes = Routes(
    "window_holds",
    title="Held prices",
    about="A buyer's page has a price held: the workshop promises it for a while, and "
    "the token tells the shop's server so. The shop checks the token by itself with "
    "the published keys (signature, aud 'shop', exp; and that it has not seen the jti "
    "before), or accepts the quote, which counts once.",
)


@routes.operation(
    "POST",
    HELD,
    scope=WINDOW,
    summary="Hold a price",
    body=WindowHoldBody(),
    answers={201: WindowHoldDocument()},
    problems=(NOT_FOUND, SIZE_NOT_OFFERED, CANNOT_HOLD),
    idempotency="required",
    quota=HOLDS,
    ahead=lambda call: call.services.window.holds.work_out(*_asked(call)),
    answer_headers=_ETAG | {"Location": "Where the held price is."},
    links={"read_window_hold": _BY_ID, "accept_quote": _ACCEPT},
    examples=Examples(body=WISH),
)
def hold_window_price(call: Call) -> Reply:
    """Hold the price of a ring for as long as its policy says, 24 hours at most.

    What the buyer pays is the price of this moment, whatever changes meanwhile.
    """
    made = call.services.window.holds.hold(*_asked(call))
    return _shown(call, made, headers={"Location": f"{HELD}/{made.id}"})


@routes.operation(
    "GET",
    f"{HELD}/<quote_id>",
    scope=WINDOW,
    summary="Read a held price",
    path=WindowHoldPath(),
    answers={200: WindowHoldDocument()},
    quota=SHOWN,
    answer_headers=_ETAG,
    examples=Examples(path={"quote_id": "hM4k7bNx2sV9yR1pGf6tEw"}),
)
def read_window_hold(call: Call) -> Reply:
    """Read a held price, with the key that asked for it or one of the shop."""
    quote = call.services.window.holds.get(call.path["quote_id"], call.key)
    return _shown(call, quote)


@routes.operation(
    "GET",
    KEYS,
    scope=OPEN,
    summary="Read the keys that price tokens are checked with",
    answers={200: SigningKeysDocument()},
    answer_headers={"Cache-Control": "For how long they may be kept."},
)
def list_signing_keys(call: Call) -> Reply:
    """Read the public keys of every token that can still be valid (RFC 7517).

    They change every 90 days. Where a token names a key that is not among those kept,
    read them again, once.
    """
    keys = call.services.window.signing.published()
    caching = {"Cache-Control": f"public, max-age={KEPT_S}"}
    return Reply({"keys": keys}, headers=caching)


def _asked(call: Call) -> tuple[str, RingSize, int]:
    body = call.body()
    size = ring_size(body["size"]["system"], body["size"]["size"])
    return body["sku"], size, body["quantity"]


def _shown(
    call: Call, quote: StoredQuote, headers: dict[str, str] | None = None
) -> Reply:
    """Answer with a held price; its version is told by the tag that accepts it."""
    shown = call.services.window.holds.shown(quote)
    return Reply(shown, etag=tags_of(call, quote)[0], headers=headers or {})
