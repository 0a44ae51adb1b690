"""`fineweight audit`: each entry is one line, whatever was written into it."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.app import compose
from api.cli.audit import LONGEST_CHANGE, LONGEST_NAME, trail
from api.ports import AuditEntry, AuditFilter
from api.settings import Settings
from tests.cli.test_output import TRICKS

NOON = datetime(2026, 12, 1, 12, 0, 5, tzinfo=UTC)
FORGED = "2  2026-12-01 12:00:06  ada  command line  key.revoked"
anything = st.text(st.characters(exclude_categories=()), min_size=1, max_size=30)


@pytest.fixture
def services(tmp_path, clock):
    database = str(tmp_path / "workshop.sqlite3")
    composed = compose(Settings(database=database), clock=clock)
    yield composed
    composed.close()


@pytest.fixture
def account(monkeypatch):
    """Sets the name of the account that commands are run by."""

    def called(name):
        accounts = SimpleNamespace(getpwuid=lambda _: SimpleNamespace(pw_name=name))
        monkeypatch.setattr("api.cli.caller.import_module", lambda _: accounts)

    called("ada")
    return called


def entry(**more):
    usual = {"at": NOON, "by": "ada", "via": "command line"}
    return AuditEntry(**usual | {"action": "coin.changed", "subject": "own"} | more)


def told(**more):
    """The one line that tells an entry."""
    _, line = trail([entry(id=1, **more)]).splitlines()
    return line.lstrip()


def test_a_command_is_told_with_its_user(run, account):
    del account
    assert run("spot", "set", "27.50", "--currency", "EUR").exit_code == 0
    done = run("audit")
    assert done.exit_code == 0
    heading, line = done.stdout.splitlines()
    assert heading.split() == [
        *("id", "when", "(UTC)", "who", "how", "what", "of", "change")
    ]
    assert line == (
        " 1  2026-12-01 12:00:00  ada  command line  spot.entered  1   "
        "metal: XAG; price: 27.50; currency: EUR; as_of: 2026-12-01T12:00:00Z; "
        "source: manual; status: accepted"
    )


def test_entries_are_chosen_and_the_newest_come_first(run, services, clock, account):
    run("key", "create", "--scope", "shop", "--label", "Till")
    clock.advance(hours=1)
    account("bert")
    run("key", "create", "--scope", "bench", "--label", "Desk")
    run("spot", "set", "27.50", "--currency", "EUR")
    desk = next(key for key in services.keys.list() if key.label == "Desk")

    def ids(*options):
        done = run("audit", "--json", *options)
        return [each["id"] for each in json.loads(done.stdout)["audit_entries"]]

    assert ids() == [3, 2, 1]
    assert ids("--action", "key") == [2, 1]
    assert ids("--action", "key.created", "--by", "ada") == [1]
    assert ids("--subject", desk.id) == [2]
    assert ids("--since", "2026-12-01T14:00+01:00") == [3, 2]
    assert ids("--since", "2026-12-01T13:00:01Z") == []
    assert ids("--since", "2026-12-01") == [3, 2, 1]
    assert ids("--since", "2026-12-02") == []
    assert ids("--limit", "2") == [3, 2]


def test_json_is_what_the_api_answers(run, account):
    del account
    run("key", "create", "--scope", "shop", "--label", "Till")
    [line] = json.loads(run("audit", "--json").stdout)["audit_entries"]
    assert line.pop("subject")
    assert line == {
        "id": 1,
        "at": "2026-12-01T12:00:00.000Z",
        "by": "ada",
        "by_label": None,
        "via": "command line",
        "action": "key.created",
        "before": None,
        "after": {"scope": "shop", "label": "Till"},
        "request": "",
    }


def test_an_empty_trail_and_older_entries_are_said_beside_the_result(run, account):
    del account
    empty = run("audit")
    assert "No change" in empty.stderr
    assert len(empty.stdout.splitlines()) == 1
    for _ in range(2):
        run("spot", "set", "27.50", "--currency", "EUR")
    assert "older" in run("audit", "--limit", "1").stderr
    assert run("audit", "--limit", "2").stderr == ""


@pytest.mark.parametrize("limit", ["0", "1001", "x"])
def test_a_limit_that_cannot_be_is_a_usage_error(run, limit):
    assert run("audit", "--limit", limit).exit_code == 2


@pytest.mark.parametrize("since", ["yesterday", "2026-13-01", "2026-12-01T12:00"])
def test_a_time_that_cannot_be_is_a_usage_error(run, since):
    assert run("audit", "--since", since).exit_code == 2


# What a line says


def test_a_change_tells_the_old_and_the_new_figure():
    line = told(before={"wear": "0.010", "note": "a b"}, after={"wear": "0.012"})
    assert line.endswith('wear: 0.010 → 0.012; note: "a b" → –')
    line = told(before={"status": "held"}, after={"status": "accepted", "price": "28"})
    assert line.endswith("status: held → accepted; price: 28")


def test_what_came_or_went_tells_what_it_was():
    assert told(after={"scope": "shop"}).endswith("  scope: shop")
    assert told(before={"scope": "shop"}).endswith("  scope: shop")
    assert told().endswith("  own")


def test_values_other_than_words_are_told_as_json():
    line = told(after={"a": None, "b": True, "c": ["x", 1], "d": {"e": ""}, "f": ""})
    assert line.endswith('a: null; b: true; c: ["x", 1]; d: {"e": ""}; f: ""')


def test_what_was_done_by_nobody_was_done_by_the_program():
    assert "  the program  " in told(by="", via="program")
    assert '  "the program"  ' in told(by="the program")


def test_a_key_is_told_with_its_label():
    line = told(by="0f" * 8, by_label="Till of Ada", via="api")
    assert line.startswith(
        '1  2026-12-01 12:00:05  0f0f0f0f0f0f0f0f "Till of Ada"  api'
    )
    assert '0f0f "Till"  api' in told(by="0f0f", by_label="Till", via="api")


def test_times_are_told_to_the_second():
    moment = "2026-12-01T12:00:05.123456Z"
    line = told(after={"as_of": moment, "note": f"{moment} x"})
    assert line.endswith(f'as_of: 2026-12-01T12:00:05Z; note: "{moment} x"')
    assert "12:00:05  ada" in told(at=NOON.replace(microsecond=999999))


# No trick


@pytest.mark.parametrize("trick", TRICKS.values(), ids=TRICKS)
def test_no_name_or_value_forges_a_line(trick):
    forged = f"bert{trick}{FORGED}"
    line = told(
        by=forged,
        by_label=forged,
        subject=forged,
        before={"label": "x", "customer_note": forged},
        after={"label": forged, forged: 1},
    )
    assert line.isprintable()
    assert line.startswith('1  2026-12-01 12:00:05  "bert\\')


@given(by=anything, subject=anything, name=anything, value=anything)
def test_whatever_is_written_an_entry_is_one_printable_line(by, subject, name, value):
    document = {name: value, "deeper": [{value: name}]}
    text = trail(
        [
            entry(id=2, by=by, subject=subject, before=document, after={name: by}),
            entry(id=1, at=NOON.replace(year=2025)),
        ]
    )
    lines = text.splitlines()
    assert len(lines) == 3
    assert all(line.isprintable() for line in lines[1:])
    assert lines[1].startswith(" 2  2026-12-01 12:00:05  ")
    assert lines[2].startswith(" 1  2025-12-01 12:00:05  ada ")


@given(by=anything, subject=anything)
def test_a_name_is_one_word_or_quoted_so_that_it_fakes_no_column(by, subject):
    line = told(by=by, subject=subject, via="api", action="coin.added")
    who, rest = taken(line.removeprefix("1  2026-12-01 12:00:05  "))
    assert who == by
    assert rest.startswith("api  coin.added  ")
    assert taken(rest.removeprefix("api  coin.added  ")) == (subject, "")


def taken(text):
    """The first cell of a line, read as a person would, and what comes after it."""
    if text.startswith('"'):
        cell, end = json.JSONDecoder().raw_decode(text)
        return cell, text[end:].lstrip()
    cell, _, rest = text.partition("  ")
    return cell, rest.lstrip()


def test_endless_names_and_values_are_cut():
    long = "a" * 5000
    line = told(by=long, subject=long, after={"note": long})
    assert len(line) < 2 * LONGEST_NAME + LONGEST_CHANGE + 70
    assert line.count("…") == 3
    quoted = told(by="b " * 1000)
    assert f'  "{"b " * (LONGEST_NAME // 2 - 1)}b…"  command line' in quoted


def test_a_user_of_a_forged_name_stays_on_one_line_and_is_found_by_it(run, account):
    for trick in TRICKS.values():
        name = f"ada{trick}{FORGED}"
        account(name)
        assert run("spot", "set", "27.50", "--currency", "EUR").exit_code == 0
        plain, as_json = (
            run("audit", "--by", name),
            run("audit", "--by", name, "--json"),
        )
        assert len(plain.stdout.splitlines()) == 2
        assert '"ada\\' in plain.stdout
        assert as_json.stdout.replace("\n", "").isprintable()
        [line] = json.loads(as_json.stdout)["audit_entries"]
        assert line["by"].startswith("ada\\")


def test_labels_and_notes_take_no_trick(run, services, account):
    del account
    for trick in TRICKS.values():
        forged = f"Till{trick}{FORGED}"
        for command in (
            ("key", "create", "--scope", "shop", "--label", forged),
            ("spot", "set", "27.50", "--currency", "EUR", "--note", forged),
        ):
            assert run(*command).exit_code == 1
    assert services.audit.page(AuditFilter(), limit=10).entries == ()


def test_whatever_was_stored_is_shown_escaped(run, services):
    for number, trick in enumerate(TRICKS.values(), 1):
        forged = f"Till{trick}{FORGED}"
        line = entry(after={"label": forged, "customer_note": f"a\nb{forged}"})
        services.storage.write(lambda unit, one=line: unit.audit.add(one))
        plain, as_json = run("audit"), run("audit", "--json")
        found = json.loads(as_json.stdout)["audit_entries"]
        assert found[0]["after"] == line.after
        assert len(plain.stdout.splitlines()) == number + 1
        for shown in (plain.stdout, as_json.stdout):
            assert shown.replace("\n", "").isprintable()
