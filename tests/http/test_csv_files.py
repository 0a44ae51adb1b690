"""What all CSV files over HTTP have in common: how their faults are answered."""

from __future__ import annotations

import pytest

ROWS = {
    "/v1/listings/import": ("sku,from,to", "ring,x,6"),
    "/v1/jobs/import": ("job,minutes:fold", "K-1,x"),
}


@pytest.fixture(params=ROWS)
def refused(request, workshop):
    """The answer to so many rows at fault."""
    header, row = ROWS[request.param]

    def send(many):
        data = "\r\n".join((header, *([row] * many)))
        answer = workshop.post(request.param, data)
        assert answer.status_code == 422
        return answer.json

    return send


def test_of_very_many_faults_some_are_left_out(refused, monkeypatch):
    monkeypatch.setattr("api.resources.csv_files.MOST_FAULTS", 3)
    told = refused(5)
    assert [each["row"] for each in told["errors"]] == [2, 3, 4]
    assert told["errors_left_out"] == 2
    assert "5 rows have faults" in told["detail"]


def test_few_faults_are_all_told(refused):
    told = refused(2)
    assert [each["row"] for each in told["errors"]] == [2, 3]
    assert "errors_left_out" not in told
