"""An estimate as it is written on the wire: every figure it stands on."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

from marshmallow import pre_dump

from api.schemas.document import Answer
from api.schemas.estimate_parts import (
    MOST_COUNT,
    BreakEvenDocument,
    CautionDocument,
    CostDocument,
    FormingDocument,
    MarginDocument,
    OwnCoinDocument,
    PriceDocument,
    RiskDocument,
    SpoilageDocument,
    SpotDocument,
)
from api.schemas.fields import (
    CurrencyText,
    DecimalText,
    KeyText,
    ListOf,
    Part,
    StrictInteger,
    Text,
)
from pricing.estimate import Estimate


class SizeDocument(Answer):
    """The finger size as it was asked for, and as a US number."""

    system = Text(most=20)
    size = Text(most=20, attribute="given")
    us = DecimalText()


class WishDocument(Answer):
    """What the estimate is for."""

    coin = Text(most=64, allow_none=True)
    coin_name = Text(most=200)
    size = Part(SizeDocument, attribute="wish.size")
    quantity = StrictInteger(least=1, most=1000, attribute="wish.quantity")
    channel = KeyText(attribute="channel.key")
    policy = KeyText(attribute="policy.key")
    extras = ListOf(KeyText(), most=20, attribute="wish.extras")


class EstimateDocument(Answer):
    """A computed price with everything it stands on; nothing is stored by it."""

    currency = CurrencyText(attribute="currency.code")
    book_version = StrictInteger(least=0, most=MOST_COUNT)
    wish = Part(WishDocument)
    spot = Part(SpotDocument, allow_none=True)
    forming = Part(FormingDocument)
    spoilage = Part(SpoilageDocument)
    cost = Part(CostDocument)
    price = Part(PriceDocument)
    margin = Part(MarginDocument)
    break_even = Part(BreakEvenDocument)
    own_coin = Part(OwnCoinDocument, allow_none=True)
    cautions = ListOf(Part(CautionDocument), most=40)
    risk = Part(RiskDocument, allow_none=True)

    @pre_dump
    def _arrange(self, estimate: Estimate, **_: Any) -> Any:
        return _Sections(estimate)


@dataclass(frozen=True, slots=True)
class _Sections:
    """An estimate arranged in the sections of its document."""

    estimate: Estimate

    def __getattr__(self, name: str) -> Any:
        return getattr(self.estimate, name)

    @property
    def wish(self) -> SimpleNamespace:
        found = self.estimate
        return SimpleNamespace(
            coin=found.coin.key or None,
            coin_name=found.coin.label,
            wish=found.wish,
            channel=found.channel,
            policy=found.policy,
        )

    @property
    def margin(self) -> Estimate:
        return self.estimate

    @property
    def spoilage(self) -> SimpleNamespace:
        chain = self.estimate.spoilage
        return SimpleNamespace(
            chance_good=chain.chance_good,
            starts_per_good=chain.starts_per_good,
            coins_to_start=self._coins_to_start(),
            stages=self._stages(),
        )

    def _coins_to_start(self) -> list[dict[str, object]]:
        found = self.estimate
        if found.coins_to_start is None:
            return []
        return [{"confidence": found.wish.confidence, "coins": found.coins_to_start}]

    def _stages(self) -> list[SimpleNamespace]:
        chain = self.estimate.spoilage.stages
        return [
            SimpleNamespace(
                stage=work.key,
                title=work.title,
                minutes=work.minutes,
                unattended_minutes=work.unattended_minutes,
                visits=chance.visits,
                reached=chance.reached,
                scrap_chance=chance.scrap.value,
                scrap_low=chance.scrap.low,
                scrap_high=chance.scrap.high,
                redo_chance=chance.redo.value if chance.redo else None,
                redo_to=(None if chance.redo_to is None else chain[chance.redo_to].key),
            )
            for work, chance in zip(self.estimate.work, chain, strict=True)
        ]


_DOCUMENT = EstimateDocument()


def estimate_document(estimate: Estimate) -> dict[str, Any]:
    """The document of an estimate; all figures as the estimate carries them."""
    document: dict[str, Any] = _DOCUMENT.dump(estimate)
    return document
