from __future__ import annotations

import json


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
