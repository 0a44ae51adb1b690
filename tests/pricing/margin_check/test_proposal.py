from copy import deepcopy

import pytest

from pricing.errors import InvalidInput, UnknownKey
from pricing.margin_check.proposal import Proposal, apply_proposals
from pricing.price_book import diff, document, read_price_book
from tests.oracles.workshops import book

OLD = document(book())


def proposal(*path, **sets):
    return Proposal(
        path=path, current="before", proposed="after", n=40, how="counted", sets=sets
    )


SCRAP = proposal("stages", "fold", "scrap", scrap={"tried": 60, "failed": 5})
MINUTES = proposal("stages", "bore", "minutes", minutes="7.5")
SLUG = proposal("calibrations", "dollar", "slug", slug="1.03")
BORED = proposal("calibrations", "dollar", "bored", bored="0.97")


def changed(*proposals):
    new = read_price_book(apply_proposals(OLD, proposals))
    return {each.path: each.after for each in diff(book(), new)}


def test_only_what_is_proposed_changes():
    assert changed(SCRAP, MINUTES) == {
        "stages.fold.scrap": "5 of 60",
        "stages.bore.minutes": "7.5",
    }
    assert changed() == {}


def test_calibrations_of_a_coin_are_begun_once():
    new = apply_proposals(OLD, [SLUG, BORED])
    assert new["calibrations"] == [{"coin": "dollar", "slug": "1.03", "bored": "0.97"}]
    again = apply_proposals(new, [proposal("calibrations", "dollar", "slug", slug="1")])
    assert again["calibrations"] == [{"coin": "dollar", "slug": "1", "bored": "0.97"}]


def test_the_old_document_and_the_proposals_stay_as_they_were():
    before = deepcopy(OLD)
    new = apply_proposals(OLD, [SCRAP, SLUG])
    new["stages"][1]["scrap"]["tried"] = 1
    assert before == OLD
    assert SCRAP.sets["scrap"]["tried"] == 60


def test_a_stage_that_is_gone_is_told():
    with pytest.raises(UnknownKey, match="no entry 'melt' in stages") as refused:
        apply_proposals(OLD, [proposal("stages", "melt", "scrap", scrap={})])
    assert refused.value.path == ("stages", "melt", "scrap")


def test_two_proposals_for_one_place_are_refused():
    with pytest.raises(InvalidInput, match="is proposed twice"):
        apply_proposals(OLD, [SCRAP, SCRAP])


def test_a_path_is_told_as_a_change_of_the_book_is():
    assert SCRAP.dotted == "stages.fold.scrap"
    assert SCRAP.dotted in changed(SCRAP)
