"""Nothing that a maker keeps to himself leaves by any route that others can reach.

The routes are those that the application has, with the scopes they declare; a new one
fails here until it is said in leak_calls how to call it.
"""

from __future__ import annotations

import logging
import re
from dataclasses import replace

import pytest

from api.services.quotas import QuotaStanding
from tests.http import leaks
from tests.http.leak_calls import CALLS, HELD, REFUSED, Ask, Place
from tests.http.leak_routes import (
    CALLERS,
    CURIOUS,
    KEPT,
    OPERATIONS,
    OTHER_METHODS,
    REACHED,
    ROUTES,
    allowed,
    broken,
    elsewhere,
    first,
    quota_of,
    refusals,
    send,
    told,
)
from tests.http.leaks import PLANTED, SECRET_NAMES
from tests.http.quoting import QUOTES, fresh


def test_it_is_known_how_to_call_every_route_that_others_reach():
    assert sorted(CALLS) == REACHED
    assert REFUSED.keys() <= CALLS.keys()


@pytest.mark.parametrize("key", CALLERS)
@pytest.mark.parametrize("name", REACHED)
def test_a_success_tells_nothing(place, name, key):
    for ask in CALLS[name](place):
        status = told(place, name, ask, key)
        reached = allowed(name, key)
        assert status == (ask.status if reached is True else reached), ask.path


@pytest.mark.parametrize("key", CALLERS)
@pytest.mark.parametrize("name", sorted(REFUSED))
def test_what_is_refused_for_a_reason_tells_nothing(place, name, key):
    for ask in REFUSED[name](place):
        status = told(place, name, ask, key)
        reached = allowed(name, key)
        assert status == (ask.status if reached is True else reached), ask.path


@pytest.mark.parametrize("key", CALLERS)
@pytest.mark.parametrize("name", REACHED)
def test_other_methods_and_questions_tell_nothing(place, name, key):
    ask = first(place, name)
    reached = allowed(name, key)
    methods = ROUTES[name].methods
    for method in ("HEAD", "OPTIONS", "PATCH", "TRACE", "BREW"):
        status = told(place, name, replace(ask, method=method, body=None), key)
        if method in methods and method != "OPTIONS":
            assert status == (ask.status if reached is True else reached)
        elif method not in OTHER_METHODS[name]:
            assert status == (204 if method == "OPTIONS" else 405)
    for curious in CURIOUS:
        sign = "&" if "?" in ask.path else "?"
        more = replace(ask, path=f"{ask.path}{sign}{curious}")
        status = told(place, name, more, key)
        if name in OPERATIONS:
            assert status == (422 if reached is True else reached)


@pytest.mark.parametrize("key", CALLERS)
@pytest.mark.parametrize("name", sorted(OPERATIONS.keys() & set(REACHED)))
def test_every_declared_refusal_tells_nothing(place, name, key):
    reached = allowed(name, key)
    ask = first(place, name)
    for refused, status in refusals(place, name, ask):
        found = told(place, name, refused, key)
        assert found == (status if reached is True else reached), refused
    if OPERATIONS[name].body is not None:
        text = replace(ask, body=b"x")
        found = told(place, name, text, key, content_type="text/plain")
        assert found == (415 if reached is True else reached)
    told(place, name, replace(ask, headers={"Authorization": "Bearer x"}), None)


@pytest.mark.parametrize("key", CALLERS)
@pytest.mark.parametrize("name", [name for name in REACHED if quota_of(name)])
def test_a_quota_used_up_tells_nothing(place, name, key, monkeypatch):
    quota = quota_of(name)
    ask, reached = first(place, name), allowed(name, key)
    used_up = QuotaStanding(
        policy=quota.name, limit=1, left=0, ends_in_s=9, passed=False
    )
    monkeypatch.setattr(
        place.workshop.services.quotas, "count", lambda *_, **__: used_up, raising=True
    )
    assert told(place, name, ask, key) == (429 if reached is True else reached)


@pytest.mark.parametrize("key", CALLERS)
@pytest.mark.parametrize("name", REACHED)
def test_a_fault_of_the_program_tells_nothing(place, name, key, monkeypatch):
    ask, reached = first(place, name), allowed(name, key)

    def fail(*_, **__):
        raise ValueError(" ".join(PLANTED.values()))

    broken(place, name, fail, monkeypatch)
    assert told(place, name, ask, key) == (500 if reached is True else reached)


