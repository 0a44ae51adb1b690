from __future__ import annotations

import base64
import re
from datetime import datetime, timedelta

import pytest

from api.ports.hooks import HOOK_EVENTS, HookMessage
from api.schemas.hooks import EVENTS
from tests.http.workshop import faults

HOOKS = "/v1/hooks"
BODY = {"url": "https://shop.example/hooks", "events": ["listing.prices_changed"]}
PUBLIC = {
    "id",
    "url",
    "events",
    "enabled",
    "why_disabled",
    "secrets",
    "created_at",
    "waiting",
}
NOTHING = {
    "messages": 0,
    "tries": 0,
    "answered": None,
    "reason": "",
    "next_try_at": None,
}


def test_the_events_on_the_wire_are_all_there_are():
    assert EVENTS == HOOK_EVENTS


def made(workshop, **members):
    answer = workshop.post(HOOKS, BODY | members)
    assert answer.status_code == 201
    return answer


def test_a_hook_is_made_and_its_secret_shown_once(workshop):
    answer = made(workshop)
    secret = answer.json["secret"]
    assert len(base64.b64decode(secret.removeprefix("whsec_"))) == 32
    place = answer.headers["Location"]
    assert place == f"{HOOKS}/{answer.json['id']}"
    read = workshop.get(place)
    assert {*read.json} == PUBLIC
    assert read.headers["ETag"] == answer.headers["ETag"]
    assert workshop.get(HOOKS).json == {"hooks": [read.json]}
    trail = workshop.get("/v1/audit-entries?action=hook").text
    for shown in (read.text, workshop.get(HOOKS).text, trail):
        assert "whsec_" not in shown


@pytest.mark.parametrize(
    ("url", "word"),
    [
        ("http://shop.example/", "FINEWEIGHT_HOOK_HTTP"),
        ("https://127.0.0.1/", "FINEWEIGHT_HOOK_NETWORKS"),
        ("https://[::ffff:10.0.0.1]/", "FINEWEIGHT_HOOK_NETWORKS"),
        ("https://9.9.9.9:22/", "FINEWEIGHT_HOOK_NETWORKS"),
        ("https://2130706433/", "plain host name"),
        ("file:/etc/hosts", "plain host name"),
    ],
)
def test_a_url_that_cannot_be_an_endpoint_is_refused(workshop, url, word):
    answer = workshop.post(HOOKS, BODY | {"url": url})
    assert answer.status_code == 422
    assert word in faults(answer)["#/url"]


@pytest.mark.parametrize("events", [[], ["quote.made"], "quote.accepted", None])
def test_events_have_to_be_known_ones(workshop, events):
    assert workshop.post(HOOKS, BODY | {"events": events}).status_code == 422


def test_a_hook_is_changed_and_removed_by_who_has_seen_it(workshop):
    place = made(workshop).headers["Location"]
    new = BODY | {"enabled": False}
    assert workshop.put(place, new).status_code == 428
    seen = workshop.get(place).headers["ETag"]
    changed = workshop.change(place, new)
    assert (changed.status_code, changed.json["enabled"]) == (200, False)
    old = {"If-Match": seen}
    assert workshop.put(place, new, headers=old).status_code == 412
    assert workshop.send("DELETE", place, headers=old).status_code == 412
    now = {"If-Match": changed.headers["ETag"]}
    assert workshop.send("DELETE", place, headers=now).status_code == 204
    assert workshop.get(place).status_code == 404


def tried_in_vain(workshop, place):
    """Let a message to a hook wait for its next try; when that is."""
    now = workshop.services.clock.now()
    later = (now + timedelta(hours=5)).replace(microsecond=0)
    message = HookMessage(
        id=f"msg_{'0a' * 16}",
        hook=place.rpartition("/")[2],
        event="quote.accepted",
        body='{"said": "in confidence"}',
        created_at=now,
        tries=4,
        answered=503,
        reason="http_status",
        due=later,
    )
    workshop.services.snapshots.write(lambda unit: unit.hooks.add_messages([message]))
    return later


