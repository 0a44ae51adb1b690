"""`fineweight feeds` on a real database, with answers that a test writes."""

from __future__ import annotations

import json

import pytest

from api.app import compose
from api.cli import feeds
from api.cli.exit_codes import ExitCode
from api.settings import Settings
from tests.http.workshop import Post

URL = "https://prices.example.com/silver.json"
FILE = f"""\
key = "assay"
title = "The assay office"
url = "{URL}"
format = "json"
currency = "EUR"
price = "/price"
time = {{ path = "/at" }}
"""
WITH_SECRETS = FILE.replace("time =", 'secret_headers = ["X-Id", "X-Key"]\ntime =')
SECRET = "s3cr3t"


@pytest.fixture
def post_office():
    return Post({URL: b'{"price": "27.80", "at": "2026-12-01T12:00:00Z"}'})


@pytest.fixture
def services(tmp_path, clock, post_office):
    database = str(tmp_path / "workshop.sqlite3")
    composed = compose(Settings(database=database), clock=clock, fetcher=post_office)
    yield composed
    composed.close()


@pytest.fixture
def load(run):
    def load(text=FILE, *options):
        return run("feeds", "load", "-", *options, input=text)

    return load


def test_a_feed_is_set_up_from_a_file(run, load, services):
    done = load()
    assert done.exit_code == 0
    assert "The assay office is set up as assay." in done.stdout
    assert "licence_note" in done.stdout
    assert "feeds try assay" in done.stdout
    assert services.feeds.get("assay").feed.price == "/price"


def test_loading_again_changes_it(run, load, services):
    load()
    done = load(FILE.replace("/price", "/last") + 'licence_note = "ours"\n')
    assert "is changed as assay" in done.stdout
    assert "licence_note" not in done.stdout
    assert services.feeds.get("assay").feed.price == "/last"


def test_a_json_file_and_another_key_will_do(run, load, services):
    document = {"title": "Rates", "url": "https://rates.example.com/", "format": "ecb"}
    done = load(json.dumps(document), "--key", "rates", "--json")
    assert json.loads(done.stdout)["key"] == "rates"
    assert services.feeds.get("rates").feed.metal == "EUR"
    assert "EUR in all currencies" in run("feeds", "list").stdout


def test_without_a_key_it_is_not_known_what_it_is_called(load):
    done = load(FILE.replace('key = "assay"', ""))
    assert done.exit_code == ExitCode.USAGE
    assert "--key" in done.stderr


def test_every_fault_is_told_and_nothing_stored(run, load, services):
    done = load(FILE.replace('"EUR"', '"EURO"').replace("https", "ftp"))
    assert done.exit_code == ExitCode.FAILED
    assert "currency:" in done.stderr
    assert "url:" in done.stderr
    assert services.feeds.list() == ()


def test_what_is_no_document_is_said_to_be_none(load):
    done = load("key = ")
    assert done.exit_code == ExitCode.USAGE
    assert "no description of a feed" in done.stderr


def test_a_dry_run_stores_nothing(load, services):
    assert "could be loaded" in load(FILE, "--dry-run").stdout
    assert services.feeds.list() == ()
    bad = FILE.replace('"json"', '"yaml"')
    assert load(bad, "--dry-run").exit_code == ExitCode.FAILED


def test_an_empty_list_says_how_to_begin(run):
    done = run("feeds", "list")
    assert done.exit_code == 0
    assert "feeds load" in done.stderr


def test_the_list_tells_state_and_last_fetch(run, load):
    load()
    load(WITH_SECRETS, "--key", "second")
    load(FILE + "enabled = false\n", "--key", "third")
    run("spot", "fetch", "assay")
    _, first, second, third = run("feeds", "list").stdout.splitlines()
    assert "XAG in EUR" in first
    assert "2026-12-01 12:00 UTC  accepted" in first
    assert "needs X-Id, X-Key" in second
    assert "off" in third
    assert "never" in third
    told = json.loads(run("feeds", "list", "--json").stdout)
    assert [one["key"] for one in told["feeds"]] == ["assay", "second", "third"]


# Secrets


def test_secrets_come_from_standard_input_and_are_not_shown(run, load, post_office):
    load(WITH_SECRETS)
    done = run("feeds", "secret", "assay", "X-Key", "X-Id", input=f"{SECRET}\nme\r\n")
    assert done.exit_code == 0
    assert done.stdout == "assay has its X-Id, X-Key.\n"
    run("spot", "fetch")
    assert post_office.sent == [{"X-Key": SECRET, "X-Id": "me"}]
    told = run("feeds", "list").output + run("feeds", "fetches", "assay").output
    assert SECRET not in told + done.output


