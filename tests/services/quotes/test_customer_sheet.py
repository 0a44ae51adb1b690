"""The customer's sheet: everything a buyer needs, and nothing that is the maker's."""

from __future__ import annotations

import re
from dataclasses import asdict, fields, is_dataclass
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from api.services.quotes.customer_sheet import (
    CustomerSheet,
    SheetCaution,
    SheetPiece,
    SheetRenewed,
    SheetSpot,
)
from pricing.coin_document import read_coin
from tests.services.feeding import ASSAY, RATES
from tests.services.promising import (
    BASE,
    BOOK,
    CHANNEL,
    COIN,
    DOLLAR,
    INLINE,
    Promises,
    ask,
)

NUMBER = re.compile(r"\d+(?:\.\d+)?")
PUBLIC = {
    CustomerSheet: {
        *("number", "workshop", "status", "created_at", "valid_until", "decided_at"),
        *("timezone", "currency", "pieces", "goods", "shipping", "tax", "tax_rate"),
        *("tax_inclusive", "total", "deposit", "balance", "make_by"),
        *("customer_note", "cautions", "spot", "renews", "renewed_by"),
    },
    SheetPiece: {
        *("coin", "size", "quantity", "unit", "total", "extras"),
        *("own_coin", "own_coin_text"),
    },
    SheetCaution: {"code", "text"},
    SheetSpot: {"price", "as_of"},
    SheetRenewed: {"number", "total"},
}
SECRETS = (  # figures of the book that no buyer is told
    *("91.7346", "9.4781", "8.37", "21.73", "101", "0.0187", "5.37", "1.8347"),
    *("0.3719", "0.2137", "7.4319", "2.1734"),
)
NAMES = ("retail", "trade", "own_shop", "punch", "fold", "card", "at_50s", "27.53")
INSIDE = ("cost", "margin", "break_even", "forming", "spoilage", "spot", "validity")


def sheet_of(promises, *asks, **terms):
    return promises.quotes.sheet(promises.create(*asks, **terms))


def numbers(value):
    """Every number with a point in a value's texts, of four digits or more."""
    found = {each for each in NUMBER.findall(repr(value)) if "." in each}
    return {each for each in found if len(each.replace(".", "").lstrip("0")) > 3}


@pytest.mark.parametrize("kind", PUBLIC, ids=lambda kind: kind.__name__)
def test_a_sheet_has_these_members_and_no_others(kind):
    assert {field.name for field in fields(kind)} == PUBLIC[kind]


def test_no_figure_or_name_of_the_makers_gets_into_it(promises):
    quote = promises.create(
        ask(quantity=3, extras=("engraving", "box")),
        ask(DOLLAR, policy="trade", own="40", size="9", hole_mm=Decimal("17.913")),
        deposit_share=Decimal("0.5"),
        customer_note="For Lily",
    )
    document = promises.quotes.document(quote)
    sheet = repr(promises.quotes.sheet(quote))
    lines = document["lines"]
    inside = [{name: line[name] for name in INSIDE} for line in lines]
    prices = [line["price"] for line in lines]
    inside += [(price["net"], price["fee_lines"], price["rules"]) for price in prices]
    inside += [document[name] for name in ("net", "fees", "cost", "margin")]
    inside += [(document["margin_rate"], document["bench_hours"])]
    told = {price[name] for price in prices for name in ("unit", "total")}
    told |= {document[name] for name in ("goods", "total", "tax", "deposit")}
    hidden = {*numbers(inside), *SECRETS} - told
    assert len(hidden) > 75
    found = set(NUMBER.findall(sheet)) & hidden
    assert found == set()
    assert [name for name in NAMES if name in sheet.casefold()] == []


def test_the_canaries_are_in_the_document_that_the_sheet_is_made_from(promises):
    quote = promises.create(ask(extras=("engraving",)))
    for canary in ("91.7346", "7.4319", "0.3719", "27.53", "retail"):
        assert canary in quote.document


