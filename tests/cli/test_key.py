from __future__ import annotations

import json
from datetime import UTC, datetime
from types import SimpleNamespace

from api.ports.signing import SigningKey


def test_a_key_alone_goes_to_standard_output(run, services):
    done = run("key", "create", "--scope", "shop", "--label", "web shop")
    assert done.stdout == "fw_shop_00ff_secret\n"
    assert "not shown again" in done.stderr
    assert services.keys.kept[0].label == "web shop"


def test_a_key_as_json_names_its_scope(run):
    document = json.loads(run("key", "create", "--scope", "bench", "--json").stdout)
    assert document["scope"] == "bench"
    assert document["token"] == "fw_bench_00ff_secret"


def test_a_scope_must_be_one_of_three(run):
    assert run("key", "create").exit_code == 2
    assert run("key", "create", "--scope", "all").exit_code == 2


class Signing:
    def __init__(self):
        self.kids = iter(("first", "second"))

    def rotate(self):
        kid, at = next(self.kids), datetime(2026, 12, 1, 12, tzinfo=UTC)
        return SigningKey(kid=kid, public="p", private="hush", created_at=at)


def test_the_key_that_signs_is_changed_and_its_name_printed(run, services):
    services.window = SimpleNamespace(signing=Signing())
    done = run("key", "rotate-signing")
    assert (done.exit_code, done.stdout) == (0, "first\n")
    done = run("key", "rotate-signing", "--json")
    assert json.loads(done.stdout) == {
        "kid": "second",
        "created_at": "2026-12-01T12:00:00.000Z",
    }
    assert "hush" not in done.output
