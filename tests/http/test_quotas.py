"""Quotas over HTTP: told in Structured Fields, refused as everybody understands."""

from __future__ import annotations

import shutil

import http_sf
import pytest
from flask import g

from api.quotas import QUOTES, SHEETS, QuotaPolicy, spend
from api.services.quotas import WINDOW_S, QuotaStanding
from api.settings import Settings
from tests.http.fakes import bearer
from tests.http.listing import RING
from tests.http.quoting import QUOTES as ADDRESS
from tests.http.quoting import decide, made
from tests.http.window import BANDS, price, publish
from tests.http.window import SHOWN as WINDOW
from tests.http.workshop import Workshop

QUOTA = 3
KIND = "https://iana.org/assignments/http-problem-types#quota-exceeded"


@pytest.fixture
def small(seeded_long_ago, tmp_path, clock):
    """A service that lets little through, at the time of a clock that tests move."""
    file, tokens = seeded_long_ago
    copy = tmp_path / "small.sqlite3"
    shutil.copy(file, copy)
    found = Workshop(str(copy), dict(tokens), clock=clock, quota=QUOTA)
    yield found
    found.close()


def field(answer, name):
    """The one item of a Structured Field: its text and its parameters."""
    value = answer.headers[name].encode()
    [(text, parameters)] = http_sf.parse(value, tltype="list")
    assert isinstance(text, str)
    return text, parameters


def test_every_answer_tells_how_many_are_left(small):
    for left in (2, 1, 0):
        answer = small.get(ADDRESS)
        assert answer.status_code == 200
        assert field(answer, "RateLimit-Policy") == ("quotes", {"q": QUOTA, "w": 60})
        name, told = field(answer, "RateLimit")
        assert (name, told["r"]) == ("quotes", left)
        assert 1 <= told["t"] <= WINDOW_S


def used_up(small):
    for _ in range(QUOTA):
        small.get(ADDRESS)
    return small.get(ADDRESS)


def test_one_more_is_refused_as_everybody_understands(small):
    answer = used_up(small)
    assert answer.status_code == 429
    assert answer.json["type"] == KIND
    assert answer.json["violated-policies"] == ["quotes"]
    assert answer.headers["Cache-Control"] == "no-store"
    _, told = field(answer, "RateLimit")
    assert told["r"] == 0
    assert int(answer.headers["Retry-After"]) >= told["t"]
    wait = answer.headers["Retry-After"]
    assert answer.json["detail"].endswith(f"ask again in {wait} seconds.")


def test_after_the_time_it_names_requests_are_let_through_again(small, clock):
    wait = int(used_up(small).headers["Retry-After"])
    clock.advance(seconds=wait - 1)
    assert small.get(ADDRESS).status_code == 429
    clock.advance(seconds=1)
    assert small.get(ADDRESS).status_code == 200


def test_all_operations_on_quotes_count_together_whatever_they_answer(small):
    assert small.once(ADDRESS, {"lines": []}).status_code == 422
    assert small.get(f"{ADDRESS}/{'A' * 22}").status_code == 404
    assert small.get(f"{ADDRESS}?limit=0").status_code == 422
    assert small.get(ADDRESS).status_code == 429


def test_what_a_key_may_not_do_costs_it_nothing(small):
    for _ in range(QUOTA + 1):
        assert small.get(ADDRESS, key="shop").status_code == 403
        assert small.get(ADDRESS, key=None).status_code == 401
    answer = small.get(f"{ADDRESS}/{'A' * 22}/sheet", key="shop")
    assert field(answer, "RateLimit")[1]["r"] == QUOTA - 1


def test_each_key_has_its_own(small):
    used_up(small)
    _, small.tokens["other"] = small.services.keys.create("bench", "Other")
    assert small.get(ADDRESS, key="other").status_code == 200


def test_a_refused_request_has_no_effect(small):
    quote = made(small)
    small.get(ADDRESS)
    small.get(ADDRESS)
    before = small.counts()
    assert decide(small, quote, "accept").status_code == 429
    assert small.counts() == before


@pytest.fixture
def beside(timed_workshop, clock):
    """Another process on the same database, and the one that it is beside of."""
    database = timed_workshop.services.storage.engine.url.database
    found = Workshop(database, timed_workshop.tokens, clock=clock)
    publish(timed_workshop)
    yield found, timed_workshop
    found.close()


def test_a_request_that_is_counted_asks_nothing_else_to_know_its_key(
    beside, monkeypatch
):
    other, _ = beside
    assert price(other).status_code == 200
    counted, storage = [], other.services.storage

    def count(*asked, **more):
        counted.append(asked)
        return type(storage).count(storage, *asked, **more)

    monkeypatch.setattr(storage, "revisions", None)
    monkeypatch.setattr(storage, "read", None)
    monkeypatch.setattr(storage, "count", count)
    assert price(other).status_code == 200
    assert len(counted) == 1


def test_a_key_revoked_by_another_process_is_refused_from_the_next_request_on(beside):
    other, one = beside
    assert price(other).status_code == 200
    of_window = other.tokens["window"].split("_")[2]
    one.services.keys.revoke(of_window)
    assert price(other).status_code == 401


def test_a_key_made_by_another_process_is_known_at_once(beside):
    other, one = beside
    assert price(other).status_code == 200
    _, token = one.services.keys.create("window", "New")
    other.tokens = other.tokens | {"new": token}
    assert price(other, key="new").status_code == 200


