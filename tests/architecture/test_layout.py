"""What lies where, and what is named how."""

from __future__ import annotations

import re
from pathlib import PurePosixPath

import pytest

from tests.architecture.source import ROOT, Source, demand_none, git, sources, tracked

TOP = {
    "DEVELOPERS.md", "LICENSE", "README.md", "api", "demo", "openapi.yaml", "pricing",
    "pyproject.toml", "tests",
}  # fmt: skip
VAGUE = {"base", "common", "helper", "helpers", "misc", "shared", "util", "utils"}
MIRRORED = {
    "pricing": "tests/pricing",
    "api/services": "tests/services",
    "api/resources": "tests/http",
}
TESTED_IN: dict[str, str] = {}
"""Modules whose tests bear another name: path of the module → path of the tests."""

ELSEWHERE = re.compile(
    r"/w[o]rk/|/t[m]p/|/r[o]ot/|/h[o]me/[a-z]|/U[s]ers/[a-z]|/o[p]t/|f[i]le:///"
    r"|[A-Z]:\\U[s]ers|p[y]thonhosted|p[y]pi\.org/simple|s[h]ared/reference"
    r"|s[e]ed document|\bi[s]sues? (no\.? ?)?#?\d"
)  # written so that it does not find itself
PICTURES = {".png", ".ico", ".woff2", ".webp", ".pdf"}


def strangers(names: list[str]) -> list[str]:
    """What lies at the top and has no place there; dot-files may."""
    top = {PurePosixPath(name).parts[0] for name in names}
    return sorted(name for name in top - TOP if not name.startswith("."))


def vague(names: list[str]) -> list[str]:
    """Modules and folders named for nothing in particular."""
    return [
        name
        for name in names
        if VAGUE & {PurePosixPath(part).stem for part in PurePosixPath(name).parts}
    ]


def leaks(name: str, text: str) -> list[str]:
    """Places on somebody's machine, and other words that mean nothing to a reader."""
    return [
        f"{name}:{number} {found.group()}"
        for number, line in enumerate(text.splitlines(), 1)
        if (found := ELSEWHERE.search(line))
    ]


def test_names(source: Source) -> set[str]:
    """The test files any of which may hold a module's tests."""
    path = PurePosixPath(source.path)
    folder, stem = path.parent.name, path.stem
    if stem == "__init__":
        return {f"test_{folder}.py"}
    return {f"test_{stem}.py", f"test_{folder}_{stem}.py"}


test_names.__test__ = False  # a rule, not a test


def untested(code: list[Source], tests: set[str]) -> list[str]:
    """Modules with functions for which no test file is named."""
    return [
        source.path
        for source in code
        if any(source.functions())
        and not test_names(source) & tests
        and source.path not in TESTED_IN
    ]


def test_the_top_level_holds_only_what_belongs_there():
    demand_none(strangers(tracked()))


def test_no_module_has_a_name_that_says_nothing():
    demand_none(vague(tracked()))


@pytest.mark.parametrize(("folder", "tests"), MIRRORED.items())
def test_every_module_has_a_test_file_named_for_it(folder, tests):
    named = {path.name for path in (ROOT / tests).rglob("test_*.py")}
    demand_none(untested(sources(folder), named))


def test_every_exception_to_that_rule_is_still_one():
    for module, tests in TESTED_IN.items():
        assert (ROOT / module).is_file()
        assert (ROOT / tests).is_file()


def test_nothing_names_a_place_on_somebodys_machine():
    texts = [name for name in tracked() if PurePosixPath(name).suffix not in PICTURES]
    found = [leaks(name, (ROOT / name).read_text("utf-8")) for name in texts]
    demand_none([each for part in found for each in part])


@pytest.mark.parametrize(
    "name",
    ["demo/run", "demo/take_pictures", "tests/run", "tests/benchmarks/run", ".ci/run"],
)
def test_a_start_script_can_be_started(name):
    listed = git("ls-files", "--stage", name)
    assert listed.startswith("100755 ")
    assert (ROOT / name).read_text("utf-8").startswith("#!/usr/bin/env ")


def test_a_stranger_at_the_top_is_found():
    assert strangers(["README.md", ".ci/run", "setup.cfg", "docs/a.md"]) == [
        "docs",
        "setup.cfg",
    ]


def test_a_vague_name_is_found():
    names = ["api/db/utils.py", "pricing/common/a.py", "pricing/money.py"]
    assert vague(names) == names[:2]


@pytest.mark.parametrize(
    "line",
    ["see /w" + "ork/main", "/t" + "mp/x", "f" + "ile:///x", "is" + "sue 12"],
)
def test_a_leak_is_found(line):
    assert leaks("a.py", line)
    assert not leaks("a.py", "the work at the bench, an issue of coins of 1965")


def test_a_module_without_tests_is_found():
    code = [
        Source("pricing/price.py", "def f(): ..."),
        Source("pricing/catalogue/__init__.py", "def f(): ..."),
        Source("pricing/price_book/__init__.py", "import x"),
        Source("pricing/price_book/bench.py", "def f(): ..."),
    ]
    assert untested(code, {"test_catalogue.py", "test_price_book_bench.py"}) == [
        "pricing/price.py"
    ]
