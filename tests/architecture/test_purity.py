"""Pricing depends on its arguments alone, and rounding happens in one place."""

from __future__ import annotations

import ast

import pytest

from tests.architecture.source import (
    Source,
    begins_with,
    called_name,
    demand_none,
    dotted,
    sources,
)

IMPURE = (
    "asyncio", "getpass", "glob", "http", "logging", "multiprocessing", "os", "pathlib",
    "platform", "random", "secrets", "shutil", "signal", "socket", "sqlite3",
    "subprocess", "tempfile", "threading", "time", "urllib", "uuid", "warnings",
)  # fmt: skip
IMPURE_CALLS = {
    "breakpoint", "eval", "exec", "getenv", "input", "now", "open", "print", "today",
    "utcnow",
}  # fmt: skip
SEEDED = {"default_rng", "Generator", "PCG64", "Philox", "SeedSequence"}
ROUNDING = {
    "around", "quantize", "rint", "round", "to_integral", "to_integral_exact",
    "to_integral_value",
}  # fmt: skip
ROUNDS = "pricing/money.py"


def impurities(source: Source) -> list[str]:
    """Clock, environment, files, network, printing and unseeded chance."""
    imports = [
        f"{source.path}:{line} imports {name}"
        for name, line in source.imported()
        if begins_with(name, IMPURE)
    ]
    calls = [
        f"{source.path}:{call.lineno} calls {called_name(call)}"
        for call in source.calls()
        if called_name(call) in IMPURE_CALLS or unseeded(call)
    ]
    return imports + calls


def unseeded(call: ast.Call) -> bool:
    """A draw from a shared generator, or one made without a seed."""
    name = called_name(call)
    if name in SEEDED:
        return not call.args and not call.keywords
    return (
        ".random." in f"{dotted(call.func)}."
        and "random" in dotted(call.func).split(".")[:-1]
    )


def roundings(source: Source) -> list[str]:
    """Calls that round, wherever they are."""
    return [
        f"{source.path}:{call.lineno} calls {called_name(call)}"
        for call in source.calls()
        if called_name(call) in ROUNDING
    ]


def assertions(source: Source) -> list[str]:
    """Checks that vanish when Python runs optimised."""
    return [
        f"{source.path}:{node.lineno}"
        for node in ast.walk(source.tree)
        if isinstance(node, ast.Assert)
    ]


def test_pricing_reads_no_clock_file_network_environment_or_unseeded_chance():
    demand_none([each for s in sources("pricing") for each in impurities(s)])


def test_only_the_money_module_rounds():
    elsewhere = [s for s in sources("pricing", "api") if s.path != ROUNDS]
    demand_none([each for s in elsewhere for each in roundings(s)])


def test_no_check_of_ours_is_an_assert():
    demand_none([each for s in sources("pricing", "api") for each in assertions(s)])


@pytest.mark.parametrize(
    "line",
    [
        "import os",
        "from time import monotonic",
        "datetime.now(UTC)",
        "date.today()",
        "open('x')",
        "np.random.normal()",
        "numpy.random.default_rng()",
        "np.random.seed(1)",
    ],
)
def test_an_impurity_is_found(line):
    assert impurities(Source("pricing/price.py", line))


@pytest.mark.parametrize(
    "line",
    [
        "np.random.default_rng(seed)",
        "draws = chance.random(10)",
        "from datetime import datetime",
        "files('pricing.catalogue').joinpath('coins.csv').read_text('utf-8')",
    ],
)
def test_a_seeded_draw_a_type_or_an_own_data_file_is_not(line):
    assert not impurities(Source("pricing/price.py", line))


@pytest.mark.parametrize("line", ["round(x, 2)", "x.quantize(step)", "np.round(x)"])
def test_rounding_elsewhere_is_found(line):
    assert roundings(Source("pricing/price.py", line))


def test_an_assert_is_found():
    assert assertions(Source("api/app.py", "def f(x):\n    assert x"))
