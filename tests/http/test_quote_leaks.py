"""What a shop learns of a quote: exactly the customer's sheet, and no cost by any way.

Every figure a maker keeps to himself is planted as a value that occurs nowhere else.
"""

from __future__ import annotations

import json
import re
import tomllib
from base64 import b64encode
from copy import deepcopy
from urllib.parse import quote as percent_encoded

import pytest

from api.preconditions import tag_shown
from tests.architecture.source import ROOT
from tests.http.quoting import PAIR, QUOTES, decide, fresh, made
from tests.http.workshop import component

SHEET = {
    "number", "workshop", "status", "created_at", "valid_until", "decided_at",
    "timezone", "currency", "pieces", "goods", "shipping", "tax", "tax_rate",
    "tax_inclusive", "total", "deposit", "balance", "make_by", "customer_note",
    "cautions", "spot", "renews", "renewed_by",
}  # fmt: skip
PARTS = {
    "pieces": {
        "coin", "size", "quantity", "unit", "total", "extras", "own_coin",
        "own_coin_text",
    },
    "cautions": {"code", "text"},
    "renews": {"number", "total"},
    "spot": {"price", "as_of"},
}  # fmt: skip
PROBLEM = {"type", "title", "status", "detail", "instance", "errors"}
PROBLEM |= {"violated-policies"}
SPOT = "29.7717"
PLANTED = {
    "wage": "91.7346",
    "overhead": "17.9143",
    "minutes": "61.37",
    "coin": "41.8273",
    "margin": "0.37913",
    "floor": "0.21977",
    "supplier": "CANARYSUPPLIER",
    "stage": "CANARYSTAGE",
    "spot": SPOT,
}
SECRET_NAMES = re.compile(
    r"cost|margin|markup|labou?r|minutes|failure|overhead|supplier|spot_paid|profit"
    r"|bench|fees|net\b|starts|scrap",
    re.IGNORECASE,
)


@pytest.fixture
def planted(workshop):
    """A workshop whose book, coin and spot are full of canaries."""
    book = deepcopy(tomllib.loads((ROOT / "demo/price_book.toml").read_text("utf-8")))
    book["labour"] |= {
        "rate_per_hour": PLANTED["wage"],
        "overhead_per_hour": PLANTED["overhead"],
    }
    book["stages"][1] |= {"minutes": PLANTED["minutes"], "title": PLANTED["stage"]}
    for policy in book["policies"]:
        policy |= {"target_margin": PLANTED["margin"], "floor_margin": PLANTED["floor"]}
    workshop.change("/v1/price-book", book)
    coin = {
        "key": "at_50s_1959_1973",
        "name": "Austria 50 schilling",
        "gross_mass_g": "20.00",
        "fineness_permille": "900",
        "diameter_mm": "34.00",
        "basis": "paid",
        "paid": PLANTED["coin"],
        "source": PLANTED["supplier"],
        "notes": PLANTED["supplier"],
    }
    workshop.post("/v1/coins", coin)
    return workshop


def asked(**terms):
    lines = deepcopy(PAIR["lines"])
    lines[0]["spot"]["price"] = SPOT
    return {"lines": lines, **terms}


def canaries(workshop, quote):
    """The planted values, and what followed from them in this quote."""
    whole = workshop.get(f"{QUOTES}/{quote['id']}").json
    figures = {whole[name] for name in ("cost", "margin", "fees", "net", "bench_hours")}
    for line in whole["lines"]:
        figures |= {line["cost"]["per_piece"], line["cost"]["attended_minutes"]}
        figures |= {line["margin"]["hourly"], line["margin"]["rate"]}
    told = {whole[name] for name in ("goods", "shipping", "tax", "total", "deposit")}
    return set(PLANTED.values()) | {one for one in figures - told if len(one) > 4}


def disguises(text):
    yield text
    yield percent_encoded(text)
    yield json.dumps(text)[1:-1]
    for shift in range(3):  # the same text within a longer one in base64
        coded = b64encode(b" " * shift + text.encode()).decode()
        yield coded[(0, 2, 3)[shift] : -4].rstrip("=") or text


def names(document):
    if isinstance(document, dict):
        for name, value in document.items():
            yield name
            yield from names(value)
    elif isinstance(document, list):
        for value in document:
            yield from names(value)


def clean(answer, canaries_, allowed):
    """Nothing planted in any disguise, and exactly the members that are allowed."""
    everything = answer.text + str(answer.headers)
    for canary in canaries_:
        for text in disguises(canary):
            assert text not in everything, canary
    if not answer.data:
        return
    document = answer.json
    assert document.keys() <= allowed
    found = [name for name in names(document) if SECRET_NAMES.search(name)]
    assert found == []
    for part, members in PARTS.items():
        inner = document.get(part)
        for one in inner if isinstance(inner, list) else [inner] if inner else []:
            assert one.keys() == members


def test_the_sheet_and_the_acceptance_have_exactly_its_members(planted):
    quote = made(planted, **asked(show_spot=False))
    secret = canaries(planted, quote)
    path = f"{QUOTES}/{quote['id']}/sheet"
    answers = [
        planted.get(path, key="shop"),
        decide(planted, quote, "accept", key="shop", name=fresh()),
        planted.get(path, key="shop"),
    ]
    for answer in answers:
        assert answer.status_code == 200
        assert answer.json.keys() == SHEET
        clean(answer, secret, SHEET)


