"""Which part may import which."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.architecture.source import ROOT, Source, begins_with, demand_none, sources

INNER = ("pricing",)
PORTS = ("api.ports", *INNER)
SERVICES = ("api.services", *PORTS)
HTTP = (
    "api.application",
    "api.cors",
    "api.cursors",
    "api.declaration",
    "api.endpoint",
    "api.errors",
    "api.exchange",
    "api.idempotency",
    "api.json_body",
    "api.openapi",
    "api.openapi_headers",
    "api.parameters",
    "api.preconditions",
    "api.problems",
    "api.quotas",
    "api.request_log",
    "api.schemas",
    "api.security",
    "api.settings",
    "api.text_body",
)
ANYTHING = ("api", "pricing")
MAY_IMPORT = {
    "pricing": INNER,
    "api.ports": PORTS,
    "api.services": SERVICES,
    "api.schemas": ("api.schemas", *INNER),
    "api.resources": ("api.resources", *HTTP, *SERVICES),
    "api.web": ("api.web", *HTTP, *SERVICES),
    "api.cli": (
        "api.schemas",
        "api.cli",
        "api.app",
        "api.openapi",
        "api.settings",
        *SERVICES,
    ),
    "api.db": ("api.db", *PORTS),
    "api.outbound": ("api.outbound", *PORTS),
    "api.feeds": ("api.feeds", "api.outbound", *PORTS),
    "api.hooks": ("api.hooks", "api.outbound", *PORTS),
    "api.settings": ("api.settings", *INNER),
    **dict.fromkeys(
        (part for part in HTTP if part not in {"api.schemas", "api.settings"}),
        (*HTTP, *SERVICES),
    ),
    "api.app": ANYTHING,
    "api": (),
}
"""The first part that a module belongs to decides, the longest name first."""

NOT_FOR = {
    "api.services": ("flask", "sqlalchemy", "werkzeug", "click", "marshmallow"),
    "api.ports": ("flask", "sqlalchemy", "werkzeug", "click", "marshmallow"),
    "api.schemas": ("flask", "sqlalchemy", "werkzeug", "click"),
    "api.resources": ("sqlalchemy", "click"),
    "api.db": ("flask", "werkzeug", "click", "marshmallow"),
    "api.cli": ("flask", "sqlalchemy", "marshmallow"),
}
ALLOWED_OUTSIDE = {"numpy", "scipy.special"}
OURS = ("pricing", "api", "tests", "demo")


def part_of(module: str) -> str:
    parts = (part for part in MAY_IMPORT if begins_with(module, (part,)))
    return max(parts, key=len)


def wrong_directions(source: Source) -> list[str]:
    """Imports of our own code against the arrows, and of libraries kept away."""
    part = part_of(source.module)
    banned = NOT_FOR.get(part, ())
    return [
        f"{source.path}:{line} imports {name}"
        for name, line in source.imported()
        if (
            begins_with(name, OURS)
            and not begins_with(name, MAY_IMPORT[part])
            and name not in {"api", "pricing"}
        )
        or begins_with(name, banned)
    ]


def foreign_imports(source: Source) -> list[str]:
    """What a pure module imports beside the standard library, numpy, scipy.special."""
    return [
        f"{source.path}:{line} imports {name}"
        for name, line in source.imported()
        if name.split(".")[0] not in sys.stdlib_module_names
        and not begins_with(name, ("pricing", "numpy", "scipy.special"))
        and name != "scipy"
    ]


def circles(code: list[Source]) -> list[str]:
    """Modules that import each other, directly or by way of others."""
    names = {source.module for source in code}
    arrows = {
        source.module: {
            name for name, _ in source.imported() if name in names - {source.module}
        }
        for source in code
    }
    return [name for name in names if name in reachable(arrows, name)]


def reachable(arrows: dict[str, set[str]], start: str) -> set[str]:
    seen: set[str] = set()
    ahead = set(arrows[start])
    while ahead:
        name = ahead.pop()
        seen.add(name)
        ahead |= arrows[name] - seen
    return seen


def test_every_import_follows_the_arrows():
    found = [each for s in sources("pricing", "api") for each in wrong_directions(s)]
    demand_none(found)


def test_pricing_imports_nothing_but_the_standard_library_and_two_for_numbers():
    demand_none([each for s in sources("pricing") for each in foreign_imports(s)])


def test_no_module_of_pricing_imports_itself_by_way_of_others():
    demand_none(circles(sources("pricing")))


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("pricing/price.py", "from api.settings import Settings"),
        ("api/services/keys.py", "import flask"),
        ("api/services/keys.py", "from sqlalchemy.exc import IntegrityError"),
        ("api/services/keys.py", "from api.db.engine import engine"),
        ("api/services/keys.py", "from api import db"),
        ("api/resources/keys.py", "from api.db.repositories.keys import Keys"),
        ("api/resources/keys.py", "from ..db import tables"),
        ("api/db/mapping.py", "from api.services.keys import Keys"),
        ("api/schemas/keys.py", "from api.ports import KeyRecord"),
        ("api/cli/key.py", "from api.db.engine import engine"),
        ("api/ports.py", "def f():\n    from api.app import compose"),
    ],
)
def test_an_import_against_the_arrows_is_found(path, line):
    assert wrong_directions(Source(path, line))


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("api/app.py", "from api.db.engine import engine"),
        ("api/resources/keys.py", "from api.services.keys import Keys"),
        ("api/services/keys.py", "from pricing.money import amount"),
        ("api/cli/key.py", "from api.app import compose"),
    ],
)
def test_an_import_along_the_arrows_is_not(path, line):
    assert not wrong_directions(Source(path, line))


@pytest.mark.parametrize("line", ["import flask", "from scipy import stats"])
def test_a_foreign_import_in_pricing_is_found(line):
    assert foreign_imports(Source("pricing/price.py", line))


def test_a_circle_is_found():
    one = Source("pricing/a.py", "from pricing.b import x")
    two = Source("pricing/b.py", "from pricing import c")
    three = Source("pricing/c.py", "import pricing.a")
    assert len(circles([one, two, three])) == 3
    assert not circles([one, two])


def test_importing_all_of_pricing_loads_no_web_database_or_statistics_library():
    code = (
        "import pkgutil, importlib, sys, pricing\n"
        "for found in pkgutil.walk_packages(pricing.__path__, 'pricing.'):\n"
        "    importlib.import_module(found.name)\n"
        "print(*sys.modules)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = set(run.stdout.split())
    assert "pricing.money" in loaded
    unwanted = ("flask", "sqlalchemy", "requests", "marshmallow", "click", "api")
    assert not loaded & {*unwanted, "scipy.stats", "pandas", "matplotlib"}
