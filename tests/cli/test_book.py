from __future__ import annotations

import json
import tomllib

import pytest

from tests.cli.conftest import BOOK


@pytest.fixture
def loaded(run, book_file):
    assert run("book", "load", book_file).exit_code == 0
    return book_file


@pytest.fixture
def dearer(tmp_path):
    file = tmp_path / "dearer.toml"
    file.write_text(BOOK.replace("32.00", "34.00"), "utf-8")
    return file


def test_the_first_book_becomes_version_1(run, book_file):
    done = run("book", "load", book_file)
    assert done.stdout == "Bench of Ada is now version 1.\n"


def test_the_next_one_says_what_changed(run, loaded, dearer, services):
    done = run("book", "load", dearer, "--note", "new year")
    assert "version 2" in done.stdout
    assert "labour.rate_per_hour  32.00   34.00" in done.stdout
    assert services.price_books.note == "new year"


def test_loading_as_json_lists_the_changes(run, loaded, dearer):
    document = json.loads(run("book", "load", dearer, "--json").stdout)
    assert document["version"] == 2
    assert document["changes"] == [
        {"path": "labour.rate_per_hour", "before": "32.00", "after": "34.00"}
    ]


def test_a_dry_run_stores_nothing(run, loaded, dearer, services):
    done = run("book", "load", dearer, "--dry-run")
    assert "would be loaded" in done.stdout
    assert len(services.price_books.kept) == 1


def test_a_json_book_is_read_from_standard_input(run, services):
    text = json.dumps(tomllib.loads(BOOK, parse_float=str))
    assert run("book", "load", "-", input=text).exit_code == 0
    assert services.price_books.current().title == "Bench of Ada"


def test_a_bad_book_is_refused_with_every_fault(run, tmp_path, services):
    file = tmp_path / "bad.toml"
    file.write_text(BOOK.replace('"32.00"', '"much"').replace('"8"', '"-8"'), "utf-8")
    done = run("book", "load", file)
    assert done.exit_code == 1
    assert "  labour.rate_per_hour: " in done.stderr
    assert "  stages[0].minutes: " in done.stderr
    assert not services.price_books.kept


@pytest.mark.parametrize(
    "text",
    ["title = ", '{"title": "a", "title": "b"}', '{"rate": NaN}', "{" * 100_000,
     "x" * 1_000_001],
    ids=["toml", "twice", "nan", "deep", "large"],
)  # fmt: skip
def test_a_file_that_cannot_be_read_is_a_usage_error(run, text):
    done = run("book", "load", "-", input=text)
    assert done.exit_code == 2
    assert len(done.stderr) < 400


def test_text_that_is_not_utf_8_is_a_usage_error(run):
    assert run("book", "load", "-", input=b"title = '\xff'").exit_code == 2


@pytest.mark.parametrize(("expected", "code"), [("1", 0), ("0", 5), ("7", 5)])
def test_an_expected_version_guards_against_a_change_in_between(
    run, loaded, dearer, expected, code
):
    assert run("book", "load", dearer, "--expect", expected).exit_code == code


def test_a_book_is_shown_as_the_document_it_can_be_loaded_from(run, loaded):
    done = run("book", "show")
    assert "Version 1" in done.stderr
    assert tomllib.loads(done.stdout)["labour"]["overhead_per_hour"] == "9.50"
    assert run("book", "load", "-", input=done.stdout).exit_code == 0
    assert json.loads(run("book", "show", "--json", "--version", "1").stdout) == (
        tomllib.loads(done.stdout)
    )


def test_a_missing_book_or_version_says_what_to_do(run):
    done = run("book", "show")
    assert done.exit_code == 1
    assert "book load" in done.stderr
    assert run("book", "show", "--version", "3").exit_code == 1


def test_versions_and_files_are_compared(run, loaded, dearer):
    run("book", "load", dearer)
    row = "labour.rate_per_hour  32.00   34.00"
    assert row in run("book", "diff", "1", "2").stdout
    assert row in run("book", "diff", "1").stdout
    assert row in run("book", "diff", loaded, dearer).stdout
    assert run("book", "diff", "1", loaded).stdout == "Nothing differs.\n"
    assert json.loads(run("book", "diff", "1", loaded, "--json").stdout) == []


def test_a_check_ends_with_3_only_if_something_differs(run, loaded, dearer):
    assert run("book", "diff", "1", dearer, "--check").exit_code == 3
    assert run("book", "diff", "1", loaded, "--check").exit_code == 0
    assert run("book", "diff", "1", dearer).exit_code == 0


def test_a_file_that_is_not_there_is_a_usage_error(run, loaded):
    done = run("book", "diff", "no such file.toml")
    assert done.exit_code == 2
    assert "no such file.toml" in done.stderr
