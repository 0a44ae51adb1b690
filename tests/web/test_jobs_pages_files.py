"""A week of the bench log from a file, looked at first; and into one."""

from __future__ import annotations

import io

import pytest

from api.web.bench import file_look
from tests.web.jobs_desk import JOBS, plain, standing, went

IMPORT = f"{JOBS}/import"
EXPORT = f"{JOBS}/export"
WRITTEN = {"delimiter": "comma", "decimal": "point"}


@pytest.fixture
def at(desk_on, filled_file, tmp_path):
    return standing(desk_on, filled_file, tmp_path)


def look(at, text, **more):
    """What is said of a file."""
    file = (io.BytesIO(text.encode()), "week.csv")
    return at.desk.post(IMPORT, WRITTEN | more | {"file": file})


def carried(answer):
    """The file as the page carries it on."""
    return answer.text.partition('name="_file" value="')[2].partition('"')[0]


def week_of(job):
    return (
        "job,outcome,stage,minutes:fold,completed_at,odd\n"
        f"{job.number},good,,8.25,2026-11-25,x\n"
        f"{job.number},scrapped,fold,9.5,,\n"
    )


def test_columns_and_the_week_are_said(at):
    page = plain(at.desk.get(IMPORT).text)
    assert "completed_at" in page
    assert "minutes:fold" in page
    at.desk.headers["Accept-Language"] = "de"
    drawn = at.desk.get(IMPORT).text
    assert '<option value="semicolon" selected>' in drawn


def test_a_file_is_looked_at_then_written_down(at):
    job = at.opened()
    answer = look(at, week_of(job))
    page = plain(answer.text)
    assert "Coins added 2" in page
    assert "Passed over, since they mean nothing here: odd" in page
    assert f"{job.number} row 2 {job.number} changed, completed 2 0" in page
    assert at.coins(job) == ()
    sent = WRITTEN | {"_file": carried(answer), "_do": "import"}
    assert went(at.desk.post(IMPORT, sent)) == f"{JOBS}?done=imported"
    assert [each.outcome for each in at.coins(job)] == ["good", "scrapped"]
    assert at.now(job).status == "completed"
    again = plain(look(at, week_of(job)).text)
    assert "The file says nothing new" in again


def test_rows_at_fault_are_named_by_their_numbers(at):
    job = at.opened()
    text = week_of(job) + f"{job.number},lost,,much,,\nnobody,good,,,,\n"
    page = plain(look(at, text).text)
    assert "2 rows have faults; nothing was written down" in page
    assert "4 minutes:fold" in page
    assert "5 job" in page
    assert at.coins(job) == ()


def test_other_headings_are_matched_by_hand(at):
    job = at.opened()
    text = f"Auftrag;Ende;Falten\n{job.number};good;8,25\n"
    first = look(at, text, delimiter="semicolon", decimal="comma")
    assert "One row has faults" in plain(first.text)
    sent = {
        "delimiter": "semicolon", "decimal": "comma", "_file": carried(first),
        "_column-job": "Auftrag", "_column-outcome": "Ende",
        "_column-minutes:fold": "Falten", "_do": "look",
    }  # fmt: skip
    second = at.desk.post(IMPORT, sent)
    assert "Coins added 1" in plain(second.text)
    at.desk.post(IMPORT, sent | {"_do": "import"})
    assert str(at.coins(job)[0].minutes["fold"]) == "8.25"


@pytest.mark.parametrize(
    ("sent", "told"),
    [
        ({}, "Choose a file"),
        ({"_file": "!"}, "did not arrive whole"),
        ({"file": (b"x" * 201, "big.csv")}, "A file may have 2 MB"),
        ({"file": (b"job", "a.csv"), "decimal": "?"}, "Say how the file is written"),
    ],
)
def test_what_is_no_file_is_told_in_the_form(at, monkeypatch, sent, told):
    monkeypatch.setattr(file_look, "MOST_BYTES", 200)
    if "file" in sent:
        data, name = sent["file"]
        sent = sent | {"file": (io.BytesIO(data), name)}
    answer = at.desk.post(IMPORT, WRITTEN | sent)
    assert answer.status_code == 422
    assert told in plain(answer.text)


def test_without_a_price_book_no_file_is_read(empty_desk):
    sent = WRITTEN | {"file": (io.BytesIO(b"job,outcome\nK-1,good\n"), "week.csv")}
    answer = empty_desk.post(IMPORT, sent, drawn="/bench/style")
    assert answer.status_code == 404
    assert "/bench/begin" in answer.text


def test_the_log_of_a_week_is_saved_as_a_file(at):
    job = at.opened()
    at.coin(job, minutes={"fold": "8.25"})
    at.bench.jobs.complete(job.id, expected=None)
    week = at.now(job).week
    saved = at.desk.get(f"{EXPORT}?week={week}&delimiter=semicolon&decimal=comma")
    assert saved.headers["Content-Disposition"].endswith(f'bench-log-{week}.csv"')
    assert "8,25" in saved.text
    every = at.desk.get(EXPORT)
    assert every.headers["Content-Disposition"].endswith('"bench-log.csv"')
    assert job.number in every.text
    for query in ("week=never", "delimiter=dot", "decimal=dot"):
        assert at.desk.get(f"{EXPORT}?{query}").status_code == 404
