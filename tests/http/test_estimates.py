"""Estimates over HTTP: what is taken, what is refused and where, what is answered."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.resources import estimates
from tests.http.workshop import BOOK, faults

ESTIMATES = "/v1/estimates"
COIN = "at_50s_1959_1973"
ASKED = {
    "coin": COIN,
    "size": {"system": "us", "size": "10"},
    "spot": {"price": "27.50"},
}
WHOLE = {
    "coin": COIN,
    "size": {"system": "us", "size": "10"},
    "quantity": 2,
    "channel": "own_shop",
    "policy": "retail",
    "extras": ["ring_box", "engraving"],
    "own_coin": None,
    "hole_mm": None,
    "band_width_mm": None,
    "spot": {"price": "27.50"},
    "confidence": "0.95",
    "coin_paid": "14.20",
    "include": ["risk"],
}
INLINE = {"gross_mass_g": "20.00", "fineness_permille": "900", "diameter_mm": "34.00"}
BASE = {
    "metal": "base",
    "gross_mass_g": "22.68",
    "diameter_mm": "38.1",
    "density_g_cm3": "8.95",
    "paid": "1.50",
}
# Each value in place of the member at its pointer, and a word the answer has to say.
REFUSED = [
    ("#/coin", 7, "key of a coin"),
    ("#/coin", None, "null"),
    ("#/coin", "AT 50", "key"),
    ("#/coin", "x" * 65, "key"),
    ("#/coin", [], "key of a coin"),
    ("#/size", "10", "object"),
    ("#/size/system", "ous", "did you mean us?"),
    ("#/size/system", 3, "one of"),
    ("#/size/size", 10, "text"),
    ("#/size/size", "", "characters"),
    ("#/size/size", "9" * 21, "characters"),
    ("#/size/size", "ten", "ten"),
    ("#/size/size", "200", "200"),
    ("#/size/size", "1e1", "1e1"),
    ("#/size/mark", "x", "no such member"),
    ("#/quantity", 0, "1 to 1000"),
    ("#/quantity", 1001, "1 to 1000"),
    ("#/quantity", "2", "whole number"),
    ("#/quantity", 1.0, "whole number"),
    ("#/quantity", True, "whole number"),
    ("#/quantity", None, "null"),
    ("#/channel", 1, "key"),
    ("#/policy", ["retail"], "key"),
    ("#/extras", "ring_box", "list"),
    ("#/extras", ["ring_box"] * 21, "20 entries"),
    ("#/extras/1", ["ring_box", 2], "key"),
    ("#/own_coin", True, "object"),
    ("#/own_coin/compensation", {"compensation": 40}, "text"),
    ("#/own_coin/compensation", {"compensation": "-1"}, "at least 0"),
    ("#/own_coin/paid", {"paid": "1"}, "no such member"),
    ("#/hole_mm", 15.875, "text"),
    ("#/hole_mm", "0", "more than 0"),
    ("#/hole_mm", "15.87501", "at most 4 decimals"),
    ("#/band_width_mm", "-3", "more than 0"),
    ("#/spot", "27.50", "object"),
    ("#/spot/price", {"price": 27.5}, "text"),
    ("#/spot/price", {"price": 27}, "text"),
    ("#/spot/price", {"price": None}, "null"),
    ("#/spot/price", {"price": "0.00"}, "more than 0"),
    ("#/spot/price", {"price": "1e3"}, "plain number"),
    ("#/spot/price", {"price": "1e1000000"}, "plain number"),
    ("#/spot/price", {"price": "NaN"}, "plain number"),
    ("#/spot/price", {"price": "Infinity"}, "plain number"),
    ("#/spot/price", {"price": " 27.50"}, "plain number"),
    ("#/spot/price", {"price": "1_000"}, "plain number"),
    ("#/spot/price", {"price": "２７"}, "plain number"),
    ("#/spot/price", {"price": "+27.50"}, "plain number"),
    ("#/spot/price", {"price": "9" * 13}, "plain number"),
    ("#/spot/price", {}, "needed"),
    ("#/spot/currency", {"price": "27.50", "currency": "EUR"}, "no such member"),
    ("#/confidence", 0.95, "text"),
    ("#/confidence", "1", "less than 1"),
    ("#/confidence", "0", "more than 0"),
    ("#/coin_paid", 14.2, "text"),
    ("#/coin_paid", "-0.01", "at least 0"),
    ("#/include/0", ["risks"], "did you mean risk?"),
    ("#/include", ["risk", "risk"], "0 to 1 entries"),
    ("#/include", "risk", "list"),
    ("#/margin", "0.40", "no such member"),
]
# Coins given inline: the pointer, the change, and a word the answer has to say.
REFUSED_COINS = [
    ("#/coin/gross_mass_g", {"gross_mass_g": 20.0}, "in quotes"),
    ("#/coin/gross_mass_g", {"gross_mass_g": "2e1"}, "plain decimal"),
    ("#/coin/gross_mass_g", {"gross_mass_g": "0"}, "at least 0.1"),
    ("#/coin/gross_mass_g", {"gross_mass_g": None}, "missing"),
    ("#/coin/fineness_permille", {"fineness_permille": "1000.1"}, "at most 1000"),
    ("#/coin/diameter_mm", {"diameter_mm": "NaN"}, "plain decimal"),
    ("#/coin/diametre_mm", {"diametre_mm": "34"}, "did you mean 'diameter_mm'?"),
    ("#/coin/metal", {"metal": "XAU"}, "XAG"),
    ("#/coin/paid", BASE | {"paid": None}, "say what one costs"),
    ("#/coin/holes/0/hole_mm", {"holes": [{"hole_mm": "35"}]}, "leaves nothing"),
    ("#/coin/holes/0", {"holes": [7]}, "table"),
    ("#/coin/alloy/Au", {"alloy": {"Au": "1"}}, "not known"),
    ("#/coin", {"_schema": "x"}, "_schema"),
]


def price(workshop, body=None, **changes):
    answer = workshop.post(ESTIMATES, (body or ASKED) | changes)
    assert answer.status_code == 200, answer.json
    return answer.json


def test_the_documented_example_is_what_is_answered_now(timed_workshop):
    """To write it anew, put the answer into the file it is read from."""
    [pricing] = [one for one in estimates.routes.operations if one.method == "POST"]
    answer = timed_workshop.post(ESTIMATES, pricing.examples.body)
    assert answer.json == pricing.examples.answer


def put_at(pointer, value):
    """The asked estimate with a value at the member that a pointer begins with."""
    _, first, *inside = pointer.split("/")
    if inside and isinstance(ASKED.get(first), dict) and not isinstance(value, dict):
        return ASKED | {first: ASKED[first] | {inside[0]: value}}
    return ASKED | {first: value}


def test_every_member_of_a_request_is_taken(workshop):
    told = price(workshop, WHOLE)
    assert told["wish"] == {
        "coin": COIN,
        "coin_name": told["wish"]["coin_name"],
        "size": {"system": "us", "size": "10", "us": "10"},
        "quantity": 2,
        "channel": "own_shop",
        "policy": "retail",
        "extras": ["ring_box", "engraving"],
    }
    assert (told["currency"], told["book_version"]) == ("EUR", 1)
    assert told["spot"]["price"] == "27.50"
    assert told["risk"]["orders"] > 0
    assert told["margin"]["on_paid"]["paid"] == "14.20"
    assert told["spoilage"]["coins_to_start"][0]["confidence"] == "0.95"


def test_what_is_left_out_is_the_first_of_the_book_and_the_price_in_force(workshop):
    told = price(workshop, {"coin": COIN, "size": {"system": "us", "size": "10"}})
    asked = told["wish"]
    assert (asked["channel"], asked["policy"]) == ("own_shop", "retail")
    assert (asked["quantity"], asked["extras"]) == (1, [])
    assert told["spot"]["source"] == "manual"
    assert told["spot"]["age_hours"] is not None
    assert told["risk"] is told["own_coin"] is told["margin"]["on_paid"] is None


def test_the_cost_lines_add_up_and_the_sale_does_too(workshop):
    told = price(workshop, WHOLE)
    lines = [Decimal(line["amount"]) for line in told["cost"]["lines"]]
    assert sum(lines) == Decimal(told["cost"]["per_piece"])
    sale = {name: Decimal(told["price"][name]) for name in ("unit", "total", "cost")}
    assert sale["total"] == 2 * sale["unit"]
    assert sale["cost"] == 2 * sum(lines)
    assert all(line["how"] for line in told["cost"]["lines"])


def test_the_margin_is_what_is_left_over(workshop):
    told = price(workshop)
    sale = {
        name: Decimal(value)
        for name, value in told["price"].items()
        if isinstance(value, str) and name != "bound_by"
    }
    taken = sale["fees"] + sale["cost"] + sale["shipping_paid"]
    left = sale["net"] + sale["shipping_net"] - taken
    assert Decimal(told["margin"]["amount"]) == left
    assert Decimal(told["margin"]["rate"]) >= Decimal(told["margin"]["target"])


def test_the_same_request_gets_the_same_answer(workshop):
    first, second = price(workshop, WHOLE), price(workshop, WHOLE)
    first["spot"].pop("as_of")
    second["spot"].pop("as_of")
    assert first == second


@pytest.mark.parametrize(("pointer", "value", "word"), REFUSED)
def test_a_value_that_cannot_be_used_is_pointed_at(workshop, pointer, value, word):
    answer = workshop.post(ESTIMATES, put_at(pointer, value))
    assert answer.status_code == 422
    assert list(faults(answer)) == [pointer]
    assert word in faults(answer)[pointer]


@pytest.mark.parametrize(("pointer", "change", "word"), REFUSED_COINS)
def test_a_fault_of_an_inline_coin_is_pointed_at(workshop, pointer, change, word):
    answer = workshop.post(ESTIMATES, ASKED | {"coin": INLINE | change})
    assert answer.status_code == 422
    assert word in faults(answer)[pointer]


def test_all_faults_come_in_one_list(workshop):
    body = {
        "coin": {"gross_mass_g": 20.0, "holes": [{"up_to": "9"}, {"up_to": "x"}]},
        "size": {"system": "us", "size": "ten"},
        "quantity": 0,
        "spot": {"price": 27.5},
        "colour": "black",
    }
    answer = workshop.post(ESTIMATES, body)
    assert answer.status_code == 422
    assert set(faults(answer)) >= {
        "#/coin/gross_mass_g",
        "#/coin/diameter_mm",
        "#/coin/holes/0/hole_mm",
        "#/coin/holes/1/up_to",
        "#/colour",
        "#/quantity",
        "#/size/size",
        "#/spot/price",
    }


@pytest.mark.parametrize("missing", ["coin", "size"])
def test_coin_and_size_are_needed(workshop, missing):
    body = {name: value for name, value in ASKED.items() if name != missing}
    answer = workshop.post(ESTIMATES, body)
    assert faults(answer) == {f"#/{missing}": "this member is needed"}


@pytest.mark.parametrize("body", [[], "x", 7, None])
def test_a_body_that_is_no_object_is_refused_as_a_whole(workshop, body):
    answer = workshop.post(
        ESTIMATES,
        f"{body!r}".replace("'", '"').encode() if body is not None else b"null",
    )
    assert answer.status_code == 422
    assert list(faults(answer)) == ["#"]


@pytest.mark.parametrize(
    ("member", "value", "pointer", "near"),
    [
        ("coin", "at_50s_1959_1974", "#/coin", COIN),
        ("channel", "own_shp", "#/channel", "own_shop"),
        ("policy", "retial", "#/policy", "retail"),
        ("extras", ["ring_box", "engravng"], "#/extras/1", "engraving"),
    ],
)
def test_a_key_that_names_nothing_is_told_the_nearest(
    workshop, member, value, pointer, near
):
    answer = workshop.post(ESTIMATES, ASKED | {member: value})
    assert answer.status_code == 422
    assert answer.json["type"] == "/docs/problems/unknown-key"
    assert list(faults(answer)) == [pointer]
    assert near in faults(answer)[pointer]


def test_a_hole_and_a_band_width_cannot_both_be_asked_for(workshop):
    body = ASKED | {"hole_mm": "15", "band_width_mm": "9"}
    answer = workshop.post(ESTIMATES, body)
    assert answer.status_code == 422
    assert list(faults(answer)) == ["#/band_width_mm"]


def test_a_ring_that_cannot_be_made_comes_with_the_nearest_that_can(workshop):
    answer = workshop.post(ESTIMATES, ASKED | {"hole_mm": "32"})
    assert answer.status_code == 422
    told = answer.json
    assert told["type"] == "/docs/problems/not-makeable"
    assert told["reason"] == "land_too_short"
    nearest = price(workshop, ASKED | {"hole_mm": told["nearest_hole_mm"]})
    assert nearest["forming"]["hole_mm"] == told["nearest_hole_mm"]


def test_a_size_that_cannot_be_made_comes_with_the_nearest_that_can(workshop):
    size = {"system": "us", "size": "0"}
    answer = workshop.post(ESTIMATES, ASKED | {"size": size})
    assert answer.status_code == 422
    assert answer.json["reason"] == "size_too_small"
    size = {"system": "us", "size": answer.json["nearest_size_us"]}
    price(workshop, ASKED | {"size": size})


def test_without_a_spot_price_it_is_said_how_to_enter_one(workshop):
    body = {"coin": COIN, "size": ASKED["size"]}
    entered = {"price": "27.50", "currency": "USD"}
    assert workshop.post("/v1/spot-prices", entered).status_code == 201
    answer = workshop.post(ESTIMATES, body)  # in the wrong currency is as good as none
    assert answer.status_code == 409
    assert answer.json["type"] == "/docs/problems/spot-unavailable"
    assert "enter" in answer.json["detail"]


def test_where_no_spot_price_was_ever_entered_one_may_come_with_the_request(
    bare_workshop,
):
    bare_workshop.put("/v1/price-book", BOOK, headers={"If-None-Match": "*"})
    answer = bare_workshop.post(ESTIMATES, ASKED | {"spot": None})
    assert answer.status_code == 409
    assert answer.json["type"] == "/docs/problems/spot-unavailable"
    assert price(bare_workshop)["spot"]["price"] == "27.50"
    free = {"coin": BASE, "size": ASKED["size"]}
    assert price(bare_workshop, free)["spot"] is None


def test_a_coin_without_a_metal_price_needs_no_spot(workshop):
    told = price(workshop, {"coin": BASE, "size": ASKED["size"], "spot": None})
    assert told["wish"]["coin"] is None
    assert told["cost"]["slope_per_spot"] == "0.0000"
    assert told["break_even"]["spot_at_floor"] is None


def test_a_published_coin_of_base_metal_needs_to_know_what_one_costs(workshop):
    answer = workshop.post(ESTIMATES, ASKED | {"coin": "jp_100y_1967"})
    assert answer.status_code == 422
    assert list(faults(answer)) == ["#/coin"]
    assert "paid" in faults(answer)["#/coin"]


def test_a_price_no_rule_can_reach_says_which_rule(workshop):
    etag = workshop.get("/v1/price-book").headers["ETag"]
    book = workshop.get("/v1/price-book").json
    book["policies"][0]["target_margin"] = "0.99"
    changed = workshop.put("/v1/price-book", book, headers={"If-Match": etag})
    assert changed.status_code == 200
    answer = workshop.post(ESTIMATES, ASKED)
    assert answer.status_code == 422
    assert answer.json["type"] == "/docs/problems/no-possible-price"
    assert answer.json["rule"] == "target_margin"


def test_a_customer_is_told_the_chance_of_losing_the_coin(workshop):
    told = price(workshop, own_coin={"compensation": "40.00"})
    own = told["own_coin"]
    assert own["compensation"] == "40.00"
    assert 0 < Decimal(own["chance_lost"]) < 1
    assert "cannot be replaced" in own["text"]
    assert told["spoilage"]["coins_to_start"] == []
    assert price(workshop, own_coin={})["own_coin"]["compensation"] == "0"


def test_an_inline_coin_is_priced_like_the_one_in_the_catalogue(workshop):
    told = price(workshop, coin=INLINE)
    known = price(workshop)
    assert told["wish"]["coin"] is None
    assert told["forming"]["land_mm"] == known["forming"]["land_mm"]


def test_a_workshop_without_a_price_book_is_told_to_load_one(bare_workshop):
    answer = bare_workshop.post(ESTIMATES, ASKED)
    assert answer.status_code == 404
    assert "load" in answer.json["detail"]


def test_an_estimate_stores_nothing(workshop):
    before = workshop.counts()
    price(workshop, WHOLE)
    assert workshop.counts() == before