@pytest.mark.parametrize("key", CALLERS)
@pytest.mark.parametrize("name", KEPT)
def test_what_is_the_benchs_answers_nobody_else(place, name, key):
    operation = OPERATIONS[name]
    known = {"<quote_id>": place.quote["id"], "<sku>": "ring-1"}
    rule = operation.rule
    for part, value in known.items():
        rule = rule.replace(part, value)
    refused = 401 if key is None else 403
    headers = {"If-Match": "*", "Idempotency-Key": fresh()}
    for path in (rule, elsewhere(name)):
        for body in (None, {}, b"["):
            ask = Ask(path=path, method=operation.method, body=body, headers=headers)
            assert told(place, name, ask, key) == refused
    if operation.method == "GET":
        assert told(place, name, Ask(path=rule, method="HEAD"), key) == refused
    assert told(place, name, Ask(path=rule, method="OPTIONS"), key) == 204
    curious = Ask(path=f"{rule}?fields=cost", method=operation.method)
    assert told(place, name, curious, key) == refused


# Answers that were kept for others


REPEATED = sorted(
    name for name in REACHED if name in OPERATIONS and OPERATIONS[name].idempotency
)


@pytest.mark.parametrize("key", ["window", "shop"])
@pytest.mark.parametrize("name", REPEATED)
def test_an_answer_kept_for_the_bench_is_no_answer_for_others(place, name, key):
    ask = first(place, name)
    ask = replace(ask, headers=dict(ask.headers) | {"Idempotency-Key": fresh()})
    leaks.done(send(place, ask, "bench"))
    reached = allowed(name, key)
    status = told(place, name, ask, key)
    assert (status in {200, 201, 409, 412}) if reached is True else status == reached


@pytest.mark.parametrize("key", ["window", "shop"])
def test_a_quote_made_by_the_bench_is_not_made_again_for_others(place, key):
    ask = Ask(
        method="POST",
        path=QUOTES,
        body=leaks.asked(),
        headers={"Idempotency-Key": fresh()},
    )
    leaks.done(send(place, ask, "bench"))
    assert told(place, "make_quote", ask, key) == 403


# Held prices


def test_a_held_price_that_expired_tells_nothing(timed_workshop, clock):
    place = Place(timed_workshop)
    name = "accept_quote"
    held = place.new_hold()
    clock.advance(hours=25)
    headers = {"If-Match": held["_etag"]}
    path = f"{QUOTES}/{held['id']}/accept"
    for body in (None, {"token": held["token"]}):
        ask = Ask(method="POST", path=path, body=body, headers=headers)
        assert told(place, name, ask, "shop") == 409
    read = Ask(path=f"{HELD}/{held['id']}")
    assert told(place, "read_window_hold", read, "window") == 200
    assert send(place, read, "window").json["status"] == "expired"


def test_why_a_price_cannot_be_held_is_not_told(workshop):
    place = Place(workshop)
    not_makeable = next(
        a for a in REFUSED["hold_window_price"](place) if a.status == 409
    )
    answers = [send(place, not_makeable, "window")]
    book = workshop.get("/v1/price-book").json
    book["policies"].pop()  # the one that the listing is priced by
    leaks.done(workshop.change("/v1/price-book", book))
    answers.append(send(place, first(place, "hold_window_price"), "window"))
    for answer in answers:
        assert answer.status_code == 409
        leaks.check(answer, place.secrets, schema=None)
    one, other = (answer.json | {"instance": ""} for answer in answers)
    assert one == other


# Pages and the log


PAGES = sorted(name for name in REACHED if name.startswith("sheets."))


@pytest.mark.parametrize("name", PAGES)
def test_no_word_on_a_page_for_buyers_is_one_of_the_benchs(place, name):
    for ask in CALLS[name](place) + REFUSED[name](place):
        page = send(place, ask, None).text
        words = re.sub(r"<(script|style).*?</\1>|<[^>]*>", " ", page, flags=re.DOTALL)
        assert len(words.split()) > 10
        assert SECRET_NAMES.findall(words) == []


def test_the_script_for_storefronts_names_nothing_of_the_benchs(place):
    name = "window_script.ring_price_script"
    script = send(place, first(place, name), None).text
    style = re.compile(r"\bmargin(?=(-[a-z]+)?: )")  # of CSS
    assert style.search(script)
    assert SECRET_NAMES.findall(style.sub("", script)) == []


def test_what_is_logged_of_a_request_tells_nothing(place, caplog):
    with caplog.at_level(logging.INFO, "api"):
        for name in REACHED:
            for ask in CALLS[name](place) + REFUSED.get(name, lambda _: [])(place):
                caplog.clear()
                send(place, ask, "shop")
                assert caplog.records
                assert leaks.search(caplog.text, place.secrets) == []
