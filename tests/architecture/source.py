"""The code as data: what the rules about it read."""

from __future__ import annotations

import ast
import subprocess
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Source:
    """One Python file: its path from the project's folder, and its text."""

    path: str
    text: str

    @cached_property
    def tree(self) -> ast.Module:
        return ast.parse(self.text)

    @cached_property
    def nodes(self) -> list[ast.AST]:
        return list(ast.walk(self.tree))

    @property
    def module(self) -> str:
        name = self.path.removesuffix(".py").replace("/", ".")
        return name.removesuffix(".__init__")

    @property
    def lines(self) -> int:
        return len(self.text.splitlines())

    def functions(self) -> Iterator[Function]:
        for node in self.nodes:
            if isinstance(node, Function):
                yield node

    def calls(self) -> Iterator[ast.Call]:
        for node in self.nodes:
            if isinstance(node, ast.Call):
                yield node

    def imported(self) -> Iterator[tuple[str, int]]:
        """Each module named in an import, with its line.

        ``from a.b import c`` gives both ``a.b`` and ``a.b.c``, as ``c`` may be
        a module.
        """
        for node in self.nodes:
            if isinstance(node, ast.Import):
                yield from ((alias.name, node.lineno) for alias in node.names)
            elif isinstance(node, ast.ImportFrom):
                base = self._absolute(node)
                yield base, node.lineno
                yield from ((f"{base}.{a.name}", node.lineno) for a in node.names)

    def _absolute(self, node: ast.ImportFrom) -> str:
        if not node.level:
            return node.module or ""
        package = self.module.split(".")
        if not self.path.endswith("/__init__.py"):
            package.pop()
        kept = package[: len(package) - node.level + 1]
        return ".".join([*kept, *([node.module] if node.module else [])])


def sources(*folders: str, but: tuple[str, ...] = ()) -> list[Source]:
    """Every Python file of these folders, except below the paths in ``but``."""
    found = (path for folder in folders for path in (ROOT / folder).rglob("*.py"))
    named = ((path.relative_to(ROOT).as_posix(), path) for path in sorted(found))
    return [_source(name, path) for name, path in named if not name.startswith(but)]


@cache  # every rule goes through the same files
def _source(name: str, path: Path) -> Source:
    return Source(name, path.read_text("utf-8"))


def demand_none(found: Iterable[str]) -> None:
    """Fail with one line a finding."""
    lines = list(found)
    if lines:
        pytest.fail("\n".join(["found:", *lines]), pytrace=False)


def tracked() -> list[str]:
    """Every file that belongs to the project, as git lists them."""
    listed = git("ls-files", "-z").split("\0")
    return [name for name in listed if (ROOT / name).is_file()]


def git(*arguments: str) -> str:
    """What git says in the project's folder."""
    return subprocess.run(
        ["git", *arguments], cwd=ROOT, capture_output=True, encoding="utf-8", check=True
    ).stdout


def called_name(call: ast.Call) -> str:
    """The last name of what is called: ``f`` of ``f()``, of ``a.f()`` too."""
    match call.func:
        case ast.Attribute(attr=name) | ast.Name(id=name):
            return name
    return ""


def dotted(node: ast.expr) -> str:
    """``a.b.c`` for such an expression, or an empty text."""
    match node:
        case ast.Name(id=name):
            return name
        case ast.Attribute(value=value, attr=name):
            return f"{dotted(value)}.{name}"
    return ""


def begins_with(module: str, prefixes: tuple[str, ...]) -> bool:
    """Whether a module is one of these or inside one."""
    return any(module == each or module.startswith(f"{each}.") for each in prefixes)
