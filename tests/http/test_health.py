"""The probes say yes or no, and nothing about what is inside."""

from __future__ import annotations

import itertools

import pytest

from api.ports import Readiness
from tests.http.fakes import SETTINGS


def test_living_asks_nobody(client, services):
    answer = client.get("/livez")
    assert (answer.status_code, answer.json) == (200, {"status": "ok"})
    assert services.health.asked == 0
    assert services.keys.asked == []


def test_ready_when_the_storage_is(client, services):
    answer = client.get("/readyz")
    assert (answer.status_code, answer.json) == (200, {"status": "ok"})
    assert services.health.asked == 1


@pytest.mark.parametrize(
    "parts",
    [each for each in itertools.product([True, False], repeat=3) if not all(each)],
)
def test_not_ready_when_any_part_of_it_is_not(client, services, parts):
    database, schema, writable = parts
    services.health.readiness = Readiness(
        database=database, schema=schema, writable=writable
    )
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json["type"] == "/docs/problems/not-ready"
    assert int(answer.headers["Retry-After"]) > 0
    assert SETTINGS.database not in answer.text
    assert client.get("/livez").status_code == 200


def test_living_does_not_even_look_at_the_storage(workshop, monkeypatch):
    storage = workshop.services.storage
    for name in ("revisions", "read", "write", "count", "readiness"):
        monkeypatch.setattr(storage, name, None)
    assert workshop.client.get("/livez").status_code == 200
