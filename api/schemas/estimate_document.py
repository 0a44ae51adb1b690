"""An estimate as it is written on the wire: every figure it stands on."""

from __future__ import annotations

from dataclasses import dataclass, fields
from decimal import Decimal
from functools import cached_property
from types import SimpleNamespace
from typing import Any

from api.schemas.document import Answer, Remembered
from api.schemas.estimate_money import (
    BreakEvenDocument,
    CostDocument,
    MarginDocument,
    PriceDocument,
    RiskDocument,
)
from api.schemas.estimate_parts import (
    LONG,
    MOST_COUNT,
    CautionDocument,
    FormingDocument,
    OwnCoinDocument,
    SpoilageDocument,
    SpotDocument,
    ValidityDocument,
)
from api.schemas.estimates import MOST_EXTRAS
from api.schemas.fields import (
    CurrencyText,
    DecimalText,
    KeyText,
    ListOf,
    Part,
    StrictInteger,
    Text,
)
from api.schemas.telling import told
from pricing.estimate import Estimate
from pricing.money import minutes
from pricing.route import StageWork
from pricing.spoilage import Spoilage
from pricing.wish import MOST_PIECES


class SizeDocument(Answer):
    """The finger size as it was asked for, and as a US number."""

    system = told(Text, "The system asked in.", most=20)
    size = told(Text, "The size as asked.", most=20, attribute="given")
    us = told(DecimalText, "The same as a US number.")


class WishDocument(Answer):
    """What the estimate is for."""

    coin = told(KeyText, "Key of the coin; null if given inline.", allow_none=True)
    coin_name = told(Text, "What a person calls it.", most=LONG)
    size = told(Part, "Finger size.", SizeDocument, attribute="wish.size")
    quantity = told(
        StrictInteger,
        "Pieces in the order.",
        least=1,
        most=MOST_PIECES,
        attribute="wish.quantity",
    )
    channel = told(KeyText, "Where it is sold.", attribute="channel.key")
    policy = told(KeyText, "How it is priced.", attribute="policy.key")
    extras = told(
        ListOf,
        "Extras of each piece.",
        KeyText(),
        most=MOST_EXTRAS,
        attribute="wish.extras",
    )


class EstimateDocument(Answer):
    """A computed price with everything it stands on; nothing is stored by it."""

    currency = told(
        CurrencyText, "Every amount is in it (ISO 4217).", attribute="currency.code"
    )
    book_version = told(
        StrictInteger, "Version of the price book used.", least=0, most=MOST_COUNT
    )
    wish = told(Part, "What was asked for.", WishDocument)
    spot = told(
        Part,
        "The spot price; null for a coin without a metal price.",
        SpotDocument,
        allow_none=True,
    )
    forming = told(Part, "From coin to ring.", FormingDocument, kept=True)
    spoilage = told(Part, "What becomes of a start.", SpoilageDocument, kept=True)
    cost = told(Part, "What a good piece costs.", CostDocument)
    price = told(Part, "What it sells for.", PriceDocument)
    margin = told(Part, "What is left.", MarginDocument)
    break_even = told(
        Part, "How far the metal may move before it is gone.", BreakEvenDocument
    )
    validity = told(Part, "How long the price may be promised.", ValidityDocument)
    own_coin = told(
        Part,
        "What a customer who brings the coin has to know; else null.",
        OwnCoinDocument,
        allow_none=True,
    )
    cautions = told(
        ListOf,
        "What to watch: law, safety, an old spot price.",
        Part(CautionDocument, kept=True),
        most=40,
    )
    risk = told(
        Part, "The simulation; null if not included.", RiskDocument, allow_none=True
    )

    @cached_property
    def _remembered(self) -> Remembered:
        return Remembered()

    def encoded(self, obj: Any) -> bytes:
        """The document as JSON; of an estimate that is told again, the same text."""
        return self._remembered.encoded(obj, super().encoded)

    def arranged(self, obj: Estimate) -> Any:
        """The estimate in the sections of this document."""
        return _Sections(obj)


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
    def spot(self) -> SimpleNamespace | None:
        spot = self.estimate.spot
        if spot is None:
            return None
        members = {field.name: getattr(spot, field.name) for field in fields(spot)}
        codes = (caution.code for caution in self.estimate.cautions)
        return SimpleNamespace(stale="spot_stale" in codes, **members)

    @property
    def validity(self) -> SimpleNamespace:
        found = self.estimate
        return SimpleNamespace(
            policy_hours=found.policy.validity_hours, suggested=found.validity
        )

    @property
    def margin(self) -> Estimate:
        return self.estimate

    @property
    def spoilage(self) -> _Route:
        found = self.estimate
        return _Route(
            found.spoilage, found.work, found.wish.confidence, found.coins_to_start
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Route:
    """What becomes of a start, arranged in the members of its document.

    Two are equal if they are of the same chain and work, not of equal ones: to
    compare some hundred figures would take as long as to write them.
    """

    chain: Spoilage
    work: tuple[StageWork, ...]
    confidence: Decimal
    coins: int | None

    def __hash__(self) -> int:
        return hash((id(self.chain), id(self.work)))

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, _Route)
            and self.chain is other.chain
            and self.work is other.work
            and self.confidence == other.confidence
            and self.coins == other.coins
        )

    @property
    def chance_good(self) -> Decimal:
        return self.chain.chance_good

    @property
    def starts_per_good(self) -> Decimal:
        return self.chain.starts_per_good

    @property
    def coins_to_start(self) -> list[dict[str, object]]:
        if self.coins is None:
            return []
        return [{"confidence": self.confidence, "coins": self.coins}]

    @property
    def stages(self) -> list[SimpleNamespace]:
        stages = self.chain.stages
        return [
            SimpleNamespace(
                stage=work.key,
                title=work.title,
                minutes=minutes(work.minutes),
                unattended_minutes=minutes(work.unattended_minutes),
                visits=chance.visits,
                reached=chance.reached,
                scrap_chance=chance.scrap.value,
                scrap_low=chance.scrap.low,
                scrap_high=chance.scrap.high,
                redo_chance=chance.redo.value if chance.redo else None,
                redo_to=None if chance.redo_to is None else stages[chance.redo_to].key,
            )
            for work, chance in zip(self.work, stages, strict=True)
        ]


_DOCUMENT = EstimateDocument()


def estimate_document(estimate: Estimate) -> dict[str, Any]:
    """The document of an estimate; all figures as the estimate carries them."""
    document: dict[str, Any] = _DOCUMENT.dump(estimate)
    return document
