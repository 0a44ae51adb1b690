"""What becomes of jobs over HTTP: attempts, and the end."""

from __future__ import annotations

from tests.http.logging_jobs import at, decide, fresh, opened


def test_attempts_are_added_corrected_and_taken_back(workshop):
    job = opened(workshop)
    attempts = at(job, "attempts")
    begun = workshop.once(attempts, {"outcome": "open"}, "begun-once-only")
    again = workshop.once(attempts, {"outcome": "open"}, "begun-once-only")
    assert (begun.status_code, again.json) == (201, begun.json)
    where = begun.headers["Location"]
    assert workshop.get(where).json == begun.json
    ended = workshop.change(where, {"outcome": "good", "minutes": {"fold": "8.25"}})
    assert ended.json["minutes"] == {"fold": "8.25"}
    assert workshop.get(attempts).json == {"attempts": [ended.json]}
    etag = workshop.get(where).headers["ETag"]
    assert etag == workshop.get(at(job)).headers["ETag"]
    gone = workshop.send("DELETE", where, headers={"If-Match": etag})
    assert gone.status_code == 204
    assert workshop.get(where).status_code == 404


def test_a_job_is_completed_from_the_version_that_was_read(workshop):
    job = opened(workshop)
    workshop.once(at(job, "attempts"), {"outcome": "good"}, fresh())
    stale = decide(workshop, job, "complete", match=f'"job-{job["version"]}"')
    assert stale.status_code == 412
    body = {"sold_price": "199.00", "coins": [{"count": 1, "unit_cost": "17.40"}]}
    done = decide(workshop, job, "complete", body)
    assert done.status_code == 200
    assert done.json["realised"]["coins"] == "1"
    assert decide(workshop, job, "complete").status_code == 409
    refused = workshop.once(at(job, "attempts"), {"outcome": "good"}, fresh())
    assert refused.status_code == 409


def test_completion_keeps_what_was_known_and_not_what_was_left_out(workshop):
    job = opened(workshop, fees="3.50", coins=[{"count": 3, "unit_cost": "9"}])
    done = decide(workshop, job, "complete", {"tax": "33.00"}).json
    assert (done["fees"], done["tax"]) == ("3.50", "33.00")
    assert [each["count"] for each in done["coins"]] == [3]


def test_a_completed_job_is_reopened(workshop):
    job = opened(workshop)
    assert decide(workshop, job, "reopen").status_code == 409
    decide(workshop, job, "complete")
    again = decide(workshop, job, "reopen").json
    assert (again["status"], again["realised"], again["week"]) == ("open", None, None)
    told = workshop.get("/v1/audit-entries?action=job").json["audit_entries"]
    assert [entry["action"] for entry in told] == [
        "job.reopened",
        "job.completed",
        "job.opened",
    ]


def test_a_day_to_come_is_refused(workshop):
    body = {"completed_at": "2999-01-01T00:00:00Z"}
    answer = decide(workshop, opened(workshop), "complete", body)
    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "#/completed_at"
