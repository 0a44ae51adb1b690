"""The audit trail over HTTP: read page by page, and changed by nobody."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise
from urllib.parse import parse_qs, urlsplit

import pytest

from api.ports import AuditEntry
from tests.http.quoting import decide, made

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
TRAIL = "/v1/audit-entries"
SPOTS = "/v1/spot-prices"
RING = {"coin": "at_50s_1959_1973", "size": {"system": "us", "size": "10"}}


def linked(answer, rel):
    """The address of a page that an answer leads to; None if there is none."""
    for part in answer.headers["Link"].split(", "):
        address, _, said = part.partition("; ")
        if said == f'rel="{rel}"':
            return address[1:-1]
    return None


def entries(workshop, query=""):
    return workshop.get(f"{TRAIL}{query}").json["audit_entries"]


def key_id(workshop, name="bench"):
    return workshop.tokens[name].split("_")[2]


def test_a_change_is_told_with_its_key_and_its_request(workshop):
    trace = "0af7651916cd43dd8448eb211c80319c"
    headers = {"traceparent": f"00-{trace}-b7ad6b7169203331-01"}
    entered = workshop.post(SPOTS, {"price": "28.10"}, headers=headers)
    newest = entries(workshop)[0]
    assert newest["action"] == "spot.entered"
    assert newest["subject"] == str(entered.json["id"])
    assert (newest["by"], newest["via"]) == (key_id(workshop), "api")
    assert newest["request"] == trace == entered.headers["X-Request-Id"]
    assert newest["at"] == entered.json["recorded_at"]
    assert newest["before"] is None
    assert newest["after"]["price"] == "28.10"


def test_a_key_is_told_with_its_label_also_when_it_is_revoked(workshop):
    made = workshop.post("/v1/keys", {"scope": "bench", "label": "Desk by the window"})
    workshop.tokens["desk"] = made.json["token"]
    workshop.post(SPOTS, {"price": "28.10"}, key="desk")
    workshop.send("DELETE", f"/v1/keys/{made.json['id']}")
    revoked, entered = entries(workshop)[:2]
    assert (entered["by"], entered["by_label"]) == (
        made.json["id"],
        "Desk by the window",
    )
    assert revoked["by"] == key_id(workshop)
    [first] = entries(workshop, "?action=price_book.replaced")
    assert first["by_label"] is None


def test_who_only_has_the_name_of_a_key_has_not_its_label(workshop):
    line = AuditEntry(at=NOON, by=key_id(workshop), via="command line", action="coin.x",
                      subject="own")  # fmt: skip
    workshop.services.storage.write(lambda unit: unit.audit.add(line))
    assert entries(workshop)[0]["by_label"] is None


def test_a_quote_is_found_by_its_number_too(workshop):
    quotes = [made(workshop) for _ in range(2)]
    decide(workshop, quotes[0], "decline")
    chosen = entries(workshop, f"?subject={quotes[0]['number']}")
    assert [one["action"] for one in chosen] == ["quote.declined", "quote.created"]
    assert chosen == entries(workshop, f"?subject={quotes[0]['id']}")
    assert entries(workshop, "?subject=2026-9999") == []


def test_what_changed_is_told_in_the_order_it_is_read_best(workshop):
    workshop.post(SPOTS, {"price": "28.10"})
    after = entries(workshop)[0]["after"]
    assert list(after)[:4] == ["metal", "price", "currency", "as_of"]


def test_a_refused_change_is_not_told(workshop):
    before = entries(workshop)
    assert workshop.post(SPOTS, {"price": "-1"}).status_code == 422
    assert workshop.post(SPOTS, {"price": "28"}, key="shop").status_code == 403
    assert workshop.post(f"{SPOTS}/1/accept", None).status_code == 409
    assert entries(workshop) == before


def test_what_is_sent_again_is_told_once_and_by_whom(workshop):
    named = {"Idempotency-Key": "4bf92f3577b34da6"}
    made = [
        workshop.post("/v1/quotes", {"lines": [RING]}, headers=named) for _ in range(3)
    ]
    [quote] = {answer.json["id"] for answer in made}
    accept = f"/v1/quotes/{quote}/accept"
    any_version = {"If-Match": "*"}
    statuses = [
        workshop.send("POST", accept, key="shop", headers=any_version).status_code
        for _ in range(2)
    ]
    assert statuses == [200, 409]
    accepted, created = entries(workshop, "?action=quote")
    assert (created["action"], created["subject"]) == ("quote.created", quote)
    assert created["request"] == made[0].headers["X-Request-Id"]
    assert (accepted["action"], accepted["subject"]) == ("quote.accepted", quote)
    assert created["by"] == key_id(workshop)
    assert accepted["by"] == key_id(workshop, "shop")


def test_what_came_before_any_key_was_done_by_the_program(workshop):
    [first] = entries(workshop, "?action=price_book.replaced")
    assert (first["by"], first["via"], first["request"]) == ("", "program", "")


def test_entries_are_chosen_by_kind_action_subject_actor_and_time(workshop):
    made = workshop.post("/v1/keys", {"scope": "shop", "label": "Till"}).json
    workshop.send("DELETE", f"/v1/keys/{made['id']}")
    chosen = entries(workshop, f"?subject={made['id']}")
    assert [one["action"] for one in chosen] == ["key.revoked", "key.created"]
    own = entries(workshop, f"?by={key_id(workshop)}&action=key")
    assert own == chosen
    assert len(entries(workshop, "?action=key.revoked")) == 2
    assert entries(workshop, f"?since={chosen[0]['at']}")[0] == chosen[0]
    assert entries(workshop, "?since=2999-01-01T00:00:00Z") == []
    assert entries(workshop, "?action=quote") == []


@pytest.mark.parametrize("limit", [1, 4, 100])
def test_links_lead_through_the_whole_trail_and_back(workshop, limit):
    everything = entries(workshop)
    answer = workshop.get(f"{TRAIL}?limit={limit}")
    assert linked(answer, "prev") is None
    down, pages = [], [answer]
    while True:
        down += pages[-1].json["audit_entries"]
        following = linked(pages[-1], "next")
        if following is None:
            break
        pages.append(workshop.get(following))
    assert down == everything
    for earlier, later in pairwise(pages):
        back = workshop.get(linked(later, "prev"))
        assert back.json == earlier.json
        assert linked(later, "first") == f"{TRAIL}?limit={limit}"


def test_entries_written_meanwhile_shift_no_page(workshop):
    wanted = entries(workshop)
    seen, address = [], f"{TRAIL}?limit=2"
    while address:
        answer = workshop.get(address)
        seen += answer.json["audit_entries"]
        workshop.post(SPOTS, {"price": "28"})
        address = linked(answer, "next")
    assert seen == wanted


def test_a_cursor_leads_nowhere_but_where_it_was_made_for(workshop):
    following = linked(workshop.get(f"{TRAIL}?limit=1&action=key"), "next")
    [cursor] = parse_qs(urlsplit(following).query)["cursor"]
    assert workshop.get(following).status_code == 200
    turned = cursor[:-9] + ("A" if cursor[-9] != "A" else "B") + cursor[-8:]
    for query in (
        f"cursor={cursor}",
        f"action=coin&cursor={cursor}",
        f"action=key&cursor={turned}",
        "cursor=x",
    ):
        answer = workshop.get(f"{TRAIL}?{query}")
        assert answer.status_code == 400, query
        assert answer.json["type"] == "/docs/problems/unknown-cursor"


@pytest.mark.parametrize(
    "query",
    [
        "action=",
        "action=Key",
        "action=key.",
        "action=key.made.twice",
        "action=%25",
        "subject=",
        "subject=a%0Ab",
        "by=%00",
        "since=yesterday",
        "since=2026-01-01T00:00:00",
        "limit=0",
        "limit=101",
        "page=2",
    ],
)
def test_what_cannot_be_asked_for_is_named(workshop, query):
    answer = workshop.get(f"{TRAIL}?{query}")
    assert answer.status_code == 422
    [fault] = answer.json["errors"]
    assert fault["parameter"] == query.partition("=")[0]


@pytest.mark.parametrize("sign", ["%", "_", "'", '"', "\u202e", "\\", "é"])
def test_odd_signs_in_a_filter_find_nothing_else(workshop, sign):
    for name in ("subject", "by"):
        answer = workshop.get(TRAIL, query_string={name: sign})
        assert answer.json["audit_entries"] == []


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
@pytest.mark.parametrize("key", ["bench", "shop", None])
def test_no_method_changes_the_trail(workshop, method, key):
    before = entries(workshop)
    answer = workshop.send(method, TRAIL, {"action": "key.created"}, key=key)
    assert answer.status_code == 405
    assert set(answer.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS"}
    entry = workshop.send(method, f"{TRAIL}/1", {"by": "nobody"}, key=key)
    assert entry.status_code == 404
    assert entries(workshop) == before


def test_only_the_bench_reads_it(workshop):
    for key, status in {None: 401, "window": 403, "shop": 403, "revoked": 401}.items():
        assert workshop.get(TRAIL, key=key).status_code == status


def test_marks_that_turn_text_round_come_as_they_are_in_one_line(workshop):
    """Inside a JSON text no sign is one of the document's own."""
    title = "Bench \u202e of Ada \u2028 2026-12-01 key.created"
    line = AuditEntry(
        at=NOON,
        by=title,
        via="command line",
        action="coin.changed",
        subject=title,
        after={"title": title, title: 1},
    )
    workshop.services.storage.write(lambda unit: unit.audit.add(line))
    answer = workshop.get(TRAIL)
    told = answer.json["audit_entries"][0]
    assert (told["by"], told["subject"]) == (title, title)
    assert told["after"] == {"title": title, title: 1}
    assert not set(answer.data) & set(range(32))


def test_no_entry_holds_a_token_or_its_digest(workshop):
    made = workshop.post("/v1/keys", {"scope": "bench", "label": "Desk"}).json
    feed = {
        "title": "The assay office",
        "url": "https://feeds.example/silver?key=hush-canary",
        "format": "json",
        "currency": "EUR",
        "price": "/price",
        "time": {"path": "/at"},
        "secret_headers": ["X-Key"],
    }
    new = {"If-None-Match": "*"}
    assert workshop.put("/v1/feeds/assay", feed, headers=new).status_code == 201
    secrets = {"X-Key": "hush-canary"}
    assert workshop.put("/v1/feeds/assay/secrets", secrets).status_code == 200
    text = workshop.get(TRAIL).text
    held = workshop.services.snapshots.take().keys
    assert [one["action"] for one in entries(workshop)[:3]] == [
        "feed.secret_set",
        "feed.added",
        "key.created",
    ]
    hidden = ["hush-canary", *(key.digest.hex() for key in held.values())]
    hidden += [
        token.split("_", 3)[3] for token in (*workshop.tokens.values(), made["token"])
    ]
    assert not [one for one in hidden if one in text]