def test_a_secret_that_would_be_forgotten_has_to_be_named(run, load, services):
    load(WITH_SECRETS)
    run("feeds", "secret", "assay", "X-Key", input=SECRET)
    done = run("feeds", "secret", "assay", "X-Id", input="me")
    assert done.exit_code == ExitCode.USAGE
    assert "X-Key would be forgotten" in done.stderr
    assert services.feeds.get("assay").secrets_set == ("X-Key",)


@pytest.mark.parametrize(("name", "given"), [("X-Other", SECRET), ("X-Key", "")])
def test_a_secret_that_cannot_be_is_refused_without_its_value(run, load, name, given):
    load(WITH_SECRETS)
    done = run("feeds", "secret", "assay", name, input=given)
    assert done.exit_code == ExitCode.FAILED
    assert SECRET not in done.output


def test_at_a_terminal_it_is_asked_for_and_not_echoed(run, load, services, monkeypatch):
    load(WITH_SECRETS)
    monkeypatch.setattr(feeds, "_at_terminal", lambda: True)
    asked = {}
    monkeypatch.setattr(
        feeds.click, "prompt", lambda name, **how: asked.update({name: how}) or SECRET
    )
    assert run("feeds", "secret", "assay", "X-Key").exit_code == 0
    assert asked["X-Key"]["hide_input"] is True


def test_a_secret_of_no_feed_is_not_taken(run):
    assert run("feeds", "secret", "none", "X-Key", input="x").exit_code == 1


# Trying, and the log


def test_trying_tells_what_would_be_and_records_nothing(run, load, services):
    load()
    done = run("feeds", "try", "assay")
    assert done.exit_code == 0
    first = done.stdout.splitlines()[0]
    assert first == "assay: 27.80 EUR of 2026-12-01 12:00 UTC would count"
    assert services.spot_prices.history() == ()
    assert services.feeds.fetches("assay") == ()


@pytest.mark.parametrize(
    ("answer", "code", "words"),
    [
        (b"[", ExitCode.SPOT_STALE, "nothing could be read"),
        (
            b'{"price": "2780", "at": "2026-12-01T12:00:00Z"}',
            ExitCode.SPOT_STALE,
            "is refused",
        ),
        (
            b'{"price": "31", "at": "2026-12-01T12:00:00Z"}',
            ExitCode.FOUND,
            "would be held for you to decide",
        ),
    ],
)
def test_trying_ends_with_the_code_of_what_would_be(
    run, load, post_office, *, answer, code, words
):
    run("spot", "set", "27.50", "--currency", "EUR")
    load()
    post_office.letters[URL] = answer
    done = run("feeds", "try", "assay", "--json")
    assert done.exit_code == code
    assert json.loads(done.stdout)["results"]
    assert words in run("feeds", "try", "assay").stdout


def test_the_log_tells_each_fetch_and_why(run, load, post_office):
    load()
    run("spot", "fetch")
    post_office.letters[URL] = b"<html>"
    run("spot", "fetch")
    told = run("feeds", "fetches", "assay").stdout
    first, second = told.split("2026-12-01 12:00 UTC  ")[1:]
    assert first.startswith("failed, ")
    assert "\n  - " in first
    assert second.startswith("accepted, ")
    assert "entry 1" in second
    one = json.loads(run("feeds", "fetches", "assay", "--limit", 1, "--json").stdout)
    assert [each["outcome"] for each in one["fetches"]] == ["failed"]


def test_a_feed_that_was_never_asked_says_how_to(run, load):
    load()
    assert "spot fetch assay" in run("feeds", "fetches", "assay").stderr
    assert run("feeds", "fetches", "none").exit_code == ExitCode.FAILED


def test_a_key_of_bytes_that_are_no_text_is_a_usage_error(run):
    for deed in ("feeds try", "feeds fetches", "feeds secret", "spot fetch"):
        header = ["X-Api-Key"] if deed == "feeds secret" else []
        done = run(*deed.split(), "\udcff", *header, input="secret\n")
        assert done.exit_code == ExitCode.USAGE, deed
        assert "no text" in done.stderr
