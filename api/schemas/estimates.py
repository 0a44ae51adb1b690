"""What an estimate is asked for with: a coin, a size, and how it is sold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, post_load

from api.schemas.coins import CoinBody
from api.schemas.fields import (
    NOT_NEGATIVE,
    POSITIVE,
    Bounds,
    Choice,
    DecimalText,
    Document,
    Field,
    KeyText,
    LengthText,
    ListOf,
    MoneyText,
    Part,
    SpotText,
    StrictInteger,
    Text,
)
from api.schemas.refusals import messages_of
from pricing.coin import Coin
from pricing.coin_document import read_coin
from pricing.errors import InvalidInput
from pricing.ring_size import SYSTEMS, RingSize, ring_size
from pricing.wish import INCLUDES, MOST_PIECES, OwnCoin, Wish


class SizeBody(Document):
    """A finger size in one of the systems, such as us 10 or uk T 1/2."""

    system = Choice(SYSTEMS, required=True)
    size = Text(least=1, most=20, required=True)

    @post_load
    def _to_size(self, data: dict[str, str], **_: Any) -> RingSize:
        try:
            return ring_size(data["system"], data["size"])
        except InvalidInput as refused:
            raise ValidationError(refused.message, field_name="size") from refused


class OwnCoinBody(Document):
    """A coin the customer brings, and what is agreed if it is lost."""

    compensation = MoneyText(bounds=NOT_NEGATIVE, load_default="0")

    @post_load
    def _to_own_coin(self, data: dict[str, Any], **_: Any) -> OwnCoin:
        return OwnCoin(**data)


class SpotBody(Document):
    """A spot price for this estimate alone [currency/ozt]."""

    price = SpotText(bounds=POSITIVE, required=True)


class CoinChoice(Field):
    """The key of a coin, or a coin of one's own given inline."""

    inline = CoinBody()
    key = KeyText()

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> str | Coin:
        if isinstance(value, str):
            return str(self.key.deserialize(value))
        if not isinstance(value, Mapping):
            raise ValidationError(
                'this has to be the key of a coin in quotes, or {"gross_mass_g": …, '
                '"fineness_permille": …, "diameter_mm": …}'
            )
        try:
            return read_coin(value)
        except InvalidInput as refused:
            raise ValidationError(messages_of(refused)) from refused


class EstimateBody(Document):
    """One kind of ring and how it is to be sold."""

    coin = CoinChoice(required=True)
    size = Part(SizeBody, required=True)
    quantity = StrictInteger(least=1, most=MOST_PIECES)
    channel = KeyText(allow_none=True)
    policy = KeyText(allow_none=True)
    extras = ListOf(KeyText(), most=20)
    own_coin = Part(OwnCoinBody, allow_none=True)
    hole_mm = LengthText(bounds=POSITIVE, allow_none=True)
    band_width_mm = LengthText(bounds=POSITIVE, allow_none=True)
    spot = Part(SpotBody, allow_none=True)
    confidence = DecimalText(bounds=Bounds(above=0, below=1))
    coin_paid = MoneyText(bounds=NOT_NEGATIVE, allow_none=True)
    include = ListOf(Choice(INCLUDES), most=len(INCLUDES))

    @post_load
    def _to_wish(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        coin, spot = data.pop("coin"), data.pop("spot", None)
        data["extras"] = tuple(data.get("extras", ()))
        data["include"] = frozenset(data.get("include", ()))
        given = spot and spot["price"]
        return {"coin": coin, "spot": given, "wish": Wish(**data)}
