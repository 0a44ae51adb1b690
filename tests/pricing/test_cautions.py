from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.catalogue import catalogue, catalogue_coin
from pricing.cautions import caution_texts, cautions_for
from pricing.coin import Coin

SCHILLING = catalogue_coin("at_50s_1959_1973")
BASE = Coin(
    metal="base",
    fineness_permille=Decimal(0),
    gross_mass_g=Decimal(10),
    diameter_mm=Decimal(30),
)


def told(coin=SCHILLING, *, finished="10", consumables=(), own_coin=False, **more):
    found = cautions_for(
        coin=coin,
        finished_g=Decimal(finished),
        consumables=consumables,
        own_coin=own_coin,
        **more,
    )
    return {caution.code: caution for caution in found}


def silver(permille):
    return replace(SCHILLING, fineness_permille=Decimal(permille), alloy=())


class TestEveryCaution:
    @pytest.mark.parametrize("coin", catalogue().values(), ids=lambda coin: coin.key)
    def test_is_whole_and_told_once(self, coin):
        found = cautions_for(
            coin=coin, finished_g=Decimal(9), consumables=["ptfe"], own_coin=True
        )
        codes = [caution.code for caution in found]
        assert len(codes) == len(set(codes))
        assert all("{" not in caution.text for caution in found)
        assert {caution.audience for caution in found} == {"bench", "buyer"}

    def test_names_a_source_and_whether_it_was_read(self):
        for caution in caution_texts().values():
            assert caution.source
            assert not (caution.looked_up and "from memory" in caution.source)

    def test_is_short(self):
        assert all(len(caution.text) <= 240 for caution in caution_texts().values())

    def test_on_law_defers_to_the_law(self):
        for code, caution in caution_texts().items():
            if code.startswith(("coin_law", "wording", "hallmark", "nickel_limit")):
                assert caution.text.endswith("{law}")
        assert told()["coin_law"].text.endswith("this is not legal advice.")

    def test_for_the_buyer_says_nothing_of_money(self):
        for caution in caution_texts().values():
            if caution.audience == "buyer":
                assert not {"cost", "price", "margin"} & set(caution.text.split())

    def test_can_be_told_of_some_coin(self):
        seen = set()
        coins = [*catalogue().values(), replace(SCHILLING, country="IN")]
        for coin in coins:
            seen |= set(
                told(coin, consumables=["ptfe_tape", "liver"], own_coin=True).keys()
            )
        assert seen == set(caution_texts())

    def test_comes_in_the_same_order_each_time(self):
        assert list(told(consumables=["ptfe"])) == [
            "heat_and_press",
            "model_estimate",
            "ptfe",
            "coin_law",
            "wording_coin_silver",
            "metal_silver",
            "hallmark_uk_needed",
            "wide_band",
        ]


class TestBench:
    @pytest.mark.parametrize("key", ["ptfe_tape", "PTFE", "tape_ptfe_12mm"])
    def test_ptfe_must_come_off_before_the_torch(self, key):
        caution = told(consumables=["pickle", key])["ptfe"]
        assert "before annealing" in caution.text
        assert caution.looked_up

    @pytest.mark.parametrize("key", ["liver_of_sulphur", "sulfur_gel", "Sulphur"])
    def test_liver_of_sulphur_is_kept_from_acid(self, key):
        assert "acid" in told(consumables=[key])["liver_of_sulphur"].text

    def test_unused_materials_are_not_mentioned(self):
        assert not {"ptfe", "liver_of_sulphur"} & set(told(consumables=["pickle"]))

    def test_where_the_book_lists_nothing_it_is_told_all_the_same(self):
        assert "ptfe" in told(unlisted=True)

    def test_consumables_may_come_as_a_generator(self):
        assert "ptfe" in told(consumables=(key for key in ["a", "ptfe", "b"]))

    def test_torch_and_press_defer_to_local_codes(self):
        text = told()["heat_and_press"].text
        assert "Local codes" in text
        assert "licensed practice" in text

    def test_manganese_and_zinc_are_named_where_the_alloy_holds_them(self):
        assert "manganese_alloy" in told(catalogue_coin("us_5c_1942_1945"))
        assert "zinc_alloy" in told(catalogue_coin("jp_100y_1957_1966"))
        assert not {"manganese_alloy", "zinc_alloy"} & set(told())

    def test_figures_from_memory_are_named(self):
        everything = told(catalogue_coin("fr_10f_1965_1973"))["figure_from_memory"]
        assert "mass, fineness, diameter of" in everything.text
        only = told(catalogue_coin("us_half_1916_1947"))["figure_from_memory"]
        assert ": diameter of" in only.text
        assert "figure_from_memory" not in told()

    def test_own_coins_cannot_be_replaced(self):
        assert {"own_coin", "own_coin_risk"} <= set(told(own_coin=True))
        assert not {"own_coin", "own_coin_risk"} & set(told(own_coin=False))


