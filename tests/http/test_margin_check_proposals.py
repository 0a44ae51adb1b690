"""What a week proposes over HTTP, and accepting it once."""

from __future__ import annotations

import pytest

from tests.contract.completed_jobs import job, lay, line, stage

PROPOSALS = "/v1/margin-checks/2026-W48/proposals"


@pytest.fixture
def bench(workshop):
    slow = stage("fold", tried=30, minutes=390, planned_minutes=300, difference_sq=400)
    lay(workshop.services.storage, (job(), [line()], [slow]))
    return workshop


def test_a_proposal_is_accepted_once_by_the_version_it_was_seen_with(bench):
    seen = bench.get(PROPOSALS)
    [path] = [x["path"] for x in seen.json["proposals"] if "minutes" in x["path"]]
    assert seen.json["together"][0]["new_price"]
    body, tag = {"paths": [path]}, {"If-Match": seen.headers["ETag"]}
    done = bench.once(f"{PROPOSALS}/accept", body, headers=tag)
    assert (done.status_code, done.json["book_version"]) == (201, 2)
    assert done.headers["ETag"] == bench.get("/v1/price-book").headers["ETag"]
    again = bench.once(f"{PROPOSALS}/accept", body, headers=tag)
    assert (again.json, again.headers["Idempotency-Replayed"]) == (done.json, "true")
    late = bench.once(f"{PROPOSALS}/accept", body, "another-name", headers=tag)
    assert late.status_code == 412
    [entry] = bench.get("/v1/audit-entries?limit=1").json["audit_entries"]
    assert entry["action"] == "price_book.replaced"
    assert path in str(entry["after"])


def test_what_is_not_proposed_is_refused_where_it_stands(bench):
    tag = {"If-Match": "*"}
    body = {"paths": ["stages.polish.scrap"]}
    answer = bench.once(f"{PROPOSALS}/accept", body, headers=tag)
    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "#/paths/0"
    assert bench.counts()["price_book_versions"] == 1
