"""Coins on pages: found, explained, added, changed, removed."""

from __future__ import annotations

import re

import pytest

from tests.web.test_book_edit import typed

HOME = "/bench/coins"
KEY = "at_50s_1959_1973"
COIN = f"{HOME}/{KEY}"
MEDAL = {
    "key": "my_medal",
    "name": "A medal",
    "gross_mass_g": "24.5",
    "fineness_permille": "925",
    "diameter_mm": "38",
    "wear.pct": "1.5",
    "holes-0-up_to": "9.5",
    "holes-0-hole_mm": "19.05",
    "holes-1-hole_mm": "15.875",
    "paid": "19",
}


def test_coins_are_found_by_their_words_with_what_their_silver_is_worth(desk):
    page = desk.get(f"{HOME}?search=50+schilling").text
    assert "2 found" in page
    assert COIN in page
    assert "€15.76" in page  # 20 g less 1 % wear, at 27.50
    assert "No coin has all these words" in desk.get(f"{HOME}?search=xyzzy").text


def test_every_coin_is_on_some_page(desk):
    pages = [desk.get(f"{HOME}?page={n}").text for n in (1, 2, 3)]
    assert sum(page.count('<th scope="row">') for page in pages) == 87
    assert "More →" not in pages[2]
    assert desk.get(f"{HOME}?page=x").status_code == 200


def test_coins_stand_by_name_and_the_workshops_own_first(desk):
    desk.post(f"{HOME}/new-coin", MEDAL)
    heads = re.findall(r'<th scope="row"><a[^>]*>(.*?)</a>', desk.get(HOME).text)
    assert heads[0] == "A medal"
    assert heads[1:] == sorted(heads[1:], key=str.casefold)


def test_a_coin_says_where_each_figure_comes_from(desk):
    page = desk.get(COIN).text
    assert "Austrian federal law" in page
    assert "looked up" in page
    assert "from memory" in page
    assert "19.8 g × 0.900 ÷ 31.1035" in page
    assert "Thickness" not in page


def test_base_metal_has_no_melt_value(desk):
    assert "base metal" in desk.get(f"{HOME}/us_5c_cuni").text


def test_without_a_book_or_a_spot_coins_are_there_all_the_same(empty_desk):
    assert empty_desk.get(HOME).status_code == 200
    assert "no spot price is in force" in empty_desk.get(COIN).text
    assert empty_desk.get(f"{HOME}/new-coin").status_code == 200


def test_a_coin_of_ones_own_is_kept_changed_and_removed(desk):
    new = f"{HOME}/new-coin"
    done = desk.post(new, MEDAL)
    assert done.headers["Location"] == f"{HOME}/my_medal?done=kept"
    coin = desk.services.coins.get("my_medal").coin
    assert str(coin.wear) == "0.015"
    assert [step.up_to for step in coin.holes][1] is None
    own = f"{HOME}/my_medal"
    assert "Figures of your own" in desk.get(own).text
    sent = dict(typed(desk.get(f"{own}/change"))) | {"gross_mass_g": "25"}
    done = desk.open(f"{own}/change", method="POST", data=sent)
    assert done.status_code == 303
    assert str(desk.services.coins.get("my_medal").coin.gross_mass_g) == "25"
    assert desk.services.coins.get("my_medal").coin.holes == coin.holes
    assert "Remove your figures" in desk.get(f"{own}/remove").text
    assert desk.post(f"{own}/remove").headers["Location"] == f"{HOME}?done=removed"
    assert desk.get(own).status_code == 404


def test_a_form_of_a_coin_that_nobody_touched_keeps_every_figure(desk):
    before = desk.services.coins.get(KEY).coin
    page = desk.get(f"{COIN}/change")
    sent = {}
    for name, value in typed(page):
        sent.setdefault(name, []).append(value)
    for area in ("source", "notes"):
        sent[area] = [getattr(before.provenance, area)]
    assert desk.open(f"{COIN}/change", method="POST", data=sent).status_code == 303
    after = desk.services.coins.get(KEY)
    assert after.coin == before
    assert after.origin == "workshop"


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"gross_mass_g": "20000"}, "gross_mass_g"),
        ({"fineness_permille": "1001"}, "fineness_permille"),
        ({"diameter_mm": "wide"}, "diameter_mm"),
        ({"holes-0-hole_mm": "40"}, "holes-0-hole_mm"),
        ({"key": "No Key"}, "key"),
        ({"wear.pct": "100"}, "wear.pct"),
    ],
)
def test_nonsense_is_refused_at_its_field_and_kept_in_the_form(desk, wrong, field):
    page = desk.post(f"{HOME}/new-coin", MEDAL | wrong)
    assert page.status_code == 422
    assert f'id="e-{field}"' in page.text
    assert f'value="{wrong[field]}"' in page.text


def test_a_key_that_is_taken_is_told(desk):
    desk.post(f"{HOME}/new-coin", MEDAL)
    page = desk.post(f"{HOME}/new-coin", MEDAL)
    assert page.status_code == 409
    assert "my_medal" in page.text


def test_steps_are_added_and_dropped(desk):
    new = f"{HOME}/new-coin"
    page = desk.post(new, MEDAL | {"_do": "add-holes"})
    assert 'name="holes-2-hole_mm"' in page.text
    change = desk.post(f"{COIN}/change", {"_do": "add-holes", "gross_mass_g": "20"})
    assert 'name="holes-0-hole_mm"' in change.text
    assert desk.services.coins.get(KEY).origin == "catalogue"


def test_what_is_typed_is_worked_out_at_once(desk):
    part = desk.part(f"{HOME}/new-coin", "worth", MEDAL)
    assert "0.7177 ozt" in part.text
    part = desk.part(f"{HOME}/new-coin", "worth", MEDAL | {"gross_mass_g": ""})
    assert "Cannot be worked out yet" in part.text


def test_a_coin_of_the_catalogue_cannot_be_removed(desk):
    assert "which stays" in desk.get(f"{COIN}/remove").text
    page = desk.post(f"{COIN}/remove", {"_version": "0"}, drawn=f"{COIN}/change")
    assert page.status_code == 409


def test_another_revision_is_not_overwritten(desk):
    sent = dict(typed(desk.get(f"{COIN}/change"))) | {"_version": "12"}
    page = desk.open(f"{COIN}/change", method="POST", data=sent)
    assert page.status_code == 412
    sent["_version"] = "x"
    assert desk.open(f"{COIN}/change", method="POST", data=sent).status_code == 412
