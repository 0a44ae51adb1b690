"""Cells of a bench log's file."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from api.services.csv_cells import Unreadable
from api.services.jobs.cells import Cells, moment, whole


def test_figures_are_read_with_the_mark_that_is_said():
    plain, comma = Cells("."), Cells(",")
    assert str(plain.figure("8.50")) == "8.5"
    assert str(comma.figure("8,50")) == "8.5"
    assert str(plain.figure("-0")) == "0"
    assert str(plain.figure("120")) == "120"
    assert plain.figure("8.50") is plain.figure("8.50")


@pytest.mark.parametrize("cell", ["8,5", "1e3", "08", "1.", ".5", "8.5 ", "٣", "nan"])
def test_what_is_no_figure_is_refused(cell):
    with pytest.raises(Unreadable, match="no number"):
        Cells(".").figure(cell)


def test_counts_are_whole():
    assert whole("12") == 12
    for cell in ("1.5", "-1", "", "1234567"):
        with pytest.raises(Unreadable):
            whole(cell)


def test_a_moment_is_a_day_or_has_its_offset():
    assert moment("2026-11-27") == date(2026, 11, 27)
    found = moment("2026-11-27T16:30:00+01:00")
    assert isinstance(found, datetime)
    assert found.utcoffset() == timedelta(hours=1)
    for cell in ("2026-11-27T16:30", "27.11.2026", "2026-02-30", "2026-W48-1", "x"):
        with pytest.raises(Unreadable, match="no day"):
            moment(cell)
