from __future__ import annotations

import json
from dataclasses import replace

from api.ports import StoredCoin
from pricing.catalogue import catalogue_coin

KEY = "at_50s_1959_1973"


def test_all_coin_types_are_listed(run):
    done = run("coins", "list")
    assert done.exit_code == 0
    assert len(done.stdout.splitlines()) == 1 + 87
    assert done.stdout.startswith("key")


def test_words_narrow_the_list(run):
    document = json.loads(run("coins", "list", "AT", "schilling", "--json").stdout)
    keys = [each["key"] for each in document["coins"]]
    assert KEY in keys
    assert len(keys) < 20


def test_words_that_no_coin_has_are_said(run):
    assert "No coin type" in run("coins", "list", "plutonium").stdout
    document = json.loads(run("coins", "list", "plutonium", "--json").stdout)
    assert document == {"coins": []}


def test_a_coin_is_shown_with_the_source_of_each_figure(run):
    text = run("coins", "show", KEY).stdout
    assert "20 g  (looked up)" in text
    assert "900 ‰  (looked up)" in text
    assert "0.5787 ozt" in text


def test_a_coin_as_json_is_what_the_api_answers(run):
    document = json.loads(run("coins", "show", KEY, "--json").stdout)
    assert document["coin"]["fineness_permille"] == "900"
    assert document["origin"] == "catalogue"
    assert document["marks"]["mass"] == "looked up"


def test_a_coin_without_silver_has_no_ounces(run, services):
    plain = replace(catalogue_coin(KEY), metal="base", published_fine_ozt=None)
    services.coins.get = lambda _: StoredCoin(coin=plain, origin="workshop")
    assert "ozt" not in run("coins", "show", KEY).stdout


def test_an_unknown_coin_fails_and_names_near_ones(run):
    done = run("coins", "show", "at_50s_1959_1937")
    assert done.exit_code == 1
    assert done.stdout == ""
    assert KEY in done.stderr
