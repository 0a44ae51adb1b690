import csv
from decimal import Decimal
from importlib.resources import files

import pytest

from pricing.catalogue import (
    ALLOY_BASES,
    COLUMNS,
    FIGURES,
    catalogue,
    catalogue_coin,
    read_coins,
)
from pricing.coin import HoleStep, density_g_cm3
from pricing.errors import InvalidInput, UnknownKey

HEADER = ",".join(COLUMNS)
GOOD = {
    "key": "xx_crown_1900",
    "name": "A crown",
    "country": "XX",
    "years": "1900",
    "face_value": "1",
    "face_currency": "USD",
    "metal": "XAG",
    "fineness_permille": "900",
    "gross_mass_g": "20.0",
    "diameter_mm": "34.0",
    "rim_thickness_mm": "",
    "edge": "plain",
    "composition": "90% Ag 10% Cu",
    "alloy": "Ag 900;Cu 100",
    "alloy_basis": "published",
    "nickel": "none",
    "published_fine_ozt": "",
    "holes": "",
    "bore_allowance": "",
    "source": "a law",
    "looked_up": "mass;diameter",
    "from_memory": "fineness",
    "notes": "",
}
BASE = {
    "metal": "base",
    "fineness_permille": "0",
    "alloy": "Cu 750;Ni 250",
    "nickel": "present",
}


def text_of(*rows):
    return "\n".join(
        [HEADER, *(",".join(f'"{row[c]}"' for c in COLUMNS) for row in rows)]
    )


def reading(**changes):
    return read_coins(text_of(GOOD | changes))


class TestCatalogue:
    def test_holds_87_types_in_file_order(self):
        keys = list(catalogue())
        assert len(keys) == 87
        assert keys[0] == "us_dollar_1878_1921"
        assert keys[-1] == "jp_100y_1967"
        assert all(key == coin.key for key, coin in catalogue().items())

    def test_is_read_once_and_cannot_be_changed(self):
        assert catalogue() is catalogue()
        with pytest.raises(TypeError):
            catalogue()["mine"] = catalogue_coin("us_5c_cuni")

    def test_has_75_silver_and_12_base_types(self):
        metals = [coin.metal for coin in catalogue().values()]
        assert (metals.count("XAG"), metals.count("base")) == (75, 12)

    @pytest.mark.parametrize("coin", catalogue().values(), ids=lambda coin: coin.key)
    def test_every_figure_has_a_source_and_a_mark(self, coin):
        assert coin.provenance.source
        assert coin.provenance.alloy_basis in ALLOY_BASES
        marked = coin.provenance.looked_up + coin.provenance.from_memory
        assert set(marked) <= set(FIGURES)
        assert len(marked) == len(set(marked))
        for figure in ("mass", "diameter"):
            assert coin.provenance.mark(figure) != "given"

    @pytest.mark.parametrize("coin", catalogue().values(), ids=lambda coin: coin.key)
    def test_every_coin_has_a_plausible_density(self, coin):
        assert 8.7 < density_g_cm3(coin) < 10.5

    def test_only_a_coin_from_memory_names_no_source(self):
        for coin in catalogue().values():
            if coin.provenance.source == "from memory":
                assert coin.provenance.looked_up == ()

    @pytest.mark.parametrize("column", ["name", "key"])
    def test_no_two_types_share_a_name_or_a_key(self, column):
        values = [getattr(coin, column) for coin in catalogue().values()]
        assert len(values) == len(set(values))

    def test_nickel_is_marked_wherever_the_composition_names_it(self):
        for coin in catalogue().values():
            named = "Ni" in coin.composition or "nickel" in coin.composition
            assert (coin.nickel != "none") == named, coin.key

    def test_the_remainder_is_called_copper_only_where_it_is_not_published(self):
        taken = {
            coin.key
            for coin in catalogue().values()
            if coin.provenance.alloy_basis != "published"
        }
        assert "gb_halfcrown_1920_1946" in taken
        assert "us_5c_1942_1945" not in taken
        assert len(taken) == 15


class TestCommonPractice:
    @pytest.mark.parametrize(
        "key",
        [
            "us_dollar_1878_1921",
            "us_dollar_1921_1935",
            "us_dollar_1971_1976_ag",
            "us_dollar_1971_1978_clad",
        ],
    )
    def test_dollars_of_38_1_mm_have_two_holes_by_size(self, key):
        # Common practice, no source: 3/4 in up to size 9.5, 5/8 in above.
        coin = catalogue_coin(key)
        assert coin.diameter_mm == Decimal("38.1")
        assert coin.holes == (
            HoleStep(up_to=Decimal("9.5"), hole_mm=Decimal("25.4") * 3 / 4),
            HoleStep(up_to=None, hole_mm=Decimal("25.4") * 5 / 8),
        )
        assert coin.bore_allowance == 2
        assert "common practice, no source" in coin.provenance.notes

    def test_no_other_coin_has_a_rule_of_its_own(self):
        ruled = [coin.diameter_mm for coin in catalogue().values() if coin.holes]
        assert ruled == [Decimal("38.1")] * 4