def test_a_renewed_one_tells_the_old_price_and_no_more(planted):
    old = made(planted, **asked())
    body = {"spot": {"price": SPOT}}
    new = decide(planted, old, "renew", body).json
    secret = canaries(planted, new)
    for quote in (old, new):
        answer = planted.get(f"{QUOTES}/{quote['id']}/sheet", key="shop")
        clean(answer, secret, SHEET)


def test_the_spot_is_told_only_where_the_maker_lets_it(planted):
    quote = made(planted, **asked(show_spot=True))
    answer = planted.get(f"{QUOTES}/{quote['id']}/sheet", key="shop")
    assert answer.json["spot"]["price"] == SPOT
    clean(answer, canaries(planted, quote) - {SPOT}, SHEET)


def test_an_answer_kept_for_the_bench_is_no_answer_for_the_shop(planted):
    quote = made(planted, **asked())
    secret = canaries(planted, quote)
    name = fresh()
    first = planted.once(QUOTES, asked(), name)
    assert first.status_code == 201
    clean(planted.once(QUOTES, asked(), name, key="shop"), secret, PROBLEM)
    accepted = decide(planted, quote, "accept", name=name)
    assert accepted.status_code == 200
    again = decide(planted, quote, "accept", name=name, key="shop")
    assert again.status_code == 412  # its own request, not the other's answer
    clean(again, secret, PROBLEM)


def test_no_refusal_tells_a_shop_anything(planted, monkeypatch):
    quote, gone = made(planted, **asked()), made(planted, **asked(valid_hours=1))
    secret = canaries(planted, quote)
    decide(planted, gone, "decline", {"reason": PLANTED["supplier"]})
    one, path = f"{QUOTES}/{quote['id']}", f"{QUOTES}/{quote['id']}/accept"
    match = {"If-Match": quote["_etag"]}

    def told(method, address, body=None, **more):
        answer = planted.send(method, address, body, key="shop", **more)
        clean(answer, secret, PROBLEM)
        return answer.status_code

    assert told("GET", QUOTES) == 403
    assert told("GET", one) == 403
    assert told("POST", QUOTES, asked()) == 403
    assert told("POST", f"{one}/decline", {}) == 403
    assert told("POST", f"{one}/renew", {}) == 403
    assert told("DELETE", one) == 405
    assert told("GET", f"{QUOTES}/{'A' * 22}/sheet") == 404
    assert told("GET", f"{one}/sheet?fields=cost") == 422
    assert told("GET", f"{one}/sheet", headers={"Accept": "text/html"}) == 406
    assert told("POST", path) == 428
    assert told("POST", path, headers={"If-Match": '"quote-9"'}) == 412
    assert told("POST", path, headers={"If-Match": "x"}) == 400
    assert told("POST", path, {"total": "1"}, headers=match) == 422
    assert told("POST", path, b"[", headers=match) == 400
    assert told("POST", path, b"x", headers=match, content_type="text/plain") == 415
    assert told("POST", path, headers=match | {"Idempotency-Key": "x"}) == 400
    any_version = {"If-Match": "*"}
    assert told("POST", f"{QUOTES}/{gone['id']}/accept", headers=any_version) == 409
    with monkeypatch.context() as patch:
        patch.setattr(planted.services.quotas, "_limits", {"quotes": 0})
        assert told("GET", f"{one}/sheet") == 429


def test_a_fault_of_the_program_tells_a_shop_nothing(planted, monkeypatch):
    quote = made(planted, **asked())

    def fail(*_):
        raise ValueError(f"the margin is {PLANTED['margin']}")

    monkeypatch.setattr(planted.services.quotes, "sheet", fail)
    answer = planted.client.get(
        f"{QUOTES}/{quote['id']}/sheet",
        headers={"Authorization": f"Bearer {planted.tokens['shop']}"},
    )
    assert answer.status_code == 500
    clean(answer, set(PLANTED.values()), PROBLEM)


def test_the_tag_a_shop_sees_is_a_count_and_a_keyed_digest_of_what_it_sees(planted):
    quote = made(planted, **asked())
    answer = planted.get(f"{QUOTES}/{quote['id']}/sheet", key="shop")
    secret = planted.services.installation.secret("sheet-tags")
    assert answer.headers["ETag"] == tag_shown('"quote-1"', answer.data, secret)
    assert tag_shown('"quote-1"', answer.data, b"other") != answer.headers["ETag"]


def test_the_description_of_the_sheet_allows_nothing_else():
    shape = component("CustomerSheet").schema["components"]["schemas"]
    assert shape["CustomerSheet"]["properties"].keys() == SHEET
    assert shape["CustomerSheet"]["additionalProperties"] is False
    for part, name in {
        "pieces": "SheetPiece",
        "cautions": "SheetCaution",
        "renews": "SheetRenewed",
        "spot": "SheetSpot",
    }.items():
        assert shape[name]["properties"].keys() == PARTS[part]


def test_canaries_would_be_found(planted):
    quote = made(planted, **asked())
    answer = planted.get(f"{QUOTES}/{quote['id']}")
    found = {one for one in canaries(planted, quote) if one in answer.text}
    assert len(found) > 10
    with pytest.raises(AssertionError):
        clean(answer, found, SHEET)
