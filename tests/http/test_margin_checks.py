"""Margin checks over HTTP: weeks, days, files, and what they propose."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.contract.completed_jobs import MONDAY, job, lay, line, stage

ADDRESS = "/v1/margin-checks"
WEEK = f"{ADDRESS}/2026-W48"
PROPOSALS = f"{WEEK}/proposals"


@pytest.fixture
def bench(workshop):
    slow = stage("fold", tried=30, minutes=390, planned_minutes=300, difference_sq=400)
    lost = job(parts={"spoilage": "-9.25"}, under_floor=True, cause="spoilage")
    lay(
        workshop.services.storage,
        (lost, [line(), line("", place=1)], [slow]),
        (job(MONDAY + timedelta(days=6)), [line()], []),
    )
    return workshop


def test_a_week_is_told_whole(bench):
    told = bench.get(WEEK).json
    assert (told["week"], told["from"], told["to"]) == (
        "2026-W48", "2026-11-23", "2026-11-29",
    )  # fmt: skip
    assert (told["jobs"], told["under_floor"], told["attention"]) == (2, 1, True)
    assert told["realised"]["margin"] == "70.75"
    assert {"part": "spoilage", "amount": "-9.25"} in told["bridge"]
    assert told["by_coin"][0]["coin"] in {None, "at_50s_1959_1973"}
    assert {one["coin"] for one in told["by_coin"]} == {None, "at_50s_1959_1973"}
    assert told["by_job"][0]["cause"] == "spoilage"
    folded = next(one for one in told["judged"] if one["stage"] == "fold")
    said = {one["kind"]: one for one in folded["said"]}
    assert said["minutes"]["differs"] is True
    assert float(said["minutes"]["low"]) > 10
    assert len(told["trend"]) == 12
    assert told["trend"][-1]["jobs"] == 2


def test_any_days_are_told_likewise_and_the_window_can_be_chosen(bench):
    days = f"{ADDRESS}?from=2026-11-29&to=2026-12-06&window_weeks=1"
    told = bench.get(days).json
    assert (told["week"], told["jobs"]) == (None, 1)
    assert told["window"] == {"from": "2026-11-29", "to": "2026-12-06"}


@pytest.mark.parametrize(
    ("query", "where"),
    [
        ("from=2026-11-29", "to"),
        ("to=2026-11-29", "from"),
        ("from=2026-11-29&to=2026-11-28", "to"),
        ("from=2016-01-01&to=2026-11-28", "to"),
        ("from=2026-02-30&to=2026-11-28", "from"),
        ("from=1&to=2026-11-28", "from"),
        ("from=2026-11-28&to=2026-11-28&window_weeks=0", "window_weeks"),
    ],
)
def test_days_that_cannot_be_are_refused_where_they_stand(workshop, query, where):
    answer = workshop.get(f"{ADDRESS}?{query}")
    assert answer.status_code in {400, 422}
    assert [fault["parameter"] for fault in answer.json["errors"]] == [where]


@pytest.mark.parametrize("week", ["2026-W54", "2026-W00", "2026-48", "9999-W01", "x"])
def test_there_are_no_other_weeks(workshop, week):
    assert workshop.get(f"{ADDRESS}/{week}").status_code == 404


@pytest.mark.parametrize(
    ("address", "name"),
    [
        (f"{WEEK}/csv", "margin-check-2026-W48.csv"),
        (
            f"{ADDRESS}/csv?from=2026-11-23&to=2026-11-29",
            "margin-check-2026-11-23-to-2026-11-29.csv",
        ),
    ],
)
def test_a_check_can_be_had_as_a_file(bench, address, name):
    answer = bench.get(address)
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{name}"'
    assert answer.headers["Content-Type"] == "text/csv; charset=utf-8; header=present"
    rows = answer.text.split("\r\n")
    assert rows[0].startswith("rows_of,key,title,")
    assert sum(row.startswith("job,") for row in rows) == 2


@pytest.mark.parametrize("key", ["shop", "window", None])
def test_nobody_but_the_bench_learns_of_it(workshop, key):
    for address in (WEEK, f"{WEEK}/csv", PROPOSALS, f"{ADDRESS}/csv", ADDRESS):
        assert workshop.get(address, key=key).status_code in {401, 403}


def test_without_a_price_book_there_is_nothing_to_check(bare_workshop):
    assert bare_workshop.get(WEEK).status_code == 404