def test_a_price_changed_by_another_process_is_told_at_once(beside):
    other, one = beside
    assert price(other).json["total"] == "189.95"
    bands = [BANDS[0] | {"price": "175.50"}, BANDS[1]]
    changed = {name: value for name, value in RING.items() if name != "sku"}
    answer = one.change(
        "/v1/listings/ring-1", changed | {"published": True, "bands": bands}
    )
    assert answer.status_code == 200
    assert price(other).json["total"] == "175.50"


def test_other_operations_are_not_counted(small):
    answer = small.get("/v1/coins")
    assert "RateLimit" not in answer.headers
    assert "RateLimit-Policy" not in answer.headers


def test_the_policies_are_those_of_the_settings():
    usual = Settings(database="x.db")
    assert (QUOTES.name, QUOTES.usual) == ("quotes", usual.quota_quotes)
    assert (SHEETS.name, SHEETS.usual) == ("sheets", usual.quota_sheets)


class Counting:
    """Notes who asks."""

    def __init__(self):
        self.asked = []

    def count(self, policy, who, *, ahead=False):
        self.asked.append((policy, who))
        return QuotaStanding(policy=policy, limit=1, left=0, ends_in_s=9, passed=True)


@pytest.mark.parametrize(
    ("address", "who"),
    [
        ("203.0.113.9", "address 203.0.113.9"),
        ("2001:db8:1:2:3:4:5:6", "address 2001:db8:1:2::/64"),
        ("2001:db8:1:2:ffff::1", "address 2001:db8:1:2::/64"),
        ("", "address "),
        (None, "address "),
        ("a socket", "address "),
    ],
)
def test_where_there_is_no_key_the_address_counts(app, address, who):
    quotas, policy = Counting(), QuotaPolicy(name="sheets", usual=1)
    with app.test_request_context(environ_base={"REMOTE_ADDR": address}):
        spend(policy, quotas, None)
        assert [each.left for each in g.quotas] == [0]
    assert quotas.asked == [("sheets", who)]


def test_an_address_that_forwards_itself_is_not_believed(app):
    quotas = Counting()
    forged = {"X-Forwarded-For": "198.51.100.7"}
    environ = {"REMOTE_ADDR": "203.0.113.9"}
    with app.test_request_context(headers=forged, environ_base=environ):
        spend(SHEETS, quotas, None)
    assert quotas.asked == [("sheets", "address 203.0.113.9")]


def test_what_is_not_counted_needs_no_quotas(client, services):
    services.quotas = None
    answer = client.get("/v1/probe-rings", headers=bearer("shop"))
    assert answer.status_code == 200


# One of many who share the key of a page


VISITORS = {
    "a buyer": "8.8.8.8",
    "another": "9.9.9.9",
    "by IPv6": "2a00:1450:4001:800::1",
    "of the same site": "2a00:1450:4001:800:ffff::1",
}


def shown(small, address, key="window"):
    headers = {"Authorization": f"Bearer {small.tokens[key]}"}
    environ = {"REMOTE_ADDR": address}
    return small.client.get(WINDOW, headers=headers, environ_base=environ)


def items(answer, name):
    """The items of a Structured Field by their text."""
    value = answer.headers[name].encode()
    return dict(http_sf.parse(value, tltype="list"))


def test_a_visitor_is_told_of_both_quotas(small):
    answer = shown(small, VISITORS["a buyer"])
    assert answer.status_code == 200
    assert items(answer, "RateLimit-Policy") == {
        "window-visitor": {"q": 1, "w": 60},
        "window": {"q": QUOTA, "w": 60},
    }
    left = {name: told["r"] for name, told in items(answer, "RateLimit").items()}
    assert left == {"window-visitor": 0, "window": QUOTA - 1}


def test_no_visitor_of_a_page_uses_up_what_is_there_for_all(small, clock):
    assert shown(small, VISITORS["a buyer"]).status_code == 200
    for _ in range(2 * QUOTA):
        refused = shown(small, VISITORS["a buyer"])
    assert refused.status_code == 429
    assert refused.json["violated-policies"] == ["window-visitor"]
    assert "'window-visitor'" in refused.json["detail"]
    assert items(refused, "RateLimit").keys() == {"window-visitor"}
    assert shown(small, f"::ffff:{VISITORS['a buyer']}").status_code == 429
    assert shown(small, f"::ffff:{VISITORS['another']}").status_code == 200
    assert shown(small, VISITORS["another"]).status_code == 429
    assert shown(small, VISITORS["by IPv6"]).status_code == 200
    assert shown(small, VISITORS["of the same site"]).status_code == 429
    last = shown(small, "1.1.1.1")
    assert last.json["violated-policies"] == ["window"]
    clock.advance(seconds=WINDOW_S)
    assert shown(small, VISITORS["a buyer"]).status_code == 200


@pytest.mark.parametrize("address", ["127.0.0.1", "192.168.1.9", "fd00::1", "", "x"])
def test_an_address_that_is_not_a_visitors_shares_nothing(small, address):
    for _ in range(QUOTA):
        answer = shown(small, address)
        assert answer.status_code == 200
        assert items(answer, "RateLimit").keys() == {"window"}


def test_a_server_of_the_shop_has_the_quota_of_its_key(small):
    for _ in range(QUOTA):
        answer = shown(small, VISITORS["a buyer"], key="shop")
        assert answer.status_code == 200
        assert items(answer, "RateLimit").keys() == {"window"}
