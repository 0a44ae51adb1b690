"""Jobs asked for over HTTP, in tests."""

from __future__ import annotations

from itertools import count

from tests.http.quoting import QUOTES

JOBS = "/v1/jobs"
RING = {"coin": "at_50s_1959_1973", "size": {"system": "us", "size": "10"}}
_names = count(1)


def fresh():
    return f"a-name-used-once-{next(_names)}"


def accepted(workshop, **ring):
    """A quote that was accepted."""
    body = {"lines": [RING | ring]}
    quote = workshop.once(QUOTES, body, fresh()).json
    headers = {"If-Match": "*", "Idempotency-Key": fresh()}
    answer = workshop.post(f"{QUOTES}/{quote['id']}/accept", {}, headers=headers)
    assert answer.status_code == 200
    return quote


def opened(workshop, ring=None, **known):
    """A job of such a quote."""
    body = {"quote_id": accepted(workshop, **(ring or {}))["id"], **known}
    answer = workshop.once(JOBS, body, fresh())
    assert answer.status_code == 201, answer.text
    return answer.json


def at(job, *more):
    return "/".join((JOBS, job["id"], *more))


def decide(workshop, job, what, body=None, *, match="*"):
    """POST to what becomes of a job, in the version that is there or named."""
    return workshop.post(at(job, what), body or {}, headers={"If-Match": match})
