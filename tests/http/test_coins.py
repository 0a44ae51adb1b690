"""Coins over HTTP: the catalogue, coins of one's own, and their versions."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from pricing.catalogue import catalogue
from tests.http.workshop import faults

COINS = "/v1/coins"
PUBLISHED = "/v1/coins/at_50s_1959_1973"
OWN = "/v1/coins/fair_find"
FIGURES = {"gross_mass_g": "20.00", "fineness_permille": "900", "diameter_mm": "34.00"}
NEW = {"key": "fair_find", "name": "A find"} | FIGURES
EVERY_MEMBER = NEW | {
    "country": "AT",
    "years": "1959-1973",
    "face_value": "50",
    "face_currency": "ATS",
    "edge": "reeded",
    "rim_thickness_mm": "2.6",
    "composition": "90 % silver, 10 % copper",
    "alloy": {"Ag": "900", "Cu": "100"},
    "nickel": "possible",
    "published_fine_ozt": "0.5787",
    "density_g_cm3": "10.31",
    "wear": "0.012",
    "holes": [{"up_to": "9.5", "hole_mm": "17.0"}, {"hole_mm": "15.0"}],
    "bore_allowance": "1.5",
    "natural_size": "16.5",
    "basis": "greater_of",
    "premium": "0.08",
    "extra": "0.35",
    "paid": "14.00",
    "source": "weighed at the bench",
    "looked_up": ["mass", "diameter"],
    "from_memory": ["edge"],
    "alloy_basis": "published",
    "notes": "Ten of a bag.",
}


def link(answer):
    return answer.headers["Link"].removeprefix("<").removesuffix('>; rel="next"')


def test_a_published_coin_is_read_with_the_silver_in_it_as_struck(workshop):
    answer = workshop.get(PUBLISHED)
    told = answer.json
    assert answer.headers["ETag"] == '"coin-0"'
    assert (told["key"], told["origin"]) == ("at_50s_1959_1973", "catalogue")
    assert (told["fine_g"], told["fine_ozt"]) == ("18", "0.578713")
    assert set(told["marks"].values()) <= {"looked up", "from memory", "given"}
    assert told["coin"]["fineness_permille"] == "900"


def test_every_published_silver_coin_can_be_read_and_put_back(workshop):
    silver = [key for key, coin in catalogue().items() if coin.metal == "XAG"]
    for key in silver[::9]:
        told = workshop.get(f"{COINS}/{key}").json
        answer = workshop.change(f"{COINS}/{key}", told["coin"])
        assert answer.status_code == 200, answer.json
        assert answer.json == told | {"origin": "workshop"}


def test_a_published_coin_of_base_metal_can_be_put_back_with_what_one_costs(workshop):
    address = f"{COINS}/jp_100y_1967"
    told = workshop.get(address).json["coin"]
    assert list(faults(workshop.change(address, told))) == ["#/paid"]
    assert workshop.change(address, told | {"paid": "1.20"}).status_code == 200


def test_a_coin_without_a_metal_price_has_no_fine_weight(workshop):
    base = {
        "key": "token",
        "metal": "base",
        "gross_mass_g": "22.68",
        "diameter_mm": "38.1",
        "density_g_cm3": "8.95",
        "paid": "1.50",
    }
    answer = workshop.post(COINS, base)
    assert answer.status_code == 201
    assert answer.json["fine_g"] is answer.json["fine_ozt"] is None


def test_a_new_coin_is_where_its_location_says(workshop):
    answer = workshop.post(COINS, EVERY_MEMBER)
    assert answer.status_code == 201
    assert answer.headers["Location"] == OWN
    assert answer.json["coin"] == EVERY_MEMBER
    assert answer.json["marks"]["mass"] == "looked up"
    assert answer.json["marks"]["edge"] == "from memory"
    assert answer.json["marks"]["thickness"] == "given"
    read = workshop.get(OWN)
    assert read.json == answer.json
    assert read.headers["ETag"] == answer.headers["ETag"]


def test_a_coin_that_has_not_changed_is_not_sent_again(workshop):
    etag = workshop.get(PUBLISHED).headers["ETag"]
    answer = workshop.get(PUBLISHED, headers={"If-None-Match": etag})
    assert answer.status_code == 304


def test_a_key_in_use_is_refused(workshop):
    assert workshop.post(COINS, NEW).status_code == 201
    answer = workshop.post(COINS, NEW)
    assert answer.status_code == 409
    assert answer.json["type"] == "/docs/problems/conflict"


def test_a_coin_to_be_kept_needs_a_key(workshop):
    answer = workshop.post(COINS, FIGURES)
    assert answer.status_code == 422
    assert list(faults(answer)) == ["#/key"]


def test_a_coin_of_ones_own_goes_before_the_published_one_until_deleted(workshop):
    published = workshop.get(PUBLISHED).json
    heavier = published["coin"] | {"gross_mass_g": "20.10"}
    assert workshop.change(PUBLISHED, heavier).json["origin"] == "workshop"
    etag = workshop.get(PUBLISHED).headers["ETag"]
    gone = workshop.send("DELETE", PUBLISHED, headers={"If-Match": etag})
    assert gone.status_code == 204
    assert workshop.get(PUBLISHED).json == published


def test_a_published_coin_cannot_be_deleted(workshop):
    answer = workshop.send("DELETE", PUBLISHED, headers={"If-Match": '"coin-0"'})
    assert answer.status_code == 409
    assert "catalogue" in answer.json["detail"]


def test_a_deleted_coin_is_gone(workshop):
    etag = workshop.post(COINS, NEW).headers["ETag"]
    assert workshop.send("DELETE", OWN, headers={"If-Match": etag}).status_code == 204
    assert workshop.get(OWN).status_code == 404


@pytest.mark.parametrize("method", ["PUT", "DELETE"])
@pytest.mark.parametrize(
    ("path", "etag", "status"),
    [
        ("/v1/coins/nothing_like_it", None, 404),
        ("/v1/coins/nothing_like_it", '"coin-0"', 404),
        ("/v1/coins/NOT_A_KEY", '"coin-0"', 404),
        (PUBLISHED, None, 428),
        (PUBLISHED, '"coin-1"', 412),
        (PUBLISHED, 'W/"coin-0"', 412),
        (PUBLISHED, "coin-0", 400),
    ],
)
def test_what_is_changed_has_to_be_there_and_named(
    workshop, method, path, etag, status
):
    headers = {"If-Match": etag} if etag else {}
    before = workshop.counts()
    answer = workshop.send(method, path, {"not": "read"}, headers=headers)
    assert answer.status_code == status
    assert workshop.counts() == before


@pytest.mark.parametrize("method", ["PUT", "DELETE"])
@pytest.mark.parametrize(("key", "status"), [(None, 401), ("shop", 403)])
def test_the_key_counts_before_the_version(workshop, method, key, status):
    assert workshop.send(method, PUBLISHED, {}, key=key).status_code == status


def test_another_key_in_the_body_than_in_the_address_is_refused(workshop):
    answer = workshop.change(PUBLISHED, NEW)
    assert answer.status_code == 422
    assert list(faults(answer)) == ["#/key"]
    assert workshop.change(PUBLISHED, FIGURES).json["key"] == "at_50s_1959_1973"


def test_all_faults_of_a_coin_come_in_one_list(workshop):
    bad = {
        "key": "Bad Key",
        "gross_mass_g": 20.0,
        "fineness_permille": "1001",
        "holes": [{"up_to": "9", "hole_mm": "x"}, 7],
        "alloy": {"Pb": "1"},
        "a/b": 1,
    }
    answer = workshop.post(COINS, bad)
    assert answer.status_code == 422
    assert set(faults(answer)) == {
        "#/key",
        "#/gross_mass_g",
        "#/diameter_mm",
        "#/fineness_permille",
        "#/holes/0/hole_mm",
        "#/holes/1",
        "#/alloy/Pb",
        "#/a~1b",
    }


@pytest.mark.parametrize("body", [b"[]", b"7", b'"at_50s_1959_1973"', b"null"])
def test_a_coin_is_an_object(workshop, body):
    answer = workshop.post(COINS, body)
    assert answer.status_code == 422
    assert list(faults(answer)) == ["#"]


def test_of_two_changes_from_one_version_one_is_kept(workshop):
    etag = workshop.post(COINS, NEW).headers["ETag"]

    def change(mass):
        client = workshop.app.test_client()
        return client.put(
            OWN,
            json=NEW | {"gross_mass_g": f"20.{mass}"},
            headers={
                "If-Match": etag,
                "Authorization": f"Bearer {workshop.tokens['bench']}",
            },
        ).status_code

    with ThreadPoolExecutor(8) as pool:
        statuses = sorted(pool.map(change, range(10, 18)))
    assert statuses == [200] + [412] * 7


def test_every_coin_is_on_one_page_and_no_more(workshop):
    workshop.post(COINS, NEW)
    seen, address = [], f"{COINS}?limit=20"
    while address:
        answer = workshop.get(address)
        seen += [coin["key"] for coin in answer.json["coins"]]
        address = link(answer) if "Link" in answer.headers else None
    assert seen == sorted({*catalogue(), "fair_find"})


def test_only_the_coins_of_one_origin_are_listed(workshop):
    workshop.post(COINS, NEW)
    workshop.change(PUBLISHED, FIGURES)
    own = workshop.get(f"{COINS}?origin=workshop&limit=1")
    assert [coin["key"] for coin in own.json["coins"]] == ["at_50s_1959_1973"]
    rest = workshop.get(link(own))
    assert [coin["key"] for coin in rest.json["coins"]] == ["fair_find"]
    assert "Link" not in rest.headers
    published = workshop.get(f"{COINS}?origin=catalogue&limit=100").json["coins"]
    assert len(published) == len(catalogue()) - 1


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        ("limit=0", "limit"),
        ("limit=101", "limit"),
        ("limit=ten", "limit"),
        ("limit=１", "limit"),
        ("limit=1e1", "limit"),
        ("after=NOT+A+KEY", "after"),
        ("origin=moon", "origin"),
        ("sort=margin", "sort"),
    ],
)
def test_a_parameter_that_cannot_be_used_is_named(workshop, query, parameter):
    answer = workshop.get(f"{COINS}?{query}")
    assert answer.status_code == 422
    assert [fault["parameter"] for fault in answer.json["errors"]] == [parameter]


def test_a_parameter_given_twice_is_refused(workshop):
    assert workshop.get(f"{COINS}?limit=1&limit=2").status_code == 400


def test_an_estimate_uses_the_coin_of_ones_own_at_once(workshop):
    body = {
        "coin": "fair_find",
        "size": {"system": "us", "size": "10"},
        "spot": {"price": "27.50"},
    }
    assert workshop.post("/v1/estimates", body).status_code == 422
    workshop.post(COINS, NEW)
    assert workshop.post("/v1/estimates", body).json["wish"]["coin_name"] == "A find"
