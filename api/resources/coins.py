"""Coins: the published catalogue, and the workshop's own that go before it."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from api.endpoint import Call, Examples, Reply, Routes
from api.ports import StoredCoin
from api.preconditions import tag
from api.problems import CONFLICT
from api.schemas.coins import (
    CoinBody,
    CoinDocument,
    CoinListDocument,
    CoinPath,
    CoinsQuery,
)
from api.security import BENCH
from pricing.coin import Coin
from pricing.errors import InvalidInput

_COINS = "/v1/coins"
_ETAG = {"ETag": "Its version; a change has to name it in If-Match."}
_PATH = {"key": "at_50s_1959_1973"}
_BODY = {
    "name": "Austria 50 schilling, 1959 to 1973, as bought by the kilogram",
    "metal": "XAG",
    "fineness_permille": "900",
    "gross_mass_g": "20.00",
    "diameter_mm": "34.00",
    "wear": "0.012",
    "basis": "melt",
    "premium": "0.08",
}
_NEW = {"key": "at_50s_kilogram"} | _BODY

routes = Routes(
    "coins",
    title="Coins",
    about="Coin types with the source of each figure. A coin of the workshop's own "
    "with the key of a published one is used in its place.",
)


@routes.operation(
    "GET",
    _COINS,
    scope=BENCH,
    summary="List coins",
    query=CoinsQuery(),
    answers={200: CoinListDocument()},
    answer_headers={"Link": 'The next page, as rel="next", where there is one.'},
    examples=Examples(query={"after": "at_10s_1957_1973", "limit": "2"}),
)
def list_coins(call: Call) -> Reply:
    """List coins by key; follow the Link header for more."""
    asked = call.query
    found = call.services.coins.list(after=asked["after"] or "")
    wanted = [coin for coin in found if asked["origin"] in {None, coin.origin}]
    page = wanted[: asked["limit"]]
    more = len(wanted) > len(page)
    return Reply({"coins": page}, headers=_next(page, asked) if more else {})


def _next(page: list[StoredCoin], asked: Any) -> dict[str, str]:
    query = {"after": page[-1].coin.key, "limit": asked["limit"]}
    if asked["origin"]:
        query["origin"] = asked["origin"]
    return {"Link": f'<{_COINS}?{urlencode(query)}>; rel="next"'}


@routes.operation(
    "POST",
    _COINS,
    scope=BENCH,
    summary="Add a coin",
    body=CoinBody(),
    answers={201: CoinDocument()},
    problems=(CONFLICT,),
    answer_headers=_ETAG | {"Location": "Where the coin is."},
    examples=Examples(body=_NEW),
)
def add_coin(call: Call) -> Reply:
    """Add a coin of the workshop's own.

    With the key of a published coin it is used in that one's place.
    """
    added = call.services.coins.add(call.body())
    place = {"Location": f"{_COINS}/{added.coin.key}"}
    return Reply(added, etag=_tag(added), headers=place)


@routes.operation(
    "GET",
    f"{_COINS}/<key>",
    scope=BENCH,
    summary="Read a coin",
    path=CoinPath(),
    answers={200: CoinDocument()},
    answer_headers=_ETAG,
    examples=Examples(path=_PATH),
)
def read_coin(call: Call) -> Reply:
    """Read a coin with the source of each figure."""
    found = call.services.coins.get(call.path["key"])
    return Reply(found, etag=_tag(found))


@routes.operation(
    "PUT",
    f"{_COINS}/<key>",
    scope=BENCH,
    summary="Change a coin",
    path=CoinPath(),
    body=CoinBody(),
    answers={200: CoinDocument()},
    conditional=True,
    answer_headers=_ETAG,
    examples=Examples(path=_PATH, body=_BODY),
)
def change_coin(call: Call) -> Reply:
    """Change a coin, whole.

    A published coin stays in the catalogue; from then on the workshop's own
    figures are used in its place, until they are deleted.
    """
    key, old = call.path["key"], call.services.coins.get(call.path["key"])
    call.require_match(_tag(old))
    coin = _of_key(call.body(), key)
    changed = call.services.coins.replace(key, coin, expected=old.revision)
    return Reply(changed, etag=_tag(changed))


def _of_key(coin: Coin, key: str) -> Coin:
    if coin.key in {"", key}:
        return coin
    raise InvalidInput(
        f"'{coin.key}' is not the coin of this address, '{key}'; leave the key out, "
        "or add a coin of the other key with POST",
        path=("key",),
    )


@routes.operation(
    "DELETE",
    f"{_COINS}/<key>",
    scope=BENCH,
    summary="Delete a coin",
    path=CoinPath(),
    answers={204: None},
    problems=(CONFLICT,),
    conditional=True,
    examples=Examples(path={"key": "at_50s_own"}),
)
def delete_coin(call: Call) -> Reply:
    """Delete a coin of the workshop's own.

    If it stood in place of a published one, that one is back. A published coin
    cannot be deleted.
    """
    old = call.services.coins.get(call.path["key"])
    call.require_match(_tag(old))
    call.services.coins.remove(call.path["key"], expected=old.revision)
    return Reply()


def _tag(coin: StoredCoin) -> str:
    return tag("coin", coin.revision)