def test_it_says_what_is_bought_and_for_how_much(promises):
    quote = promises.create(
        ask(quantity=3, extras=("engraving", "box")),
        ask(read_coin(INLINE), size="T 1/2", system="uk"),
        deposit_share=Decimal("0.333333"),
        customer_note="For Lily,\nin a box",
    )
    sheet = promises.quotes.sheet(quote)
    first, second = promises.quotes.document(quote)["lines"]
    assert (sheet.number, sheet.workshop, sheet.currency) == (
        "2026-0001",
        "A bench",
        "EUR",
    )
    assert (sheet.created_at, sheet.valid_until) == (
        promises.clock.now(),
        datetime(2026, 12, 4, 12, tzinfo=UTC),
    )
    assert (sheet.timezone, sheet.make_by) == ("Europe/Vienna", quote.make_by)
    assert [piece.size for piece in sheet.pieces] == ["US 10", "UK T 1/2"]
    assert [piece.quantity for piece in sheet.pieces] == [3, 1]
    assert sheet.pieces[0].extras == ("Engraved inside", "box")
    assert sheet.pieces[1].coin == "A medal of the fair"
    for piece, line in zip(sheet.pieces, (first, second), strict=True):
        assert piece.unit == Decimal(line["price"]["unit"])
        assert piece.total == piece.quantity * piece.unit
    assert sheet.goods == sum(piece.total for piece in sheet.pieces)
    assert sheet.shipping == Decimal("6.90")
    assert sheet.total == sheet.goods + sheet.shipping == quote.total
    assert (sheet.tax_rate, sheet.tax_inclusive) == (Decimal("0.20"), True)
    assert sheet.tax == quote.tax
    assert sheet.deposit == quote.deposit
    assert sheet.balance == sheet.total - sheet.deposit
    assert sheet.customer_note == "For Lily,\nin a box"
    assert (sheet.status, sheet.decided_at, sheet.renews) == ("open", None, None)


def test_without_a_deposit_all_is_due_in_the_end(promises):
    sheet = sheet_of(promises)
    assert (sheet.deposit, sheet.balance) == (None, sheet.total)


def test_tax_on_top_is_part_of_the_total(promises):
    tax = {"rate": "0.081", "inclusive": False}
    promises.change_book(channels=[CHANNEL | {"tax": tax}])
    sheet = sheet_of(promises)
    assert (sheet.tax_inclusive, sheet.tax_rate) == (False, Decimal("0.081"))
    assert sheet.total == sheet.goods + sheet.shipping + sheet.tax


def test_the_risk_of_an_own_coin_is_said_beside_its_ring(promises):
    sheet = sheet_of(promises, ask(), ask(DOLLAR, own="40"))
    first, second = sheet.pieces
    assert (first.own_coin, first.own_coin_text) == (False, "")
    assert second.own_coin
    assert "About 13 in 100 coins fail" in second.own_coin_text
    assert "40.00 EUR are agreed" in second.own_coin_text


def test_what_concerns_the_buyer_is_said_once(promises):
    sheet = sheet_of(promises, ask(), ask(size="9"), ask(DOLLAR, own="0"))
    assert [caution.code for caution in sheet.cautions] == [
        "metal_silver",
        "wide_band",
        "own_coin_risk",
    ]
    half = read_coin({**INLINE, "fineness_permille": "500"})
    sheet = sheet_of(promises, ask(), ask(half))
    metals = [each.text for each in sheet.cautions if each.code == "metal_silver"]
    assert [text[:3] for text in metals] == ["900", "500"]


def test_nothing_for_the_bench_is_on_it(promises):
    quote = promises.create()
    (line,) = promises.quotes.document(quote)["lines"]
    bench = {each["code"] for each in line["cautions"] if each["audience"] == "bench"}
    sheet = promises.quotes.sheet(quote)
    assert len(bench) > 2
    assert bench.isdisjoint({caution.code for caution in sheet.cautions})