def test_a_hook_tells_what_waits_and_not_what_it_says(workshop):
    answer = made(workshop)
    place = answer.headers["Location"]
    assert answer.json["waiting"] == NOTHING
    later = tried_in_vain(workshop, place)
    read = workshop.get(place)
    told = read.json["waiting"]
    assert datetime.fromisoformat(told.pop("next_try_at")) == later
    assert told == {
        "messages": 1,
        "tries": 4,
        "answered": 503,
        "reason": "http_status",
    }
    listed = workshop.get(HOOKS)
    assert listed.json["hooks"][0]["waiting"]["messages"] == 1
    assert "confidence" not in read.text + listed.text


def test_what_waits_is_read_anew_and_is_no_change_of_the_hook(workshop):
    place = made(workshop).headers["Location"]
    seen = workshop.get(place).headers["ETag"]
    known = {"If-None-Match": seen}
    assert workshop.get(place, headers=known).status_code == 304
    tried_in_vain(workshop, place)
    assert workshop.get(place, headers=known).status_code == 200
    match = {"If-Match": seen}
    answer = workshop.put(place, BODY | {"enabled": True}, headers=match)
    assert answer.status_code == 200


def test_a_secret_is_changed_in_two_steps(workshop):
    answer = made(workshop)
    rotate = answer.headers["Location"] + "/rotate"
    assert workshop.post(rotate, {"step": "finish"}).status_code == 409
    begun = workshop.post(rotate, {"step": "begin"})
    assert begun.json["secrets"] == 2
    assert re.fullmatch("whsec_.{44}", begun.json["secret"])
    assert begun.json["secret"] != answer.json["secret"]
    done = workshop.post(rotate, {"step": "finish"})
    assert (done.json["secrets"], done.json["secret"]) == (1, None)


def test_failures_are_listed_and_sent_again(workshop):
    place = made(workshop, events=["quote.accepted"]).headers["Location"]
    made_quote = workshop.once(
        "/v1/quotes",
        {
            "lines": [
                {"coin": "at_50s_1959_1973", "size": {"system": "us", "size": "10"}}
            ]
        },
    )
    workshop.once(
        f"/v1/quotes/{made_quote.json['id']}/accept",
        None,
        "accept-it-once",
        headers={"If-Match": made_quote.headers["ETag"]},
    )
    workshop.services.hook_delivery.run(lambda: len(waiting(workshop)) > 0)
    assert workshop.get(place).json["waiting"]["messages"] == 1
    off = workshop.change(place, BODY | {"enabled": False})
    assert off.json["waiting"] == NOTHING
    [failure] = workshop.get(f"{place}/failures").json["failures"]
    assert (failure["event"], failure["tries"]) == ("quote.accepted", 0)
    assert (failure["answered"], failure["reason"]) == (None, "disabled")
    replay = f"{place}/replay"
    assert workshop.post(replay, {}).status_code == 409
    workshop.change(place, BODY | {"enabled": True})
    named = {"messages": [failure["id"]]}
    assert workshop.post(replay, named).json == {"messages": 1}
    assert workshop.get(place).json["waiting"]["messages"] == 1
    assert workshop.post(replay, {}).json == {"messages": 0}
    assert workshop.post(replay, {"messages": ["x"]}).status_code == 422
    assert workshop.get(f"{place}/failures").json == {"failures": []}


def waiting(workshop):
    return workshop.services.storage.read(lambda unit: unit.hooks.heads())


@pytest.mark.parametrize("key", ["shop", "window", None])
def test_hooks_are_for_the_bench_only(workshop, key):
    place = made(workshop).headers["Location"]
    denied = 401 if key is None else 403
    for path in (HOOKS, place, f"{place}/failures"):
        assert workshop.get(path, key=key).status_code == denied
    for path in (HOOKS, f"{place}/rotate", f"{place}/replay"):
        assert workshop.post(path, {}, key=key).status_code == denied


@pytest.mark.parametrize("hook", ["0000000000000000", "x"])
def test_a_hook_that_is_not_there_is_not_found(workshop, hook):
    for path in (f"{HOOKS}/{hook}", f"{HOOKS}/{hook}/failures"):
        assert workshop.get(path).status_code == 404
