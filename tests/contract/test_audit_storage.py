"""What every storage does with the audit trail: it grows, and nothing else."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import insert, text
from sqlalchemy.exc import IntegrityError

from api.db.tables import audit_entries as table
from api.ports import AuditEntry, AuditFilter
from tests.contract.quoting import NOON

LINE = AuditEntry(
    at=NOON,
    by="k1",
    via="api",
    action="quote.accepted",
    subject="id-1",
    before={"version": 1, "status": "open"},
    after={"status": "accepted", "version": 2, "note": "Für\nÄ \x1b[31m\u2028"},
    request="r-1",
)


def write(storage, *lines):
    for line in lines:
        storage.write(lambda unit, e=line: unit.audit.add(e))


def page(storage, *, limit=99, past=None, newer=False, **wanted):
    asked = AuditFilter(**wanted)
    return storage.read(
        lambda unit: unit.audit.page(asked, limit=limit, past=past, newer=newer)
    )


def subjects(storage, **wanted):
    return [line.subject for line in page(storage, **wanted)]


def test_a_line_comes_back_as_it_was_written(any_storage):
    bare = replace(LINE, before=None, after=None, request="", subject="id-2")
    write(any_storage, LINE, bare)
    newest, oldest = page(any_storage)
    assert newest == replace(bare, id=newest.id)
    assert oldest == replace(LINE, id=oldest.id)
    assert 0 < oldest.id < newest.id


def test_what_changed_is_written_as_it_was_told_and_on_one_plain_line(any_storage):
    write(any_storage, LINE)
    with any_storage.engine.connect() as connection:
        row = connection.execute(text("SELECT before, after FROM audit_entries")).one()
    assert row.before == '{"version":1,"status":"open"}'
    assert row.after == (
        r'{"status":"accepted","version":2,"note":"F\u00fcr\n\u00c4 \u001b[31m\u2028"}'
    )
    [line] = page(any_storage)
    assert list(line.after) == ["status", "version", "note"]


def test_what_is_not_kept_is_not_written_down(any_storage):
    def write_and_fail(unit):
        unit.audit.add(LINE)
        raise LookupError

    with pytest.raises(LookupError):
        any_storage.write(write_and_fail)
    assert page(any_storage) == ()


def test_lines_are_found_by_deed_subject_person_and_time(any_storage):
    write(
        any_storage,
        replace(LINE, subject="a"),
        replace(LINE, subject="b", action="quote.created", by="k2"),
        replace(LINE, subject="c", action="quotes.listed", at=NOON + timedelta(1)),
        replace(LINE, subject="d", action="quote", by="k2"),
        replace(LINE, subject="e", action="Quote.accepted"),
        replace(LINE, subject="f", action="quote_accepted"),
    )
    found = {
        "quote.accepted": ["a"],
        "quote": ["d", "b", "a"],
        "quote.": [],
        "quot": [],
        "quote_": [],
        "%": [],
        "": ["f", "e", "d", "c", "b", "a"],
    }
    assert {each: subjects(any_storage, action=each) for each in found} == found
    assert subjects(any_storage, subject="b") == ["b"]
    assert subjects(any_storage, subject="b", subject_too="e") == ["e", "b"]
    assert subjects(any_storage, subject="none", subject_too="e") == ["e"]
    assert subjects(any_storage, by="k2") == ["d", "b"]
    assert subjects(any_storage, by="k2", action="quote.created") == ["b"]
    assert subjects(any_storage, since=NOON + timedelta(1)) == ["c"]
    assert subjects(any_storage, since=NOON + timedelta(1, microseconds=1)) == []


def test_pages_lead_through_every_line_once_while_more_are_added(any_storage):
    write(any_storage, *(replace(LINE, subject=each) for each in "abcdefg"))
    ids = {line.subject: line.id for line in page(any_storage)}
    seen, past = [], None
    for _ in range(3):
        found = subjects(any_storage, limit=3, past=past)
        seen += found
        past = ids[found[-1]]
        write(any_storage, replace(LINE, subject="later"))
    assert "".join(seen) == "gfedcba"
    assert subjects(any_storage, limit=3, past=past) == []
    assert subjects(any_storage, limit=2, past=ids["b"], newer=True) == ["d", "c"]
    assert subjects(any_storage, limit=2, past=ids["g"], newer=True) == ["later"] * 2
    assert subjects(any_storage, limit=2, newer=True) == ["b", "a"]


def refused(storage, statement):
    try:
        with storage.engine.begin() as connection:
            connection.execute(text(statement))
    except IntegrityError as error:
        return "never" in str(error.orig)
    return False


def test_the_database_lets_nobody_change_or_remove_a_line(any_storage):
    write(any_storage, LINE, LINE)
    kept = page(any_storage)
    names = [column.name for column in table.c]
    tried = {
        name: refused(any_storage, f"UPDATE audit_entries SET {name} = {name}")  # noqa: S608
        for name in names
    }
    assert tried == dict.fromkeys(names, True)
    assert refused(any_storage, "DELETE FROM audit_entries")
    assert refused(any_storage, "DELETE FROM audit_entries WHERE subject = 'id-1'")
    assert page(any_storage) == kept


def test_sqlite_has_no_way_around_it(storage):
    write(storage, LINE)
    (kept,) = page(storage)
    assert refused(storage, "UPDATE OR REPLACE audit_entries SET rowid = 9")
    assert refused(
        storage,
        "INSERT OR REPLACE INTO audit_entries SELECT id, at, 'forged', via, action, "
        "subject, before, after, request FROM audit_entries",
    )
    assert page(storage) == (kept,)


def test_an_id_is_never_used_again(storage):
    write(storage, LINE)
    with storage.engine.begin() as connection:
        connection.execute(text("DROP TRIGGER audit_entries_stay"))
        connection.execute(table.delete())
    write(storage, LINE)
    (line,) = page(storage)
    assert line.id == 2


def test_lines_are_added_by_insert_alone(any_storage):
    """What the refusals above would let through if they refused everything."""
    with any_storage.engine.begin() as connection:
        values = dict.fromkeys(("actor", "via", "action", "subject"), "x")
        connection.execute(insert(table).values(**values, at=NOON, request=""))
    assert subjects(any_storage) == ["x"]
