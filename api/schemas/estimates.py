"""What an estimate is asked for with: a coin, a size, and how it is sold."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, post_load

from api.schemas.coins import CoinChoice
from api.schemas.fields import (
    NOT_NEGATIVE,
    POSITIVE,
    Bounds,
    Choice,
    DecimalText,
    Document,
    KeyText,
    LengthText,
    ListOf,
    MoneyText,
    Part,
    SpotText,
    StrictInteger,
    Text,
)
from pricing.errors import InvalidInput
from pricing.money import ZERO
from pricing.ring_size import SYSTEMS, RingSize, ring_size
from pricing.wish import INCLUDES, MOST_PIECES, OwnCoin, Wish

MOST_EXTRAS = 20


class SizeBody(Document):
    """A finger size in one of the systems."""

    system = Choice(
        SYSTEMS,
        required=True,
        metadata={"description": "The system; /v1/ring-sizes says what each is."},
    )
    size = Text(
        least=1,
        most=20,
        required=True,
        metadata={"description": "As the system writes it: 10, T 1/2, 62."},
    )

    @post_load
    def _to_size(self, data: dict[str, str], **_: Any) -> RingSize:
        try:
            return ring_size(data["system"], data["size"])
        except InvalidInput as refused:
            raise ValidationError(refused.message, field_name="size") from refused


class OwnCoinBody(Document):
    """A coin the customer brings: it costs nothing and cannot be replaced."""

    compensation = MoneyText(
        bounds=NOT_NEGATIVE,
        load_default=ZERO,
        metadata={"description": "Agreed for the coin if it is lost [currency]."},
    )

    @post_load
    def _to_own_coin(self, data: dict[str, Any], **_: Any) -> OwnCoin:
        return OwnCoin(**data)


class SpotBody(Document):
    """A spot price for this estimate alone."""

    price = SpotText(
        bounds=POSITIVE,
        required=True,
        metadata={"description": "For one troy ounce [currency of the book/ozt]."},
    )


class EstimateBody(Document):
    """One kind of ring and how it is to be sold."""

    coin = CoinChoice(
        required=True,
        metadata={"description": "The key of a coin, or a coin given inline."},
    )
    size = Part(SizeBody, required=True, metadata={"description": "Finger size."})
    quantity = StrictInteger(
        least=1,
        most=MOST_PIECES,
        load_default=1,
        metadata={"description": "Pieces of this ring in the order."},
    )
    channel = KeyText(
        load_default=None,
        metadata={"description": "Where it is sold; left out, the book's first."},
    )
    policy = KeyText(
        load_default=None,
        metadata={"description": "How it is priced; left out, the book's first."},
    )
    extras = ListOf(
        KeyText(),
        most=MOST_EXTRAS,
        load_default=(),
        metadata={"description": "Keys of extras for each piece."},
    )
    own_coin = Part(
        OwnCoinBody,
        load_default=None,
        metadata={"description": "Given if the customer brings the coin."},
    )
    hole_mm = LengthText(
        bounds=POSITIVE,
        load_default=None,
        metadata={"description": "Hole wanted [mm]; not with band_width_mm."},
    )
    band_width_mm = LengthText(
        bounds=POSITIVE,
        load_default=None,
        metadata={"description": "Band width wanted [mm]; not with hole_mm."},
    )
    spot = Part(
        SpotBody,
        load_default=None,
        metadata={"description": "Left out, the price in force."},
    )
    confidence = DecimalText(
        bounds=Bounds(above=0, below=1),
        metadata={
            "description": "For the number of coins to start; left out, 0.95.",
        },
    )
    coin_paid = MoneyText(
        bounds=NOT_NEGATIVE,
        load_default=None,
        metadata={
            "description": "What was really paid for the coin [currency]; shows the "
            "margin on that beside the one on what it costs today."
        },
    )
    include = ListOf(
        Choice(INCLUDES),
        most=len(INCLUDES),
        load_default=(),
        metadata={"description": "Further results; risk is a seeded simulation."},
    )

    @post_load
    def _to_wish(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        coin, spot = data.pop("coin"), data.pop("spot")
        data["extras"] = tuple(data["extras"])
        data["include"] = frozenset(data["include"])
        price = spot["price"] if spot else None
        return {"coin": coin, "wish": Wish(**data), "spot_price": price}