class TestAltering:
    @pytest.mark.parametrize(
        ("key", "code", "says"),
        [
            ("us_dollar_1921_1935", "coin_law_us", "defraud"),
            ("ca_dollar_1935_1967", "coin_law_ca", "Canada"),
            ("gb_crown_pre1920", "coin_law_gb", "1969"),
            ("au_50c_1966", "coin_law_au", "Australia"),
            ("jp_1000y_1964", "coin_law_jp", "Japan"),
            ("in_rupee_1862_1939", "coin_law_in", "India"),
        ],
    )
    def test_goes_by_the_country_of_the_coin(self, key, code, says):
        found = told(catalogue_coin(key))
        assert says in found[code].text
        laws = {c for c in found if c.startswith("coin_law_")}
        assert laws == {code}

    def test_of_any_coin_asks_to_check_the_law(self):
        assert "check the law" in told(BASE)["coin_law"].text
        assert not [code for code in told(SCHILLING) if code.startswith("coin_law_")]

    @pytest.mark.parametrize("key", ["us_5c_1942_1945", "us_5c_cuni"])
    def test_us_five_cents_are_under_a_rule_of_their_own(self, key):
        assert "31 CFR 82" in told(catalogue_coin(key))["coin_law_us_small"].text

    def test_other_coins_are_not_under_that_rule(self):
        assert "coin_law_us_small" not in told(catalogue_coin("us_dime_1892_1964"))
        canadian = replace(SCHILLING, country="CA", face_value="0.05")
        assert "coin_law_us_small" not in told(canadian)


class TestDescribing:
    @pytest.mark.parametrize(
        ("permille", "code", "parts"),
        [
            ("999.9", "wording_sterling", "999"),
            ("925", "wording_sterling", "925"),
            ("924.9", "wording_coin_silver", "924"),
            ("916.67", "wording_coin_silver", "916"),
            ("900", "wording_coin_silver", "900"),
            ("899.9", "wording_fineness", "899"),
            ("835", "wording_fineness", "835"),
            ("100", "wording_fineness", "100"),
        ],
    )
    def test_the_word_goes_by_the_fineness_and_never_above_it(
        self, permille, code, parts
    ):
        found = told(silver(permille))
        assert f'"{parts} silver"' in found[code].text
        assert found["metal_silver"].text.startswith(f"{parts} silver:")
        assert len([each for each in found if each.startswith("wording")]) == 1

    @pytest.mark.parametrize("coin", [BASE, silver("0"), silver("0.5")])
    def test_without_silver_nothing_is_called_silver(self, coin):
        found = told(coin)
        assert {"wording_none", "metal_none"} <= set(found)
        assert not [code for code in found if code.startswith("hallmark")]

    @pytest.mark.parametrize(
        ("permille", "finished", "code"),
        [
            ("800", "7.79", "hallmark_uk_needed"),
            ("800", "7.78", None),
            ("999", "5", None),
            ("799.9", "20", "hallmark_uk_not_possible"),
            ("500", "5", "hallmark_uk_not_possible"),
        ],
    )
    def test_the_uk_hallmark_goes_by_fineness_and_weight(
        self, permille, finished, code
    ):
        found = told(silver(permille), finished=finished)
        assert [each for each in found if each.startswith("hallmark")] == (
            [code] if code else []
        )


class TestNickel:
    @pytest.mark.parametrize(
        ("coin", "holds"),
        [
            (catalogue_coin("ch_5fr_cuni"), "This alloy holds nickel"),
            (catalogue_coin("se_2kr_1952_1966"), "This alloy holds nickel"),
            (replace(BASE, alloy=(("Ni", Decimal(1000)),)), "This alloy holds nickel"),
            (catalogue_coin("gb_florin_1920_1946"), "This alloy may hold nickel"),
            (BASE, "This alloy may hold nickel"),
        ],
    )
    def test_is_named_to_bench_and_buyer(self, coin, holds):
        found = told(coin)
        assert found["nickel_limit"].text.startswith(holds)
        assert found["nickel"].audience == "buyer"

    @pytest.mark.parametrize(
        "coin", [SCHILLING, replace(BASE, alloy=(("Cu", Decimal(1000)),))]
    )
    def test_is_not_named_where_there_is_none(self, coin):
        assert not {"nickel_limit", "nickel"} & set(told(coin))
