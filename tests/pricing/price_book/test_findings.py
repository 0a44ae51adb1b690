from datetime import date

import pytest

from pricing.errors import Fault
from pricing.price_book.findings import Findings, shown, suggestion


def test_a_fault_makes_everything_above_it_unsound():
    findings = Findings()
    findings.add(("stages", 2, "minutes"), "…")
    assert not findings.sound("stages", 2)
    assert not findings.sound("stages", 2, "minutes")
    assert findings.sound("stages", 1)
    assert findings.readable("stages", 2)
    assert not findings.readable("stages", 2, "minutes")
    assert findings.faults == (Fault(("stages", 2, "minutes"), "…"),)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("fold\n", r"'fold\n'"),
        ("f" * 100, repr("f" * 40)),
        (False, "false"),
        (True, "true"),
        (12, "12"),
        ({}, "a table"),
        ([1], "a list"),
        (date(2026, 11, 25), "datetime.date(2026, 11, 25)"),
    ],
)
def test_values_are_quoted_short_and_printable(value, text):
    assert shown(value) == text


def test_the_nearest_name_is_suggested_else_all_of_them():
    assert suggestion("pres", ("press", "fold")) == "did you mean 'press'?"
    assert suggestion("zzz", ("press", "fold")) == "use one of: press, fold"
    assert suggestion("zzz", ()) == "use one of: none yet"
    many = [f"stage_{i}" for i in range(13)]
    assert suggestion("zzz", many).endswith("stage_10, stage_11, …")
    assert suggestion("zzz", ("press",), otherwise="look it up") == "look it up"
