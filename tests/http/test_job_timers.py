"""The stopwatch of a job over HTTP."""

from __future__ import annotations

from tests.http.logging_jobs import at, opened


def test_a_phone_starts_and_stops_it(workshop):
    job = opened(workshop)
    timer = at(job, "timer")
    assert workshop.get(timer).status_code == 404
    started = workshop.post(f"{timer}/start", {"stage": "fold"})
    assert (started.status_code, started.headers["Location"]) == (201, timer)
    assert workshop.get(timer).json["stage"] == "fold"
    assert workshop.get(at(job)).json["timer"]["stage"] == "fold"
    second = workshop.post(f"{timer}/start", {"stage": "punch"})
    assert second.status_code == 409
    stopped = workshop.send("POST", f"{timer}/stop")
    assert stopped.json["outcome"] == "open"
    assert stopped.json["minutes"].keys() == {"fold"}
    assert workshop.send("POST", f"{timer}/stop").status_code == 404


def test_it_is_thrown_away(workshop):
    job = opened(workshop)
    workshop.post(at(job, "timer", "start"), {"stage": "fold"})
    assert workshop.send("DELETE", at(job, "timer")).status_code == 204
    assert workshop.send("DELETE", at(job, "timer")).status_code == 404
    assert workshop.get(at(job, "attempts")).json == {"attempts": []}


def test_a_stage_that_is_not_planned_is_refused(workshop):
    answer = workshop.post(at(opened(workshop), "timer", "start"), {"stage": "braze"})
    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "#/stage"
