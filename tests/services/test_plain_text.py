"""Free text prints and is not too long; a line stays one line."""

from __future__ import annotations

import pytest

from api.services.plain_text import MOST_CHARACTERS, plain_line, plain_lines, sought
from pricing.errors import InvalidInput


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("", ""),
        ("   ", ""),
        (" a note ", "a note"),
        ("½ oz — 銀 💍 <b>", "½ oz — 銀 💍 <b>"),
        ("x" * MOST_CHARACTERS, "x" * MOST_CHARACTERS),
    ],
)
def test_a_plain_line_is_kept_without_the_blanks_round_it(given, kept):
    assert plain_line(given, "note") == kept


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("x" * (MOST_CHARACTERS + 1), "201 characters are too many; use at most 200"),
        ("a\nb", r"holds U\+000A LINE FEED, which does not print"),
        ("a\tb", r"U\+0009 TAB, which"),
        ("a\x00b", r"U\+0000, which"),
        ("a\x1b[31mb", r"U\+001B ESCAPE, which"),
        ("a\u2028b", r"U\+2028 LINE SEPARATOR, which"),
        ("a\u202eb\n", r"U\+202E RIGHT-TO-LEFT OVERRIDE, which"),
        ("a\u200db", r"U\+200D ZERO WIDTH JOINER, which"),
        ("a\ud800b", r"U\+D800, which"),
        ("a\U000e0041b", r"U\+E0041 TAG LATIN CAPITAL LETTER A, which"),
    ],
)
def test_other_text_is_refused_by_the_members_name(given, said):
    with pytest.raises(InvalidInput, match=said) as refused:
        plain_line(given, "note")
    assert refused.value.path == ("note",)


@pytest.mark.parametrize("given", ["", "  ", "\n"])
def test_text_that_is_needed_cannot_be_blank(given):
    with pytest.raises(InvalidInput, match="the text is empty"):
        plain_line(given, "label", blank=False)


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("", ""),
        (" \n\n ", ""),
        ("\n one\r\ntwo\n\nthree \n", "one\ntwo\n\nthree"),
        ("e\u0301", "\u00e9"),
        ("e\u0301" * 10, "\u00e9" * 10),
        ("\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645",) * 2,  # Persian: I want
        ("\U0001f469\u200d\U0001f527",) * 2,  # one emoji: a woman with a tool
        ("size\t10",) * 2,
    ],
)
def test_several_lines_are_kept_composed_and_with_one_kind_of_end(given, kept):
    assert plain_lines(given, "customer_note", most=20) == kept


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("x" * 21, "21 characters are too many; use at most 20"),
        ("a\rb", r"holds U\+000D CARRIAGE RETURN, which does not print"),
        ("a\x00b", r"U\+0000, which"),
        ("a\u202eb", r"U\+202E RIGHT-TO-LEFT OVERRIDE, which"),
        ("a\u200bb", r"U\+200B ZERO WIDTH SPACE, which"),
        ("a\u2029b", r"U\+2029 PARAGRAPH SEPARATOR, which"),
        ("a\ud800b", r"U\+D800, which"),
    ],
)
def test_lines_that_could_mislead_are_refused_by_the_members_name(given, said):
    with pytest.raises(InvalidInput, match=said) as refused:
        plain_lines(given, "customer_note", most=20)
    assert refused.value.path == ("customer_note",)


def test_a_text_is_looked_for_as_texts_are_kept():
    assert sought(" Rose\u0301 ") == "Ros\u00e9"