class TestLookingUp:
    def test_finds_a_coin_by_its_key(self):
        coin = catalogue_coin("at_50s_1959_1973")
        assert (coin.gross_mass_g, coin.fineness_permille, coin.diameter_mm) == (
            20,
            900,
            34,
        )
        assert coin.alloy == (("Ag", Decimal(900)), ("Cu", Decimal(100)))

    def test_suggests_near_keys(self):
        with pytest.raises(UnknownKey, match="at_50s_1959_1973") as got:
            catalogue_coin("at_50s_1959")
        assert got.value.path == ("coin",)

    def test_says_what_to_do_where_nothing_is_near(self):
        with pytest.raises(UnknownKey) as got:
            catalogue_coin("0" * 500)
        assert "near it" not in got.value.message
        assert "give the coin's mass, fineness and diameter" in got.value.message
        assert len(got.value.message) < 250


class TestReadingStrictly:
    def test_a_good_row_is_a_coin(self):
        coin = reading()["xx_crown_1900"]
        assert coin.provenance.mark("fineness") == "from memory"
        assert (coin.rim_thickness_mm, coin.published_fine_ozt) == (None, None)

    def test_base_metal_has_no_fineness(self):
        coin = reading(**BASE)["xx_crown_1900"]
        assert (coin.metal, coin.fineness, coin.nickel) == ("base", 0, "present")

    @pytest.mark.parametrize(
        ("column", "given"),
        [
            ("key", "Crown"),
            ("key", ""),
            ("name", " "),
            ("country", ""),
            ("edge", ""),
            ("composition", ""),
            ("source", ""),
            ("metal", "gold"),
            ("fineness_permille", "1000.1"),
            ("fineness_permille", "0"),
            ("fineness_permille", "-900"),
            ("fineness_permille", "nine"),
            ("gross_mass_g", "0"),
            ("gross_mass_g", "20,0"),
            ("gross_mass_g", ""),
            ("diameter_mm", "-34"),
            ("rim_thickness_mm", "0"),
            ("published_fine_ozt", "x"),
            ("bore_allowance", "0"),
            ("alloy", ""),
            ("alloy", "Ag 900"),
            ("alloy", "Ag 900;Cu 50;Cu 50"),
            ("alloy", "Ag 800;Cu 200"),
            ("alloy", "Ag 900;Xx 100"),
            ("alloy", "Ag 900;Cu"),
            ("alloy", "Ag900;Cu100"),
            ("alloy_basis", "guessed"),
            ("nickel", "maybe"),
            ("holes", "9.5:19.05"),
            ("holes", "19.05"),
            ("holes", ":19.05;:15.875"),
            ("holes", "9.5:19.05;8:18;:15.875"),
            ("holes", "9.5:19.05;9.5:18;:15.875"),
            ("holes", ":34.0"),
            ("holes", ":0"),
            ("holes", "x:19.05;:15"),
            ("looked_up", "mass"),
            ("looked_up", "mass;diameter;colour"),
            ("from_memory", "fineness;mass"),
            ("from_memory", ""),
        ],
    )
    def test_a_malformed_cell_is_named_by_line_and_column(self, column, given):
        with pytest.raises(InvalidInput) as got:
            reading(**{column: given})
        assert got.value.path[0] == 2
        if column != "from_memory" or given:
            assert got.value.path[1] == column

    @pytest.mark.parametrize(
        ("changes", "column"),
        [
            (BASE | {"fineness_permille": "10"}, "fineness_permille"),
            (BASE | {"nickel": "none"}, "nickel"),
        ],
    )
    def test_base_metal_is_held_to_its_own_rules(self, changes, column):
        with pytest.raises(InvalidInput) as got:
            reading(**changes)
        assert got.value.path == (2, column)

    def test_a_key_may_stand_only_once(self):
        with pytest.raises(InvalidInput, match="is there twice") as got:
            read_coins(text_of(GOOD, GOOD))
        assert got.value.path == (3, "key")

    def test_a_row_with_a_cell_too_many_is_refused(self):
        with pytest.raises(InvalidInput, match="24 cells where 23 are needed"):
            read_coins(text_of(GOOD) + ",extra")

    @pytest.mark.parametrize("text", ["", "key,name\n", HEADER + ",more\n"])
    def test_other_columns_are_refused(self, text):
        with pytest.raises(InvalidInput, match="exactly these columns"):
            read_coins(text)

    def test_an_open_quote_is_refused(self):
        with pytest.raises(InvalidInput, match="check the quotes"):
            read_coins(f'{HEADER}\n"xx_open')


def test_the_shipped_files_are_plain_utf_8_without_carriage_returns():
    for name in ("coins.csv", "cautions.csv", "currencies.csv"):
        text = files("pricing.catalogue").joinpath(name).read_bytes().decode("utf-8")
        assert "\r" not in text
        assert len({len(row) for row in csv.reader(text.splitlines())}) == 1
