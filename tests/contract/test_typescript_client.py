"""TypeScript types made from openapi.yaml hold, and sell a ring on a real server."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from tests.architecture.source import ROOT
from tests.contract.two_servers import server
from tests.http.workshop import seed

PROGRAM = ROOT / "tests/contract/typescript"
WAIT_S = 180
MISSING = (
    "This test needs {name}, and there is none: Node.js 18 or newer with npm. On "
    "Debian or Ubuntu: apt-get install nodejs npm. tests/run --quick leaves it out."
)


def tool(name):
    """A program of Node.js; without it the test fails, for a skip shows nothing."""
    found = shutil.which(name)
    if found is None:
        pytest.fail(MISSING.format(name=name), pytrace=False)
    return found


def run(*words, cwd):
    """What a program says; it has to end well."""
    done = subprocess.run(
        words, cwd=cwd, capture_output=True, text=True, timeout=WAIT_S, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.mark.slow
def test_types_made_from_the_description_are_true_of_a_running_server(tmp_path):
    node, npm = tool("node"), tool("npm")
    folder = tmp_path / "program"
    shutil.copytree(PROGRAM, folder)
    quiet = ("--ignore-scripts", "--no-fund", "--no-audit", "--prefer-offline")
    run(npm, "ci", *quiet, cwd=folder)
    # A member with a default may be left out of what is sent.
    types = (str(ROOT / "openapi.yaml"), "-o", "schema.d.ts")
    made = ("node_modules/.bin/openapi-typescript", *types)
    run(node, *made, "--default-non-nullable=false", cwd=folder)
    run(node, "node_modules/.bin/tsc", cwd=folder)
    database = str(tmp_path / "fineweight.sqlite3")
    keys = seed(database)
    with server(database) as address:
        words = (address, keys["bench"], keys["shop"], keys["window"])
        assert run(node, "out/use.js", *words, cwd=folder) == "done\n"
