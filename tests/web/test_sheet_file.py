"""The customer's sheet as one file: the page, with nothing beside it."""

from __future__ import annotations

import re
from dataclasses import replace
from importlib.resources import files

from api.web.sheet_file import sheet_file
from tests.http.sheets import SHEET


def test_it_says_what_the_page_says():
    page = sheet_file(SHEET)
    assert page.startswith('<!doctype html>\n<html lang="en" data-number="2026-0017">')
    assert "<strong>Open.</strong>" in page
    assert "1\u202f251.75\xa0EUR" in page
    assert "Measure in the evening.\nThen measure again." in page


def test_it_loads_nothing():
    page = sheet_file(SHEET)
    assert not re.search(r"<link|<script|<img|<iframe|@import|url\(|src=|href=", page)
    assert "default-src 'none'; style-src 'unsafe-inline'" in page


def test_the_styles_of_the_page_are_in_it_as_they_are():
    page = sheet_file(SHEET)
    for name in ("bench.css", "sheet.css"):
        assert (files("api.web") / "static" / name).read_text("utf-8") in page


def test_nothing_is_said_of_an_address_it_does_not_have():
    assert "address" not in sheet_file(SHEET)


def test_what_others_wrote_stays_text():
    wicked = "</style><script>alert(1)</script>{{ 7 * 7 }}"
    page = sheet_file(replace(SHEET, workshop=wicked, customer_note=wicked))
    assert page.count("</style>") == 1
    assert "<script" not in page
    assert "{{ 7 * 7 }}" in page
