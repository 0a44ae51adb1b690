from __future__ import annotations

import json

KEY = "at_50s_1959_1973"


def test_all_coin_types_are_listed(run):
    done = run("coins", "list")
    assert done.exit_code == 0
    assert len(done.stdout.splitlines()) == 1 + 87
    assert done.stdout.startswith("key")


def test_words_narrow_the_list(run):
    keys = [
        each["key"]
        for each in json.loads(run("coins", "list", "austria", "1959", "--json").stdout)
    ]
    assert KEY in keys
    assert len(keys) < 5


def test_words_that_no_coin_has_are_said(run):
    assert "No coin type" in run("coins", "list", "plutonium").stdout
    assert json.loads(run("coins", "list", "plutonium", "--json").stdout) == []


def test_a_coin_is_shown_with_the_source_of_each_figure(run):
    text = run("coins", "show", KEY).stdout
    assert "20 g  (looked up)" in text
    assert "900 ‰  (looked up)" in text
    assert "0.5787 ozt" in text


def test_a_coin_as_json_has_exact_figures_as_text(run):
    document = json.loads(run("coins", "show", KEY, "--json").stdout)
    assert document["fine_ozt"] == "0.5787"
    assert document["origin"] == "catalogue"
    assert document["marks"]["gross_mass_g"] == "looked up"


def test_an_unknown_coin_fails_and_names_near_ones(run):
    done = run("coins", "show", "at_50s_1959_1937")
    assert done.exit_code == 1
    assert done.stdout == ""
    assert KEY in done.stderr
