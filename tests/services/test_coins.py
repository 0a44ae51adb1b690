"""Coins: the catalogue's, and the workshop's own that go before them."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from api.ports import Conflict, NotFound, PreconditionFailed
from api.services import Coins, Snapshots
from pricing.catalogue import catalogue, catalogue_coin
from pricing.coin import Coin
from pricing.errors import InvalidInput

PUBLISHED = "at_50s_1959_1973"
OWN = Coin(
    key="my_medal",
    name="A medal",
    fineness_permille=Decimal(925),
    gross_mass_g=Decimal("24.5"),
    diameter_mm=Decimal(38),
    paid=Decimal("19.00"),
)


@pytest.fixture
def coins(storage, clock):
    return Coins(Snapshots(storage, clock), clock)


@pytest.fixture
def elsewhere(storage, clock):
    return Coins(Snapshots(storage, clock), clock)


def test_a_catalogue_coin_is_there_from_the_start(coins):
    found = coins.get(PUBLISHED)
    assert found.coin == catalogue_coin(PUBLISHED)
    assert (found.origin, found.revision) == ("catalogue", 0)


def test_an_unknown_coin_is_not_found_but_a_near_one_is_named(coins):
    with pytest.raises(NotFound, match=PUBLISHED):
        coins.get("at_50s_1959_197")


def test_a_coin_of_the_workshops_own_is_kept(coins, elsewhere):
    added = coins.add(OWN)
    assert (added.coin, added.origin) == (OWN, "workshop")
    assert added.revision >= 1
    assert coins.get("my_medal") == elsewhere.get("my_medal") == added


def test_a_coin_needs_a_key_to_be_kept(coins):
    with pytest.raises(InvalidInput) as refused:
        coins.add(replace(OWN, key=""))
    assert refused.value.path == ("key",)


def test_a_key_is_used_once(coins):
    coins.add(OWN)
    with pytest.raises(Conflict, match="my_medal"):
        coins.add(replace(OWN, name="Another"))
    assert coins.get("my_medal").coin == OWN


def test_a_coin_is_changed_from_the_revision_that_was_read(coins, elsewhere):
    added = coins.add(OWN)
    heavier = replace(OWN, gross_mass_g=Decimal(25))
    changed = coins.replace("my_medal", heavier, expected=added.revision)
    assert changed.revision > added.revision
    assert elsewhere.get("my_medal").coin == heavier
    with pytest.raises(PreconditionFailed, match="read it again") as refused:
        elsewhere.replace("my_medal", OWN, expected=added.revision)
    assert refused.value.current == changed.revision


def test_a_coin_is_changed_under_the_key_that_was_named(coins):
    added = coins.add(OWN)
    other = replace(OWN, key="other", name="Renamed")
    changed = coins.replace("my_medal", other, expected=added.revision)
    assert (changed.coin.key, changed.coin.name) == ("my_medal", "Renamed")
    with pytest.raises(NotFound):
        coins.get("other")


@pytest.mark.parametrize("by", ["add", "replace"])
def test_a_catalogue_coin_is_overridden_and_comes_back(coins, elsewhere, by):
    mine = replace(catalogue_coin(PUBLISHED), paid=Decimal(12))
    if by == "add":
        kept = coins.add(mine)
    else:
        kept = coins.replace(PUBLISHED, mine, expected=0)
    assert elsewhere.get(PUBLISHED).coin.paid == Decimal(12)
    assert elsewhere.get(PUBLISHED).origin == "workshop"
    coins.remove(PUBLISHED, expected=kept.revision)
    assert elsewhere.get(PUBLISHED).coin == catalogue_coin(PUBLISHED)
    assert elsewhere.get(PUBLISHED).revision == 0


def test_a_catalogue_coin_is_at_revision_nought(coins):
    mine = replace(catalogue_coin(PUBLISHED), paid=Decimal(12))
    with pytest.raises(PreconditionFailed) as refused:
        coins.replace(PUBLISHED, mine, expected=1)
    assert refused.value.current == 0


def test_a_coin_that_is_not_there_cannot_be_changed_or_removed(coins):
    with pytest.raises(NotFound, match="no coin 'my_medal'"):
        coins.replace("my_medal", OWN, expected=0)
    with pytest.raises(NotFound, match="no coin 'my_medal'"):
        coins.remove("my_medal", expected=0)


def test_a_catalogue_coin_cannot_be_removed(coins):
    with pytest.raises(Conflict, match="catalogue"):
        coins.remove(PUBLISHED, expected=0)


def test_a_coin_is_removed_from_the_revision_that_was_read(coins):
    added = coins.add(OWN)
    for expected in (0, added.revision + 1, 10**30):
        with pytest.raises(PreconditionFailed):
            coins.remove("my_medal", expected=expected)
    coins.remove("my_medal", expected=added.revision)
    with pytest.raises(NotFound):
        coins.get("my_medal")


def test_a_coin_added_again_never_has_an_old_revision(coins):
    first = coins.add(OWN)
    coins.remove("my_medal", expected=first.revision)
    again = coins.add(OWN)
    with pytest.raises(PreconditionFailed):
        coins.remove("my_medal", expected=first.revision)
    assert again.revision > first.revision


def test_all_coins_are_listed_by_key_each_once(coins):
    coins.add(OWN)
    coins.replace(PUBLISHED, catalogue_coin(PUBLISHED), expected=0)
    listed = coins.list()
    keys = [each.coin.key for each in listed]
    assert keys == sorted({*catalogue(), "my_medal"})
    workshop = {each.coin.key for each in listed if each.origin == "workshop"}
    assert workshop == {"my_medal", PUBLISHED}


def test_the_list_is_paged_by_key(coins):
    seen, after = [], ""
    while page := coins.list(after=after, limit=20):
        assert len(page) <= 20
        seen += page
        after = page[-1].coin.key
    assert tuple(seen) == coins.list()


def test_a_coin_is_read_once_while_nothing_changes(coins):
    coins.add(OWN)
    assert coins.get("my_medal") is coins.get("my_medal")


def test_coins_are_found_by_each_word_and_the_workshops_own_come_first(coins):
    coins.add(replace(OWN, name="A schilling medal"))
    found = [one.coin.key for one in coins.search("SCHILLING")]
    assert found[0] == OWN.key
    assert PUBLISHED in found
    assert [one.coin.key for one in coins.search("50 schilling .900")] == [PUBLISHED]
    assert coins.search("no such coin") == ()
    assert len(coins.search("")) == len(catalogue()) + 1
