"""Rows for every table, with the values that get lost on the way if any do."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

from sqlalchemy import insert, text

from api.db.job_tables import PARTS as JOB_PARTS
from api.db.tables import metadata

NOON = datetime(2026, 12, 1, 12, 0, 0, 123456, tzinfo=UTC)
EAST = datetime(2026, 12, 1, 23, 59, 59, 999999, tzinfo=timezone(timedelta(hours=9)))
ROUND = datetime(1999, 12, 31, tzinfo=UTC)
LARGE = 2**62
# In the order of their bytes; alphabets and UTF-16 order them otherwise.
KEYS = ("B", "a", "a\u0301", "z", "\u00e1", "\uffee", "\U0001fa99")
ODD = "line\none\t\"two\" \\ 'three' \u00a0\u2028 \U0001fa99 " + "x" * 3000
SPOT = {
    "metal": "XAG", "currency": "EUR", "as_of": NOON, "source": "manual",
    "note": ODD, "expires_at": EAST, "entered_by": "maker", "status": "accepted",
    "recorded_at": EAST, "reasons": "[]", "decided_by": "", "decided_at": None,
}  # fmt: skip
QUOTE = {
    "version": 1, "created_at": NOON, "created_by": "maker", "valid_until": EAST,
    "decided_by": "", "reason": "", "currency": "EUR", "tax": Decimal("0.0001"),
    "book_version": 1, "bench_hours": Decimal("1.500000"), "customer_note": ODD,
    "document": "{}", "search": "",
}  # fmt: skip


def quote(seq, **more):
    name = f"quote-{seq}"
    given = {"seq": seq, "id": name, "number": name, "sheet_token": name, **QUOTE}
    usual = {"status": "open", "decided_at": None, "total": Decimal("149.9500")}
    return given | usual | {"deposit": None, "make_by": None, "renews": None} | more


def entry(number, **more):
    given = {"id": number, "at": NOON, "actor": "maker", "via": "api", "subject": "x"}
    usual = {"action": "quote.created", "before": None, "after": None, "request": ""}
    return given | usual | more


def listing(seq, **more):
    given = {"seq": seq, "sku": f"ring-{seq}", "title": ODD, "kind": "ready_made"}
    keys = {"coin": "morgan", "channel": "own_shop", "policy": "retail"}
    told = {"extras": "[]", "locked": False, "published": True, "actual_cost": None}
    when = {"revision": 1, "changed_rev": 3, "created_at": NOON, "changed_at": EAST}
    rest = {"changed_by": "maker", "removed_at": None, "search": ""}
    return given | keys | told | when | rest | more


def band(number, **more):
    given = {"id": number, "listing": 1, "spec": 6, "locked": True}
    usual = {"price": Decimal("0.0001"), "price_run": None}
    return given | usual | {"next_price": None, "next_run": None} | more


def run(seq, **more):
    given = {"seq": seq, "id": f"run-{seq}", "status": "preview", "version": 1}
    made = {"created_at": NOON, "created_by": "maker", "currency": "EUR"}
    spot = {"spot": "{}", "spot_price": Decimal("27.5"), "book_version": 1}
    told = {"skus": None, "counts": "{}", "value_change": Decimal("-1.5")}
    state = {"listings_rev": 3, "named": "[]", "reached": 0, "reached_at": None}
    applied = {"applied_at": None, "applied_by": "", "applied_rev": None}
    undone = {"undone_at": None, "undone_by": "", "undone_rev": None}
    return given | made | spot | told | state | applied | undone | more


PARTS = {f"part_{name}": Decimal("-0.0001") for name in JOB_PARTS}
OPEN = dict.fromkeys(
    ["completed_at", "completed_day", "week", "coins_used", "realised_revenue",
     "realised_cost", "realised_margin", "minutes", "labour", "under_floor", "cause",
     "assumed", "sku", "reference", "quote_id", *PARTS]
)  # fmt: skip
DONE = {
    "status": "completed", "completed_at": EAST, "completed_day": date(2026, 12, 1),
    "week": "2026-W49", "coins_used": Decimal("1.000000001"),
    "realised_revenue": Decimal("0.0001"),
    "realised_cost": Decimal("1.5"), "realised_margin": Decimal("-1.4999"),
    "minutes": Decimal("0.000001"), "labour": Decimal("2.5"), "under_floor": True,
    "cause": "spoilage", "assumed": "[]", **PARTS,
}  # fmt: skip


def job(seq, **more):
    given = {"seq": seq, "id": f"job-{seq}", "number": f"J2026-{seq}", "title": ODD}
    made = {"version": 1, "created_at": NOON, "created_by": "maker", "status": "open"}
    told = {"completed_by": "", "currency": "EUR", "pieces": 1, "search": ODD}
    plan = {"planned_revenue": Decimal(150), "planned_cost": Decimal("-0.0001")}
    more_plan = {"planned_margin": Decimal(9), "planned_minutes": Decimal("0.0001")}
    rest = {"floor_margin": Decimal("0.2"), "plan": "{}", "money": "{}"}
    return given | made | told | plan | more_plan | rest | OPEN | more


def attempt(n, **more):
    given = {"job": 5, "n": n, "line": 0, "outcome": "good", "stage": None, "at": EAST}
    usual = {"minutes": '{"fold":"8.5"}', "visits": "{}", "note": ODD, "entry": None}
    masses = {"slug_g": Decimal("0.0001"), "bored_g": None, "finished_g": Decimal(9)}
    return given | usual | masses | more


ROWS = {
    "price_book_versions": [
        {"version": n, "document": ODD, "created_at": NOON, "created_by": "",
         "note": f"n{n}"}
        for n in (1, 2)
    ],
    "coins": [
        {"key": key, "document": "{}", "revision": 2**31 - 1, "changed_at": ROUND}
        for key in KEYS
    ],
    "spot_prices": [
        {"id": 1, "price": Decimal("0.000000001"), **SPOT},
        {"id": LARGE, "price": Decimal("9223372036.854775807"), **SPOT},
        {"id": 7, "price": Decimal("27.5"), **SPOT | {"expires_at": None}},
    ],
    "feeds": [
        {"key": "assay", "document": "{}", "revision": 1, "changed_at": NOON},
    ],
    "feed_secrets": [
        {"feed": "assay", "name": key, "value": ODD} for key in reversed(KEYS)
    ],
    "feed_fetches": [
        {"id": 3, "feed": "gone", "at": NOON, "outcome": "accepted",
         "findings": "[]", "entry_id": LARGE, "duration_ms": 5},
        {"id": 2, "feed": "gone", "at": EAST, "outcome": "failed",
         "findings": "[]", "entry_id": None, "duration_ms": 0},
    ],
    "api_keys": [
        {"id": key, "scope": "bench", "label": ODD, "digest": "ff", "created_at": NOON,
         "last_used_at": EAST, "revoked_at": None}
        for key in KEYS
    ],
    "quotes": [
        quote(1, status="renewed", decided_at=EAST, version=2, deposit=Decimal(0)),
        quote(2, renews="quote-1", make_by=date(2027, 2, 28)),
        quote(LARGE, total=Decimal("-922337203685477.5807")),
    ],
    "quote_numbers": [{"year": 2026, "last": 3}, {"year": 1999, "last": 1}],
    "replays": [
        {"credential": key, "operation": "quotes.create", "key": other, "body": ODD,
         "fingerprint": "ff", "status": 201, "headers": "{}", "at": NOON}
        for key in KEYS for other in ("b", "A")
    ],
    "quotas": [{"who": "x", "began": LARGE, "counted": 1}],
    "secrets": [{"name": "cursors", "value": "hush"}],
    "sessions": [
        {"digest": "ff", "signed_in": True, "created_at": NOON, "seen_at": EAST},
    ],
    "passphrases": [{"name": "bench", "hashed": "scrypt$a$b", "set_at": NOON}],
    "sign_in_tries": [{"id": 7, "who": "x", "at": NOON}],
    "hooks": [
        {"seq": 4, "id": "hook", "url": "https://shop.example/", "events": "[]",
         "secrets": '["hush"]', "enabled": False, "why_disabled": "gone",
         "version": 2, "created_at": NOON, "since": EAST},
    ],
    "happenings": [
        {"seq": 6, "event": "quote.accepted", "at": NOON, "quote": "quote-1",
         "skus": "[]", "run": None, "reached": LARGE},
    ],
    "hook_messages": [
        {"seq": 8, "id": "msg_1", "hook": "hook", "event": "quote.accepted",
         "body": ODD, "created_at": NOON, "status": "failed", "tries": 1,
         "due": EAST, "answered": None, "reason": "timeout"},
    ],
    "hook_deliverer": [
        {"name": "deliverer", "holder": "", "until": NOON, "expired_until": None},
    ],
    "signing_keys": [
        {"kid": "new", "public": "x", "private": "y", "created_at": NOON,
         "retired_at": None},
        {"kid": "Old", "public": "z", "private": None, "created_at": ROUND,
         "retired_at": EAST},
    ],
    "audit_entries": [
        entry(LARGE, before='{"a":1}'), entry(1, at=EAST, after="null"),
    ],
    "listings": [
        listing(1, locked=True, actual_cost=Decimal("31.4150")),
        listing(LARGE, sku="ring-1", removed_at=EAST),
    ],
    "listing_specs": [
        {"id": number, "coin": "morgan", "channel": "own_shop", "policy": "retail",
         "extras": ODD, "size_from": Decimal("5.25"), "size_to": Decimal(number)}
        for number in (16, 6, LARGE // 200)
    ],
    "listing_bands": [
        band(LARGE, spec=6, next_price=Decimal("922337203685477.5807"), next_run=9),
        band(4, spec=16, price_run=LARGE),
    ],
    "price_changes": [
        {"id": number, "listing": 1, "size_from": Decimal(0), "size_to": Decimal(16),
         "old_price": None, "new_price": Decimal("89.95"), "rev": 1, "at": NOON,
         "changed_by": "maker", "why": "created"}
        for number in (LARGE, 1)
    ],
    "repricings": [
        run(LARGE, skus='["ring-1"]'),
        run(9, status="undone", applied_at=NOON, applied_rev=1, undone_at=EAST,
            undone_rev=2, reached=LARGE, reached_at=NOON),
    ],
    "repricing_cases": [
        {"run": number, "spec": 6, "old_price": Decimal("89.95"), "new_price": None,
         "moves": False, "old_margin": Decimal("-0.123456"), "new_margin": None,
         "decision": "blocked", "reason": ODD, "spot_at_floor": Decimal("0.000000001")}
        for number in (LARGE, 9)
    ],
    "repricing_bands": [
        {"run": 9, "listing": number, "band": LARGE, "spec": 6, "old_run": None,
         "old_price": Decimal("89.95"), "new_price": Decimal("94.95"), "moves": True,
         "locked": False}
        for number in (LARGE, 1)
    ],
    "job_numbers": [{"year": 2026, "last": 7}],
    "jobs": [
        job(LARGE, quote_id="quote-1", reference="M\u00e4rz 1"),
        job(5, sku="ring-1", **DONE),
    ],
    "job_attempts": [
        attempt(2, entry="b"), attempt(1, outcome="scrapped", stage="fold", entry="B"),
    ],
    "job_coins": [
        {"job": number, "n": 1, "line": 0, "coins": 1, "unit_cost": Decimal("27.5001"),
         "entry": None}
        for number in (LARGE, 5)
    ],
    "stage_timers": [
        {"job": LARGE, "line": 0, "stage": "fold", "started_at": EAST,
         "started_by": "maker"},
    ],
    "job_lines": [
        {"job": 5, "line": 0, "coin": "", "coin_name": ODD, "size_us": Decimal(10),
         "pieces": 1, "coins_planned": Decimal("1.000000001"), "coins_used": Decimal(2),
         "planned_margin": Decimal(1), "realised_margin": Decimal(-1), **PARTS,
         "slug_n": 1, "slug_ratio": Decimal("1.000000001"),
         "slug_ratio_sq": Decimal("1.000000002"), "bored_n": 0,
         "bored_ratio": Decimal(0), "bored_ratio_sq": Decimal(0)},
    ],
    "job_stages": [
        {"job": 5, "line": 0, "stage": name, "title": ODD, "tried": 2, "failed": 1,
         "counted": 1,
         "redone": 0, "timed": 2, "minutes": Decimal("0.0001"),
         "planned_minutes": Decimal(1), "difference_sq": Decimal("0.000001"),
         "labour_efficiency": Decimal(1), "scrap_chance": Decimal("0.000000001"),
         "redo_chance": None}
        for name in ("b", "B")
    ],
}  # fmt: skip


def coin(key):
    return {"key": key, "document": "{}", "revision": 1, "changed_at": NOON}


def fill(engine):
    """Put them into a database that is empty."""
    with engine.begin() as connection:
        for table in metadata.sorted_tables:
            if table.name in ROWS:
                connection.execute(insert(table), ROWS[table.name])
        connection.execute(
            text("UPDATE revisions SET revision = 2 WHERE name = 'price_book'")
        )


def add(engine, table, *rows):
    with engine.begin() as connection:
        connection.execute(insert(metadata.tables[table]), list(rows))
