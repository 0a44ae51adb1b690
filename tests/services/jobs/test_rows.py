"""Rows of a file as what is so of jobs."""

from __future__ import annotations

from decimal import Decimal

from api.services.csv_table import CsvForm, headings_of, read_table
from api.services.jobs.rows import COLUMNS, NEEDED, drafts_of, known_columns
from tests.services.logbook import attempt, coins, csv


def read(*rows, header, **form):
    data, given = csv(*rows, header=header), CsvForm(**form)
    known = known_columns(headings_of(data, given), given)
    table = read_table(data, given, known=known, needed=NEEDED, most_rows=None)
    return drafts_of(table, given.decimal)


def messages(faults):
    return [(fault.row, fault.column, fault.message) for fault in faults]


def test_stages_are_columns_under_their_key_or_another_heading():
    given = CsvForm(columns={"visits:fold": "wie oft"})
    found = known_columns(("job", "minutes:fold", "minutes:", "x"), given)
    assert found == (*COLUMNS, "minutes:fold", "visits:fold")


def test_a_row_is_an_attempt_and_what_is_so_of_the_job():
    [draft], faults = read(
        "K-17,2,scrapped,fold,8.5,2,3.61,split,3,17.2,199,2026-11-27",
        header="job,line,outcome,stage,minutes:fold,visits:fold,slug_g,note,coins,"
        "coin_cost,sold_price,completed_at",
    )
    assert faults == []
    [row] = draft.attempts
    assert row.ask == attempt(
        "scrapped", line=1, stage="fold", minutes={"fold": "8.5"}, visits={"fold": 2},
        slug_g="3.61", note="split",
    )  # fmt: skip
    assert draft.coins[0].coins == coins(3, "17.2", line=1, entry=row.entry)
    assert draft.said["sold_price"] == Decimal(199)
    assert draft.where == {"sold_price": 2, "completed_at": 2}


def test_rows_without_a_name_are_known_by_what_they_say_and_how_often():
    header = "job,attempt,outcome,minutes:fold"
    rows = ("a,,good,8.50", "a,,good,8.5", "a,,good,9", "a,x,good,9", "b,,good,8.5")
    [one, other], _ = read(*rows, header=header)
    entries = [row.entry for row in one.attempts]
    assert entries[0].split(".")[0] == entries[1].split(".")[0]
    assert len({*entries}) == 4
    assert entries[3] == "=x"
    assert other.attempts[0].entry == entries[0]


def test_a_row_may_say_only_what_is_so_of_the_job_or_what_was_taken():
    [draft], faults = read(
        "a,199,,", "a,,,", "a,,2,9.5", "a,,,7", header="job,sold_price,coins,coin_cost"
    )
    assert (faults, draft.attempts, draft.rows) == ([], [], [2, 3, 4, 5])
    taken = [(row.row, row.coins.count, row.coins.unit_cost) for row in draft.coins]
    assert taken == [(4, 2, Decimal("9.5")), (5, 1, 7)]


def test_what_does_not_fit_is_told_by_row_and_column():
    _, faults = read(
        ",good,,1,,",
        "a,split,,1,,",
        "a,,3,1,,",
        "a,good,,0,,",
        "a,good,,1,2,",
        "a,good,,1,,199",
        "a,good,x,1,,189",
        header="job,outcome,minutes:fold,line,coins,sold_price",
    )
    told = messages(faults)
    assert [(row, column) for row, column, _ in told] == [
        (2, "job"),
        (3, "outcome"),
        (4, "outcome"),
        (5, "line"),
        (6, "coins"),
        (8, "minutes:fold"),
    ]


def test_rows_of_a_job_do_not_contradict_each_other():
    _, faults = read("a,199,5", "a,199,", "a,189,6", header="job,sold_price,fees")
    assert {fault[:2] for fault in messages(faults)} == {
        (4, "sold_price"),
        (4, "fees"),
    }
    assert all("row 2 says something else of 'a'" in fault.message for fault in faults)
