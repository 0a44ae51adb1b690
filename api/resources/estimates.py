"""Estimates: a computed price with everything it stands on; nothing is stored."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from api.endpoint import Call, Examples, Reply, Routes
from api.problems import (
    NO_POSSIBLE_PRICE,
    NOT_FOUND,
    NOT_MAKEABLE,
    SPOT_STALE,
    SPOT_UNAVAILABLE,
    UNKNOWN_KEY,
)
from api.schemas.estimate_document import EstimateDocument
from api.schemas.estimates import EstimateBody
from api.security import BENCH
from pricing.errors import InvalidInput

_COIN = ("coin",)


def _example_answer() -> Any:
    """What the demo's workshop answers to the example; a test holds it true."""
    file = files("api.schemas") / "estimate_example.json"
    return json.loads(file.read_text("utf-8"))


routes = Routes(
    "estimates",
    title="Estimates",
    about="What a ring costs to make and what it has to sell for. Estimates hold "
    "costs and margins: never pass one on to a buyer.",
)


@routes.operation(
    "POST",
    "/v1/estimates",
    scope=BENCH,
    summary="Price a ring",
    body=EstimateBody(),
    answers={200: EstimateDocument()},
    problems=(
        NOT_FOUND,
        UNKNOWN_KEY,
        NOT_MAKEABLE,
        NO_POSSIBLE_PRICE,
        SPOT_UNAVAILABLE,
        SPOT_STALE,
    ),
    examples=Examples(
        body={
            "coin": "at_50s_1959_1973",
            "size": {"system": "us", "size": "10"},
            "spot": {"price": "27.50"},
        },
        answer=_example_answer(),
    ),
)
def price_ring(call: Call) -> Reply:
    """Price a ring from a coin, a finger size and a spot price.

    The answer holds every figure in between: the forming plan, the chances of each
    stage, the cost lines with their arithmetic, the rules and the one that set the
    price, the margin, and the spot prices at which it falls to its floor or is gone.
    Left out, 'spot' is the price in force, and 'channel' and 'policy' are the
    first of the price book.
    """
    asked = call.body()
    try:
        return Reply(call.services.estimates.estimate(**asked))
    except InvalidInput as error:
        if isinstance(asked["coin"], str) and error.path[:1] == _COIN:
            # The fault is inside a stored coin, of which the body has only the key.
            raise InvalidInput(error.message, path=_COIN) from error
        raise
