"""The bench log as CSV files over HTTP."""

from __future__ import annotations

import pytest

from api.schemas import job_files as schemas
from api.services.jobs import files as services
from tests.http.logging_jobs import JOBS, accepted, at

HEADER = "job,outcome,stage,minutes:fold,sold_price,completed_at"


def week(quote, *rows):
    return "\r\n".join((HEADER, *(f"{quote['number']},{row}" for row in rows)))


def test_a_week_goes_in_and_comes_out(workshop):
    quote = accepted(workshop)
    data = week(quote, "scrapped,fold,9.5,,", "good,,8.25,199,2026-11-20")
    ahead = workshop.post(f"{JOBS}/import?dry_run=true", data)
    assert (ahead.json["dry_run"], ahead.json["completed"]) == (True, 1)
    assert workshop.get(JOBS).json["jobs"] == []
    done = workshop.post(f"{JOBS}/import", data).json
    assert done["changes"][0]["number"] == "J2026-0001"
    [job] = workshop.get(JOBS).json["jobs"]
    assert (job["week"], job["quote_id"]) == ("2026-W47", quote["id"])
    again = workshop.post(f"{JOBS}/import", data).json
    assert (again["unchanged"], again["changes"]) == (1, [])
    file = workshop.get(f"{JOBS}/export?week=2026-W47&delimiter=;&decimal=,")
    assert file.headers["Content-Disposition"].startswith("attachment")
    assert "J2026-0001;#2;1;good" in file.text
    assert file.text.rstrip().endswith(";8,25")
    back = workshop.post(f"{JOBS}/import?delimiter=;&decimal=,", file.text).json
    assert back["unchanged"] == 1
    assert len(workshop.get(at(job)).json["attempts"]) == 2


def test_every_row_at_fault_is_named(workshop):
    data = week(accepted(workshop), "good,,x,,", "scrapped,braze,8,,", "good,,8,,")
    answer = workshop.post(f"{JOBS}/import", data)
    assert answer.status_code == 422
    places = [(each["row"], each["column"]) for each in answer.json["errors"]]
    assert places == [(2, "minutes:fold"), (3, "stage")]
    assert workshop.get(JOBS).json["jobs"] == []


def test_columns_are_mapped(workshop):
    data = week(accepted(workshop), "good,,8,,").replace("minutes:fold", "Falten")
    answer = workshop.post(f"{JOBS}/import?columns=minutes:fold=Falten", data)
    assert answer.json["ignored"] == []
    unmapped = workshop.post(f"{JOBS}/import", data).json
    assert unmapped["ignored"] == ["Falten"]


@pytest.mark.parametrize("columns", ["minutes:fold", "job=", "job=a,job=b", "job= "])
def test_a_map_is_of_pairs(workshop, columns):
    answer = workshop.post(f"{JOBS}/import?columns={columns}", "job\r\n")
    assert answer.status_code == 422
    assert answer.json["errors"][0]["parameter"] == "columns"


def test_as_many_changes_are_answered_as_rows_are_taken():
    assert schemas.MOST_ROWS == services.MOST_ROWS
