"""The search for leaks finds leaks: a route, member, header or text that tells."""

from __future__ import annotations

from base64 import b64encode, urlsafe_b64encode
from contextlib import nullcontext
from dataclasses import replace

import pytest

from api.app import RESOURCES, create_app
from api.endpoint import Reply
from api.ports import Conflict
from api.schemas.document import Answer
from api.schemas.fields import Text
from api.security import BENCH
from api.services.window.price_tokens import new_pair, signed
from tests.http import leaks
from tests.http.fakes import SETTINGS, FakeServices, probe
from tests.http.leak_calls import CALLS
from tests.http.leak_routes import OPERATIONS, broken, first, public_members, send, told
from tests.http.leaks import ALLOWED, PLANTED, Leak


class LeakyDocument(Answer):
    """A listing that says a little too much."""

    sku = Text(most=64)
    profit = Text(most=64)


def leaky(**members):
    """A handler that answers with a listing and with more."""
    return lambda _: Reply({"sku": "ring-1"} | members)


@pytest.mark.parametrize(
    "text",
    [
        "a ring of 9173.4621",
        "9173%2E4621",
        "&#57;173.4621",
        "9173\\u002e4621",
        b64encode(b'{"total":"9173.4621"}').decode(),
        urlsafe_b64encode(b'{"a":"b","c":"9173.4621"}').decode(),
        b64encode(b"x9173.4621").decode(),
        b"9173.4621".hex(),
        "CANARYSUPPLIER &amp; S&ouml;hne &lt;Ost&gt;",
        "CANARYSUPPLIER+%26+S%C3%B6hne",
    ],
)
def test_a_canary_is_found_in_every_disguise(text):
    assert leaks.search(text, PLANTED.values())
    assert leaks.search("a ring of 189.95", PLANTED.values()) == []


def test_a_leak_in_a_member_is_caught(place, monkeypatch):
    name = "read_window_listing"
    answers = {200: LeakyDocument()}
    for cost in (PLANTED["cost"], "1.00"):
        broken(place, name, leaky(profit=cost), monkeypatch, answers=answers)
        answer = send(place, first(place, name), "window")
        assert answer.status_code == 200
        with pytest.raises(Leak):
            leaks.check(answer, place.secrets, schema="WindowListingDocument")


@pytest.mark.parametrize("title", ["A ring, 38 % margin", "A ring, 38 % off"])
def test_a_sentence_about_a_secret_is_caught_whatever_its_figure(
    place, monkeypatch, title
):
    name = "read_window_listing"

    def handler(call):
        return Reply(replace(call.services.window.listings.get("ring-1"), title=title))

    broken(place, name, handler, monkeypatch)
    answer = send(place, first(place, name), "window")
    assert answer.json["title"] == title
    told_of_it = pytest.raises(Leak) if "margin" in title else nullcontext()
    with told_of_it:
        leaks.check(answer, place.secrets, schema="WindowListingDocument")


@pytest.mark.parametrize(
    "claims", [{"spread": "1"}, {"size": {"system": "us", "size": "8", "spread": "1"}}]
)
def test_a_claim_that_nobody_allowed_is_caught_however_deep_it_lies(claims):
    _, private = new_pair()
    told_of = {"jti": "a", "size": {"system": "us", "size": "8"}}
    leaks.check_token(signed(told_of, private=private, kid="k"))
    with pytest.raises(Leak, match="spread"):
        leaks.check_token(signed(told_of | claims, private=private, kid="k"))


@pytest.mark.parametrize("header", ["ETag", "X-Cost", "Link"])
def test_a_leak_in_a_header_is_caught(place, monkeypatch, header):
    def handler(_):
        return Reply({"status": "ok"}, headers={header: f'"{PLANTED["margin"]}"'})

    broken(place, "read_liveness", handler, monkeypatch)
    with pytest.raises(Leak):
        told(place, "read_liveness", first(place, "read_liveness"), None)


@pytest.mark.parametrize("told_of", [f"floor of {PLANTED['floor']}", "margin"])
def test_a_leak_in_a_refusal_is_caught(place, monkeypatch, told_of):
    def handler(_):
        raise Conflict(f"the price is under the {told_of}")

    broken(place, "read_window_price", handler, monkeypatch)
    with pytest.raises(Leak):
        told(place, "read_window_price", first(place, "read_window_price"), "window")


def test_a_new_member_is_caught_until_it_is_allowed(monkeypatch):
    name = "WindowPriceDocument"
    assert public_members()[name] == ALLOWED[name]
    schema = OPERATIONS["read_window_price"].answers[200]
    monkeypatch.setitem(schema.fields, "quality", Text(most=9))
    assert public_members()[name] != ALLOWED[name]


def test_a_route_that_nobody_listed_is_seen():
    app = create_app(SETTINGS, FakeServices(), resources=(*RESOURCES, probe))
    reached = {
        rule.endpoint
        for rule in app.url_map.iter_rules()
        if app.view_functions[rule.endpoint].scope is not BENCH
    }
    assert "list_rings" in reached - CALLS.keys()
