"""/v1/jobs: opened, listed, read, written down and corrected."""

from __future__ import annotations

import pytest

from tests.http.logging_jobs import JOBS, accepted, at, decide, fresh, opened


def test_a_job_is_opened_once_for_a_quote(workshop):
    quote = accepted(workshop)
    body = {"quote_id": quote["id"], "reference": "K-17"}
    first = workshop.once(JOBS, body, "the-same-name-again")
    again = workshop.once(JOBS, body, "the-same-name-again")
    assert first.status_code == again.status_code == 201
    assert first.json == again.json
    assert first.headers["Location"] == at(first.json)
    assert workshop.get(at(first.json)).json == first.json
    other = workshop.once(JOBS, {"quote_id": quote["id"]}, fresh())
    assert (other.status_code, first.json["number"] in other.text) == (409, True)


def test_a_whole_job_comes_in_one_request(workshop):
    job = opened(
        workshop,
        completed_at="2026-11-20T15:30:00Z",
        sold_price="199.00",
        coins=[{"count": 2, "unit_cost": "17.40"}],
        attempts=[
            {"outcome": "scrapped", "stage": "fold", "minutes": {"fold": "9.5"}},
            {"outcome": "good", "slug_g": "3.61", "visits": {"fold": 2}},
        ],
    )
    assert (job["status"], job["week"]) == ("completed", "2026-W47")
    assert [each["n"] for each in job["attempts"]] == [1, 2]
    realised, planned = job["realised"], job["planned"]
    difference = float(realised["margin"]) - float(planned["margin"])
    bridge = sum(float(each["amount"]) for each in realised["bridge"])
    assert bridge == pytest.approx(difference)
    assert "tax" in realised["assumed"]


def test_faults_point_into_the_body(workshop):
    quote = accepted(workshop)
    body = {
        "quote_id": quote["id"],
        "fees": "1.001",
        "coins": [{"count": 1, "unit_cost": "17"}],
        "attempts": [{"outcome": "good", "minutes": {"braze": "1"}}],
    }
    answer = workshop.once(JOBS, body, fresh())
    assert answer.status_code == 422
    pointers = {error["pointer"] for error in answer.json["errors"]}
    assert pointers == {"#/fees", "#/attempts/0/minutes/braze"}
    assert workshop.get(JOBS).json["jobs"] == []


WRONG = {
    "a number for minutes": ({"minutes": {"fold": 8.5}}, "#/minutes/fold"),
    "too exact": ({"minutes": {"fold": "8.50001"}}, "#/minutes/fold"),
    "no object": ({"minutes": ["8"]}, "#/minutes"),
    "too many stages": ({"minutes": {f"s{n}": "1" for n in range(201)}}, "#/minutes"),
    "visits as text": ({"visits": {"fold": "2"}}, "#/visits/fold"),
    "another outcome": ({"outcome": "lost"}, "#/outcome"),
    "what is no member": ({"cost": "1"}, "#/cost"),
}


@pytest.mark.parametrize(("wrong", "pointer"), WRONG.values(), ids=WRONG)
def test_what_cannot_be_read_is_refused(workshop, wrong, pointer):
    body = {"outcome": "good", **wrong}
    answer = workshop.once(f"{JOBS}/{'x' * 22}/attempts", body, fresh())
    assert answer.status_code == 404  # before the body is read
    answer = workshop.once(at(opened(workshop), "attempts"), body, fresh())
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json["errors"]] == [pointer]


def test_jobs_are_listed_by_pages(workshop):
    jobs = [opened(workshop) for _ in range(3)]
    decide(workshop, jobs[0], "complete")
    page = workshop.get(f"{JOBS}?limit=2")
    assert [x["number"] for x in page.json["jobs"]] == [
        job["number"] for job in reversed(jobs[1:])
    ]
    link = page.headers["Link"]
    rest = workshop.get(link[link.index("<") + 1 : link.index(">")])
    assert [x["id"] for x in rest.json["jobs"]] == [jobs[0]["id"]]
    done = workshop.get(f"{JOBS}?status=completed").json["jobs"]
    assert [x["status"] for x in done] == ["completed"]
    week = done[0]["week"]
    assert len(workshop.get(f"{JOBS}?week={week}").json["jobs"]) == 1
    assert workshop.get(f"{JOBS}?week=2026-48").status_code == 422


def test_what_is_known_is_replaced_from_the_version_that_was_read(workshop):
    job = opened(workshop, fees="3.50")
    assert workshop.put(at(job), {}).status_code == 428
    stale = workshop.put(at(job), {}, headers={"If-Match": '"job-99"'})
    assert stale.status_code == 412
    changed = workshop.change(at(job), {"tax": "33.16"})
    assert changed.status_code == 200
    assert (changed.json["fees"], changed.json["tax"]) == (None, "33.16")
    assert changed.headers["ETag"] == f'"job-{changed.json["version"]}"'


def test_a_completed_job_is_corrected(workshop):
    job = opened(workshop)
    done = decide(workshop, job, "complete", {"completed_at": "2026-11-20T12:00:00Z"})
    body = {"fees": "50.00", "completed_at": "2026-11-13T12:00:00Z"}
    mended = workshop.change(at(job), body).json
    assert (done.json["week"], mended["week"]) == ("2026-W47", "2026-W46")
    assert mended["realised"]["margin"] < done.json["realised"]["margin"]


@pytest.mark.parametrize("key", ["shop", "window"])
def test_jobs_are_the_benchs_alone(workshop, key):
    job = opened(workshop)
    for method, path in (
        ("GET", JOBS),
        ("GET", at(job)),
        ("PUT", at(job)),
        ("POST", JOBS),
        ("GET", at(job, "attempts")),
        ("POST", at(job, "complete")),
        ("GET", at(job, "timer")),
        ("POST", f"{JOBS}/import"),
        ("GET", f"{JOBS}/export"),
    ):
        answer = workshop.send(method, path, key=key)
        assert (answer.status_code, path) == (403, path)
        assert job["number"] not in answer.text
