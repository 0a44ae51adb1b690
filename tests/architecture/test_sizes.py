"""Files, functions and parameter lists stay short."""

from __future__ import annotations

import ast
from statistics import median, quantiles

import pytest

from tests.architecture.source import Function, Source, demand_none, sources

FILE_LINES = {"pricing": 300, "api": 250, "tests": 400}
FUNCTION_LINES = {"pricing": 35, "api": 35, "tests": 40}
MEDIAN_LINES = 8
NINE_OF_TEN_LINES = 20
POSITIONAL = 4
GENERATED = ("api/db/migrations/",)
SKETCH = 20  # functions below which a median says nothing yet
PACKAGES = pytest.mark.parametrize("package", ["pricing", "api", "tests"])


def code_lines(function: Function) -> int:
    """Lines from ``def`` to the end, without the docstring."""
    length = (function.end_lineno or 0) - function.lineno + 1
    if ast.get_docstring(function, clean=False) is not None:
        text = function.body[0]
        length -= (text.end_lineno or 0) - text.lineno + 1
    return length


def long_functions(source: Source, ceiling: int) -> list[str]:
    return [
        f"{source.path}:{each.lineno} {each.name}: {code_lines(each)} lines"
        for each in source.functions()
        if code_lines(each) > ceiling
    ]


def many_positional(source: Source) -> list[str]:
    """Functions with more parameters before the keyword-only ones than allowed."""
    return [
        f"{source.path}:{each.lineno} {each.name}: {', '.join(positional(each))}"
        for each in source.functions()
        if len(positional(each)) > POSITIONAL
    ]


def positional(function: Function) -> list[str]:
    names = [each.arg for each in (*function.args.posonlyargs, *function.args.args)]
    return [name for name in names if name not in {"self", "cls"}]


def spread(code: list[Source]) -> tuple[float, float]:
    """Median and 90th percentile of the functions' lines."""
    lengths = [code_lines(each) for source in code for each in source.functions()]
    if len(lengths) < SKETCH:
        return 0, 0
    return median(lengths), quantiles(lengths, n=10, method="inclusive")[-1]


@PACKAGES
def test_no_file_is_longer_than_its_ceiling(package):
    ceiling = FILE_LINES[package]
    code = sources(package, but=GENERATED)
    demand_none([f"{s.path}: {s.lines}" for s in code if s.lines > ceiling])


@PACKAGES
def test_no_function_is_longer_than_its_ceiling(package):
    code = sources(package, but=GENERATED)
    found = [long_functions(source, FUNCTION_LINES[package]) for source in code]
    demand_none([each for part in found for each in part])


@pytest.mark.parametrize("package", ["pricing", "api"])
def test_most_functions_are_short(package):
    middle, nine_of_ten = spread(sources(package, but=GENERATED))
    assert middle <= MEDIAN_LINES
    assert nine_of_ten <= NINE_OF_TEN_LINES


@pytest.mark.parametrize("package", ["pricing", "api"])
def test_no_function_takes_more_than_four_parameters_by_position(package):
    code = sources(package, but=GENERATED)
    demand_none([each for source in code for each in many_positional(source)])


def planted(lines: int) -> Source:
    body = "\n".join("    x = 1" for _ in range(lines - 1))
    return Source("pricing/x.py", f"def f():\n{body}\n")


def test_a_long_function_is_found_and_its_docstring_does_not_count():
    assert not long_functions(planted(35), 35)
    assert long_functions(planted(36), 35)
    told = Source("x.py", 'def f():\n    """One.\n\n    Two.\n    """\n    return 1\n')
    assert long_functions(told, 2) == []
    assert long_functions(told, 1) == ["x.py:1 f: 2 lines"]


def test_long_habits_are_found():
    assert spread([planted(9)] * SKETCH) == (9, 9)


def test_too_many_parameters_are_found():
    many = Source("x.py", "def f(a, b, c, d, e): ...\ndef g(a, b, c, d, *, e): ...")
    assert many_positional(many) == ["x.py:1 f: a, b, c, d, e"]
