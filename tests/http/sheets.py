"""A customer's sheet with any member changed, and a service that knows some."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from decimal import Decimal

from api import ports
from api.services.quotas import QuotaStanding
from api.services.quotes.customer_sheet import (
    CustomerSheet,
    SheetCaution,
    SheetPiece,
    SheetRenewed,
    SheetSpot,
)

TOKEN = "Zm9yIHRoZSBjdXN0b21lcidzIGV5ZXM_"
SCHILLING = SheetPiece(
    coin="Austria, 50 schilling",
    size="US 10",
    quantity=1,
    unit=Decimal("94.95"),
    total=Decimal("94.95"),
    extras=("Ring box", "Engraving"),
    own_coin=False,
    own_coin_text="",
)
FRANC = SheetPiece(
    coin="Switzerland, 5 francs",
    size="UK T 1/2",
    quantity=2,
    unit=Decimal("574.95"),
    total=Decimal("1149.90"),
    extras=(),
    own_coin=True,
    own_coin_text="Lost at times.",
)
SHEET = CustomerSheet(
    number="2026-0017",
    workshop="A bench by the mill",
    status="open",
    created_at=datetime(2026, 11, 25, 23, 30, tzinfo=UTC),
    valid_until=datetime(2026, 11, 28, 13, 30, 59, tzinfo=UTC),
    decided_at=None,
    timezone="Europe/Vienna",
    currency="EUR",
    pieces=(SCHILLING, FRANC),
    goods=Decimal("1244.85"),
    shipping=Decimal("6.90"),
    tax=Decimal("208.63"),
    tax_rate=Decimal("0.20"),
    tax_inclusive=True,
    total=Decimal("1251.75"),
    deposit=Decimal("625.88"),
    balance=Decimal("625.87"),
    make_by=date(2026, 12, 18),
    customer_note="Measure in the evening.\nThen measure again.",
    cautions=(
        SheetCaution(code="metal_silver", text="900 silver."),
        SheetCaution(code="wide_band", text="A wide band fits tighter."),
    ),
    spot=SheetSpot(price=Decimal("27.5"), as_of=datetime(2026, 11, 25, 8, tzinfo=UTC)),
    renews=SheetRenewed(number="2026-0009", total=Decimal("1300.00")),
    renewed_by=None,
)


@dataclass
class FakeQuotes:
    """Knows one sheet by its address; remembers what it was asked."""

    shown: CustomerSheet = SHEET
    asked: list[str] = field(default_factory=list)
    fail_with: Exception | None = None

    def by_sheet(self, token: str) -> str:
        self.asked.append(token)
        if self.fail_with:
            raise self.fail_with
        if token != TOKEN:
            raise ports.NotFound(f"there is no quote '{token}'")
        return token

    def sheet(self, quote: str) -> CustomerSheet:
        return self.shown

    def change(self, **members: object) -> None:
        self.shown = replace(self.shown, **members)


@dataclass
class FakeQuotas:
    """Lets everybody look, or nobody; remembers who asked."""

    passed: bool = True
    asked: list[tuple[str, str]] = field(default_factory=list)

    def count(self, policy: str, who: str, *, ahead: bool = False) -> QuotaStanding:
        self.asked.append((policy, who))
        return QuotaStanding(
            policy=policy, limit=60, left=0, ends_in_s=30, passed=self.passed
        )
