from __future__ import annotations

import json
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from api.cli.output import colour, facts, instant, show, table

WHEN = datetime(2026, 12, 1, 9, 5, tzinfo=UTC)


def test_columns_line_up_and_figures_at_the_right():
    text = table(
        ("coin", "g"), [("Crown", Decimal("28.28")), ("Dime", None)], right=" r"
    )
    assert text.splitlines()[1:] == ["Crown  28.28", "Dime"]
    assert "coin       g" in text


def test_facts_without_a_figure_are_left_out():
    assert facts({"mass": "20 g", "rim": None, "fineness": 900}) == (
        "mass      20 g\nfineness  900"
    )
    assert facts({}) == ""


def test_exact_figures_and_moments_are_written_as_the_api_does(capsys):
    document = {"price": Decimal("1E+2"), "as_of": WHEN, "name": "½ crown"}
    show(document, str, as_json=True)
    out = capsys.readouterr().out
    assert json.loads(out) == {
        "price": "100",
        "as_of": "2026-12-01T09:05:00Z",
        "name": "½ crown",
    }
    assert "½" in out


def test_anything_else_has_no_place_in_a_document():
    with pytest.raises(TypeError, match="set has no place"):
        show({"x": {1}}, str, as_json=True)


def test_headings_are_plain_where_no_terminal_listens(capsys):
    show(None, lambda: table(("a",), [("b",)]), as_json=False)
    assert capsys.readouterr().out == "a\nb\n"


def test_nothing_is_coloured_where_the_reader_wants_none(monkeypatch):
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert colour() is None
    monkeypatch.setenv("NO_COLOR", "1")
    assert colour() is False


def test_a_moment_is_read_to_the_minute():
    assert instant(WHEN) == "2026-12-01 09:05 UTC"
    assert instant(None) == ""
