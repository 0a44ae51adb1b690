"""Every public thing in pricing says what it is, and in which unit its numbers are."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

from tests.architecture.source import Function, Source, demand_none, dotted, sources

NUMERIC = {"Decimal", "float", "float64", "int", "NDArray"}
UNIT = re.compile(r"\[(?!\d+\])[^\]\n]+\]")  # [mm], but not the reference [2]
ENTRY = re.compile(r"\n(?=\s*\n|\s+[\w, `]+: )")
ANY_UNIT = ("pricing/money.py",)  # it rounds numbers of whatever unit
OWN = {"self", "cls"}
Public = ast.ClassDef | Function


def public(body: list[ast.stmt]) -> Iterator[Public]:
    """Public classes and functions, and those inside public classes."""
    for node in body:
        if isinstance(node, Public) and not node.name.startswith("_"):
            yield node
            if isinstance(node, ast.ClassDef) and not is_protocol(node):
                yield from public(node.body)


def is_protocol(node: ast.ClassDef) -> bool:
    """A protocol's members are described by the class as a whole."""
    return any(dotted(base).split(".")[-1] == "Protocol" for base in node.bases)


def silent(source: Source) -> list[str]:
    """Public things without a docstring, the module itself included."""
    module = [] if ast.get_docstring(source.tree) else [source.path]
    return module + [
        f"{source.path}:{node.lineno} {node.name}"
        for node in public(source.tree.body)
        if not ast.get_docstring(node)
    ]


def unitless(source: Source) -> list[str]:
    """Numeric parameters of public functions whose docstring gives them no unit."""
    return [
        f"{source.path}:{node.lineno} {node.name}({name})"
        for node in public(source.tree.body)
        if isinstance(node, Function)
        for name in numeric_parameters(node)
        if not has_unit(ast.get_docstring(node) or "", name)
    ]


def numeric_parameters(function: Function) -> list[str]:
    given = function.args
    return [
        each.arg
        for each in (*given.posonlyargs, *given.args, *given.kwonlyargs)
        if each.arg not in OWN and each.annotation and is_numeric(each.annotation)
    ]


def is_numeric(annotation: ast.expr) -> bool:
    """Whether a number may be given; a name inside ``Callable[...]`` counts not."""
    match annotation:
        case ast.Name(id=name):
            return name in NUMERIC
        case ast.BinOp(left=left, right=right):
            return is_numeric(left) or is_numeric(right)
        case ast.Subscript(value=ast.Name(id=name)):
            return name in NUMERIC
    return False


def has_unit(docstring: str, name: str) -> bool:
    """Whether one sentence or entry of the docstring names both it and a unit."""
    word = re.compile(rf"\b{re.escape(name)}\b")
    return any(
        word.search(entry) and UNIT.search(entry) for entry in ENTRY.split(docstring)
    )


def test_everything_public_in_pricing_has_a_docstring():
    demand_none([each for source in sources("pricing") for each in silent(source)])


def test_every_number_given_to_pricing_has_its_unit_in_the_docstring():
    code = [source for source in sources("pricing") if source.path not in ANY_UNIT]
    demand_none([each for source in code for each in unitless(source)])


def test_a_missing_docstring_is_found():
    text = (
        '"""M."""\nclass A:\n    """A."""\n    def f(self): ...\n    def _g(self): ...'
    )
    assert silent(Source("x.py", text)) == ["x.py:4 f"]
    assert silent(Source("x.py", "")) == ["x.py"]


def test_a_number_without_a_unit_is_found():
    text = '''
def f(mass: Decimal, hole: float | None, name: str, *, count: int) -> None:
    """Weigh it.

    Args:
        mass: as struck [g].
        hole: see [2].
        count: how many
            of them [count].
    """
'''
    assert unitless(Source("x.py", text)) == ["x.py:2 f(hole)"]


def test_a_unit_in_the_summary_line_is_enough():
    text = 'def f(mass: Decimal) -> Decimal:\n    """Worth of ``mass`` [g]."""'
    assert not unitless(Source("x.py", text))
