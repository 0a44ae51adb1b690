"""What becomes of every price at one spot, worked out once for all that share it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from unittest.mock import patch

import pytest

from api.ports import StaleSpot
from api.services.repricings import judged_cases
from api.services.repricings.judged_cases import CaseJudge
from api.services.repricings.price_ground import PriceGrounds
from pricing.errors import UnknownKey
from tests.services.promising import BASE
from tests.services.repricing import NOTHING, POLICIES, SHOP_BOOK, Shop

ASKED = Decimal("154.95")
BAND = ("5", "5.5")
DECISIONS = {
    "154.95": "hold",
    "152.00": "hold",
    "140.00": "raise",
    "170.00": "lower",
    "200.00": "review",
    "100.00": "review",
}


@pytest.fixture
def judged(shop):
    """Everything in use, judged."""
    grounds = PriceGrounds(shop.clock, books=shop.books, spots=shop.spots)
    judge = CaseJudge(shop.snapshots, shop.compiled)

    def judged(spot=None, skus=None):
        price = None if spot is None else Decimal(spot)
        return judge.judged(grounds.at(price), skus)

    return judged


@pytest.fixture
def counted(shop, monkeypatch):
    """Which specs are priced, in order."""
    seen = []
    finder = shop.compiled.finder

    def counting(book):
        find = finder(book)

        def counted(spec):
            seen.append(spec)
            return find(spec)

        return counted

    monkeypatch.setattr(shop.compiled, "finder", counting)
    return seen


def test_the_figures_here_are_about_this_price(shop):
    assert shop.asked() == ASKED


@pytest.mark.parametrize(("price", "decision"), DECISIONS.items())
def test_a_price_is_judged_by_the_policy(shop, judged, price, decision):
    shop.list(shop.listing("R", (*BAND, price)))
    [case] = judged().cases
    assert case.decision == decision
    moves = decision in {"raise", "lower"}
    assert case.change == (ASKED - Decimal(price) if moves else 0)


def test_counts_are_of_bands_and_locked_goes_before_everything(shop, judged):
    for number, price in enumerate(DECISIONS):
        shop.list(shop.listing(f"R-{number}", (*BAND, price)))
        shop.list(shop.listing(f"L-{number}", (*BAND, price), locked=True))
    found = judged()
    assert found.counts() == NOTHING | {
        "hold": 2,
        "raise": 1,
        "lower": 1,
        "review": 2,
        "locked": 6,
    }
    assert found.bands == 12
    assert found.value_change() == (ASKED - 140) + (ASKED - 170)


def test_equal_specs_share_one_computation_and_equal_prices_one_case(
    shop, judged, counted
):
    shop.list(
        *(shop.listing(f"A-{n}", (*BAND, "140")) for n in range(5)),
        *(shop.listing(f"B-{n}", (*BAND, "170")) for n in range(4)),
    )
    found = judged()
    assert len(counted) == 1
    assert [(c.case.price, c.case.bands) for c in found.cases] == [(140, 5), (170, 4)]


def test_nothing_is_worked_out_again_while_nothing_has_changed(
    shop, judged, counted, clock
):
    shop.list(shop.listing("R", (*BAND, "140")))
    first = judged()
    clock.advance(hours=1)
    again = judged()
    assert again.cases is first.cases
    assert again.ground.spot.age_hours == first.ground.spot.age_hours + 1
    judged(skus=["R"])
    judged("28")
    assert len(counted) == 3


def test_whatever_changes_is_worked_out_again(shop, judged, counted):
    shop.list(shop.listing("R", (*BAND, "140")))
    judged()
    shop.reprice_by_hand("R", "141")
    assert judged().cases[0].case.price == 141
    shop.silver("40")
    assert judged().cases[0].judged.asked > ASKED
    shop.change_book(title="Another")
    judged()
    shop.coins.add(_own())
    judged()
    assert len(counted) == 5


def _own():
    return replace(BASE, key="own")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"coin": "gone"}, "no coin 'gone'"),
        ({"policy": "gone"}, "no policy 'gone'"),
        ({"channel": "gone"}, "no channel 'gone'"),
        ({"extras": ("gone",)}, "no extra 'gone'"),
    ],
    ids=str,
)
def test_what_is_gone_blocks_its_bands_with_the_reason(shop, judged, asked, said):
    shop.list(shop.listing("R", (*BAND, "140"), ("6", "6", "170"), **asked))
    found = judged()
    assert found.counts() == NOTHING | {"blocked": 2}
    for each in found.cases:
        assert said in each.blocked
        assert each.judged is None
        assert each.change == 0


def test_what_cannot_be_made_or_priced_is_blocked_and_others_are_not(shop, judged):
    greedy = {"key": "greedy", "target_margin": "0.99"}
    shop.change_book(policies=[*POLICIES, greedy])
    shop.list(
        shop.listing("A", ("13", "13", "140"), coin="us_dime_1892_1964"),
        shop.listing("B", (*BAND, "140"), policy="greedy"),
        shop.listing("C", (*BAND, "140")),
        shop.listing("D", (*BAND, "140.005")),
    )
    found = judged()
    assert found.counts() == NOTHING | {"blocked": 3, "raise": 1}
    reasons = [each.blocked for each in found.cases if each.blocked]
    assert any("US 13" in reason for reason in reasons)
    assert any("no price" in reason for reason in reasons)
    assert any("140.005" in reason for reason in reasons)


def test_without_a_spot_only_what_needs_one_is_blocked(storage, clock):
    shop = Shop(storage, clock)
    shop.books.replace(SHOP_BOOK, expected=None)
    shop.coins.add(replace(BASE, key="medal"))
    shop.list(
        shop.listing("A", (*BAND, "140")),
        shop.listing("B", ("9", "9", "140"), coin="medal"),
    )
    judge = CaseJudge(shop.snapshots, shop.compiled)
    grounds = PriceGrounds(clock, books=shop.books, spots=shop.spots)
    silver, medal = judge.judged(grounds.at(None)).cases
    assert "no spot price of XAG is in force" in silver.blocked
    assert medal.judged is not None


def test_why_a_price_of_silver_is_missing_is_said_as_it_is_now(storage, clock):
    shop = Shop(storage, clock)
    shop.books.replace(SHOP_BOOK, expected=None)
    shop.list(shop.listing("A", (*BAND, "140")))
    judge = CaseJudge(shop.snapshots, shop.compiled)
    grounds = PriceGrounds(clock, books=shop.books, spots=shop.spots)
    [silver] = judge.judged(grounds.at(None)).cases
    assert "no spot price of XAG is in force" in silver.blocked
    shop.spots.enter("XAG", Decimal(30), "USD")
    [silver] = judge.judged(grounds.at(None)).cases
    assert "no exchange rate between them is in force" in silver.blocked


def test_a_stale_spot_is_refused_where_a_policy_in_use_refuses_it(shop, judged, clock):
    patient = POLICIES[0] | {"stale_spot": {"warn_hours": "24", "refuse_hours": "72"}}
    hasty = POLICIES[1] | {"stale_spot": {"warn_hours": "1", "refuse_hours": "2"}}
    shop.change_book(policies=[patient, hasty])
    shop.silver("27.50")
    shop.list(shop.listing("A", (*BAND, "140")))
    clock.advance(hours=3)
    assert judged().counts()["raise"] == 1
    shop.list(shop.listing("B", (*BAND, "140"), policy="trade"))
    with pytest.raises(StaleSpot, match="the policy 'trade' refuses over 2"):
        judged()
    assert judged("27.50").bands == 2
    assert judged(skus=["A"]).bands == 1


def test_a_price_that_grows_stale_is_refused_though_nothing_else_changed(
    shop, judged, clock
):
    shop.silver("27.50")
    shop.list(shop.listing("A", (*BAND, "140")))
    judged()
    clock.advance(days=20)
    with pytest.raises(StaleSpot):
        judged()


def test_some_listings_are_judged_alone_and_each_once(shop, judged):
    shop.list(shop.listing("A", (*BAND, "140")), shop.listing("B", (*BAND, "140")))
    found = judged(skus=["B", "B"])
    assert (found.skus, found.bands) == (("B",), 1)


def test_a_sku_that_names_nothing_is_pointed_at(shop, judged):
    shop.list(shop.listing("A", (*BAND, "140")))
    with pytest.raises(UnknownKey, match="no listing 'a'") as refused:
        judged(skus=["A", "a"])
    assert refused.value.path == ("skus", 1)


def test_a_shop_without_listings_has_nothing_to_judge(judged):
    found = judged()
    assert (found.cases, found.bands) == ((), 0)
    assert found.value_change() == 0
    assert found.counts() == NOTHING


def test_a_decision_is_never_reached_twice_for_one_case(shop, judged):
    shop.list(*(shop.listing(f"R-{n}", (*BAND, "140")) for n in range(3)))
    with patch.object(judged_cases, "_judged", wraps=judged_cases._judged) as once:
        judged()
    assert once.call_count == 1
