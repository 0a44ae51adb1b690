"""No message to others tells what a ring costs, and one that does is caught."""

from __future__ import annotations

import json
from collections import Counter

import pytest

from api.ports.hooks import HOOK_EVENTS
from api.services.hooks import telling
from tests.http import leaks
from tests.http.leak_calls import Place
from tests.http.leak_hooks import ALLOWED, check, listen, told
from tests.http.leaks import PLANTED, Leak
from tests.http.listing import RING, csv_text, line
from tests.http.quoting import decide
from tests.http.repricing import decide as decide_run
from tests.http.repricing import previewed
from tests.http.window import BANDS

MANY = 120
CHANGED = {name: value for name, value in RING.items() if name != "sku"}


@pytest.fixture
def place(timed_workshop):
    found = Place(timed_workshop)
    listen(found)
    return found


def change_a_price(place):
    bands = [BANDS[0] | {"price": "201.95"}, BANDS[1]]
    body = CHANGED | {"published": True, "bands": bands, "policy": PLANTED["policy"]}
    leaks.done(place.workshop.change("/v1/listings/ring-1", body))


def import_many(place, price):
    rows = [
        line(f"many-{n}", price=price, policy=PLANTED["policy"]) for n in range(MANY)
    ]
    answer = place.workshop.send("POST", "/v1/listings/import", csv_text(*rows))
    leaks.done(answer)


def reprice(place):
    """Bring every listing to what it has to cost; what the bench sees is secret."""
    run = previewed(place.workshop)
    path = f"/v1/repricings/{run['id']}/bands?limit=100"
    bands = leaks.done(place.workshop.get(path)).json
    place.secrets |= leaks.figures(bands)
    moving = [
        {"sku": each["sku"], "from": each["from"]}
        for each in bands["bands"]
        if each["decision"] == "review"
    ]
    assert moving
    leaks.done(decide_run(place.workshop, run, "apply", {"include": moving}))


def take(place):
    """Accept a quote of the bench and a price that was held."""
    leaks.done(decide(place.workshop, place.quote, "accept"))
    held = place.new_hold()
    leaks.done(decide(place.workshop, held, "accept", match=held["_etag"], key="shop"))
    return {place.quote["number"], held["number"]}


def test_no_message_tells_what_a_ring_costs(place, clock):
    found = []
    change_a_price(place)
    found += told(place)
    import_many(place, "189.95")
    import_many(place, "199.95")
    found += told(place)
    reprice(place)
    found += told(place)
    taken = take(place)
    place.new_hold()
    clock.advance(hours=24 * 100)
    found += told(place)
    events = Counter(check(*message, place.secrets) for message in found)
    assert set(events) == set(HOOK_EVENTS) == set(ALLOWED)
    documents = [json.loads(body) for _, body in found]
    told_of = {d["data"]["number"] for d in documents if d["type"] == "quote.accepted"}
    assert told_of == taken
    skus = [len(d["data"]["listings"]) for d in documents if "listings" in d["data"]]
    assert max(skus) == 100  # many at once come in parts
    assert sum(skus) > 2 * MANY
    hidden = PLANTED["not published"]
    assert not [body for _, body in found if hidden in body or '"hidden"' in body]


def test_what_is_not_published_is_told_of_nobody(place):
    body = CHANGED | {"published": False, "bands": BANDS, "title": "Hidden"}
    leaks.done(place.workshop.change("/v1/listings/hidden", body))
    assert told(place) == []


def leaky(place, monkeypatch, name, leak):
    """Let what writes messages say a little more."""
    usual = getattr(telling, name)

    def write(*asked, **more):
        bodies = usual(*asked, **more)
        if isinstance(bodies, str):
            return json.dumps(leak(json.loads(bodies)))
        return [json.dumps(leak(json.loads(body))) for body in bodies]

    monkeypatch.setattr(telling, name, write)


def with_data(**more):
    return lambda document: document | {"data": document["data"] | more}


def with_band(**more):
    def leak(document):
        document["data"]["listings"][0]["bands"][0] |= more
        return document

    return leak


@pytest.mark.parametrize(
    "leak",
    [
        with_data(margin="0.5"),
        with_data(note="x"),
        with_data(total=PLANTED["cost"]),
        with_data(number={"a": "b"}),
        lambda document: document | {"minutes": "1"},
        lambda document: document | {"spot": "1"},
    ],
)
@pytest.mark.parametrize("event", ["quote.accepted", "quote.expired"])
def test_a_message_about_a_quote_that_tells_is_caught(
    place, clock, monkeypatch, event, leak
):
    leaky(place, monkeypatch, "quote_body", leak)
    if event == "quote.accepted":
        leaks.done(decide(place.workshop, place.quote, "accept"))
    else:
        clock.advance(hours=24 * 100)
    [message, *_] = told(place)
    assert json.loads(message[1])["type"] == event
    with pytest.raises(Leak):
        check(*message, place.secrets)


@pytest.mark.parametrize(
    "leak",
    [
        with_band(cost="1"),
        with_band(at="noon"),
        with_band(price=PLANTED["wage"]),
        with_data(supplier="x"),
        with_data(version=PLANTED["margin"]),
    ],
)
def test_a_message_about_prices_that_tells_is_caught(place, monkeypatch, leak):
    leaky(place, monkeypatch, "price_bodies", leak)
    change_a_price(place)
    [message] = told(place)
    with pytest.raises(Leak):
        check(*message, place.secrets)


def test_a_header_that_tells_is_caught(place):
    change_a_price(place)
    [(headers, body)] = told(place)
    assert check(headers, body, place.secrets) == "listing.prices_changed"
    for name, value in (("X-Cost", "1"), ("webhook-id", PLANTED["failure rate"])):
        with pytest.raises(Leak):
            check(headers | {name: value}, body, place.secrets)