def test_the_spot_is_shown_where_the_maker_wants_it(promises):
    assert sheet_of(promises).spot is None
    shown = SheetSpot(price=Decimal("27.53"), as_of=promises.clock.now())
    assert sheet_of(promises, show_spot=True).spot == shown
    given = sheet_of(promises, ask(spot="31.25"), ask(), show_spot=True).spot
    assert given.price == Decimal("31.25")


def fetched(promises, *, metal="XAG", price="29", currency="EUR", source="assay"):
    """A price of a feed, on record."""
    entry = promises.spots.enter(metal, Decimal(price), currency)
    with promises.storage.engine.begin() as connection:
        connection.exec_driver_sql(
            "UPDATE spot_prices SET source = ? WHERE id = ?", (source, entry.id)
        )


def set_up(promises, key, document, *, may_display):
    revision = promises.snapshots.take().feeds.get(key)
    promises.feeds.put(
        key,
        document | {"may_display": may_display},
        expected=revision and revision.revision,
    )


@pytest.mark.parametrize("may_display", [True, False])
def test_a_feeds_price_is_shown_only_where_its_licence_lets_it(promises, may_display):
    set_up(promises, "assay", ASSAY, may_display=may_display)
    promises.clock.advance(minutes=1)
    fetched(promises)
    quote = promises.create(show_spot=True)
    shown = promises.quotes.sheet(quote).spot
    assert (shown is not None) is may_display
    set_up(promises, "assay", ASSAY, may_display=not may_display)
    shown = promises.quotes.sheet(quote).spot
    assert (shown is None) is may_display


def test_the_price_of_a_feed_that_is_gone_is_not_shown(promises):
    promises.clock.advance(minutes=1)
    fetched(promises, source="long_gone")
    assert sheet_of(promises, show_spot=True).spot is None


@pytest.mark.parametrize("may_display", [True, False])
def test_a_converted_price_needs_leave_of_the_rates_source_too(promises, may_display):
    set_up(promises, "rates", RATES, may_display=may_display)
    promises.clock.advance(minutes=1)
    promises.spots.enter("XAG", Decimal(30), "USD")
    fetched(promises, metal="CHF", price="1.1", currency="EUR", source="rates")
    promises.spots.enter("CHF", Decimal("1.25"), "USD")
    sheet = sheet_of(promises, show_spot=True)
    assert (sheet.spot is not None) is may_display


def test_a_quote_that_stands_on_no_spot_shows_none(open_database, tmp_path, clock):
    bare = Promises(open_database(str(tmp_path / "bare.sqlite3")), clock)
    bare.books.replace(BOOK, expected=None)
    quote = bare.create(ask(BASE), show_spot=True)
    assert bare.quotes.document(quote)["lines"][0]["spot"] is None
    assert bare.quotes.sheet(quote).spot is None


def test_what_became_of_it_is_said(promises):
    quote, other = promises.create(), promises.create()
    promises.clock.advance(hours=1)
    accepted = promises.quotes.sheet(promises.quotes.accept(quote.id, expected=1))
    assert (accepted.status, accepted.decided_at) == ("accepted", promises.clock.now())
    renewed = promises.quotes.sheet(promises.quotes.renew(other.id, expected=1))
    assert renewed.renews == SheetRenewed(number=other.number, total=other.total)
    assert renewed.renewed_by is None
    promises.clock.advance(days=3)
    old = promises.quotes.sheet(promises.quotes.get(other.id))
    assert (old.status, old.renewed_by) == ("renewed", renewed.number)


def test_it_says_neither_who_decided_nor_why(promises):
    quote = promises.create()
    declined = promises.quotes.decline(quote.id, expected=1, reason="SECRETREASON")
    assert "SECRETREASON" not in repr(promises.quotes.sheet(declined))


def test_every_part_is_a_value_of_its_own(promises):
    sheet = sheet_of(promises)
    assert is_dataclass(sheet)
    assert asdict(sheet)["pieces"][0]["coin"] == sheet.pieces[0].coin
    assert COIN not in repr(sheet)
