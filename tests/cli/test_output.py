from __future__ import annotations

import json
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from api.cli.output import colour, columns, facts, instant, one_line, show, table

WHEN = datetime(2026, 12, 1, 9, 5, tzinfo=UTC)
TRICKS = {
    "line feed": "\n",
    "carriage return": "\r",
    "escape": "\x1b",
    "backspace": "\b",
    "delete": "\x7f",
    "next line": "\x85",
    "control sequence": "\x9b",
    "turn round": "\u202e",
    "isolate": "\u2066",
    "line separator": "\u2028",
    "paragraph separator": "\u2029",
    "half a sign": "\udc80",
    "tag": "\U000e0041",
}
"""Signs that move the cursor, break a line or reorder what is beside them."""


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


@pytest.mark.parametrize("trick", TRICKS.values(), ids=TRICKS)
def test_no_sign_in_a_cell_can_forge_a_line_or_hide_one(trick):
    forged = f"good{trick}2026-12-01 bad"
    for text in (table(("note",), [(forged,)]), facts({"note": forged})):
        shown = text.splitlines()[-1]
        assert shown.endswith("2026-12-01 bad")
        assert "good\\" in shown
        assert shown.isprintable()
    assert one_line(forged).encode("ascii").decode("unicode_escape") == forged


@pytest.mark.parametrize("trick", TRICKS.values(), ids=TRICKS)
def test_no_sign_in_json_can_forge_a_line_and_none_is_lost(capsys, trick):
    document = {"note": f"good{trick}bad"}
    show(document, str, as_json=True)
    out = capsys.readouterr().out
    assert [line for line in out.split("\n") if line] == [
        "{",
        f'  "note": "good{json.dumps(trick)[1:-1]}bad"'.replace("\x7f", "\\u007f"),
        "}",
    ]
    assert json.loads(out) == document


def test_what_prints_is_shown_as_it_is():
    assert one_line("½ crown, Škoda \\ 銀") == "½ crown, Škoda \\ 銀"


def test_a_line_is_as_long_as_it_likes_unless_it_is_for_a_terminal(monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)
    assert columns() is None
    monkeypatch.setenv("COLUMNS", "57")
    assert columns() == 57
