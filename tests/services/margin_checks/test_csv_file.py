"""A check as a table."""

from __future__ import annotations

from api.services.csv_table import CsvForm
from api.services.margin_checks.csv_file import COLUMNS, csv_text
from pricing.iso_week import IsoWeek
from tests.contract.completed_jobs import job, lay, line, stage

W48 = IsoWeek(year=2026, week=48)


def test_the_file_has_a_row_for_each_thing_and_no_formula(services, checks):
    made = job(title="=cmd()", parts={"spoilage": "-1.50"}, under_floor=True)
    lay(services.storage, (made, [line(coin="")], [stage("fold", efficiency="-2")]))
    rows = csv_text(checks.week(W48), CsvForm(delimiter=";", decimal=",")).split("\r\n")
    assert rows[0] == ";".join(COLUMNS)
    cells = [dict(zip(COLUMNS, row.split(";"), strict=True)) for row in rows[1:-1]]
    kinds = [row["rows_of"] for row in cells]
    assert kinds == ["all", *["week"] * 12, "coin", "stage", "job"]
    assert (cells[0]["margin"], cells[0]["spoilage"]) == ("38,50", "-1,50")
    assert (cells[-1]["title"], cells[-1]["under_floor"]) == ("'=cmd()", "1")
    assert (cells[-2]["key"], cells[-2]["labour_efficiency"]) == ("fold", "-2,00")
    assert cells[-2]["margin"] == ""
