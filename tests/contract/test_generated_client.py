"""A typed client made from openapi.yaml alone sells a ring on a real server."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from tests.architecture.source import ROOT
from tests.contract.two_servers import server
from tests.http.workshop import seed

USE = ROOT / "tests/contract/generated_client_use.py"
WAIT_S = 120
GENERATE = ("openapi_python_client", "generate", "--meta", "none", "--overwrite")
# A document with a member of the same name as its own: the generator gives two values
# of different types one name. The client is right at run time.
MYPY = """
[mypy]
strict = true
[mypy-ring_client.models.coin]
ignore_errors = true
"""
WRONG = """
from ring_client.models import Estimate, EstimateBody, SizeBody, SizeBodySystem
def wrong(estimate: Estimate) -> None:
    amount: int = estimate.price.unit  # amounts are texts
    estimate.price.unitt  # no such member
    SizeBody(system="us", size="10")  # a system is one of a few
    EstimateBody(coin="at_50s_1959_1973")  # a size is needed
"""
LEFT_OUT = ["POST /v1/jobs/import", "POST /v1/listings/import"]
"""Operations that the generator cannot do: it knows no bodies of text/csv."""


def python(*words, cwd, **more):
    """What a Python program says; it has to end well unless ``check`` is false."""
    done = subprocess.run(
        [sys.executable, *words],
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=WAIT_S,
        check=False,
        **more,
    )
    return done.returncode, done.stdout + done.stderr


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The folder of a generated client, and what the generator said."""
    folder = tmp_path_factory.mktemp("client")
    (folder / "plain.yaml").write_text("post_hooks: []\n", "utf-8")
    told = ("--path", ROOT / "openapi.yaml", "--config", "plain.yaml")
    code, said = python(
        "-m", *GENERATE, *told, "--output-path", "ring_client", cwd=folder
    )
    assert code == 0, said
    return folder, said


@pytest.mark.slow
def test_the_generator_stumbles_over_nothing_else(made):
    _, said = made
    stumbled = re.findall(r"WARNING parsing (\w+ \S+)", said)
    assert sorted(stumbled) == LEFT_OUT
    assert said.count("WARNING") == len(LEFT_OUT)


@pytest.mark.slow
def test_the_types_are_those_of_the_description(made):
    folder, _ = made
    (folder / "mypy.ini").write_text(MYPY, "utf-8")
    (folder / "use.py").write_text(USE.read_text("utf-8"), "utf-8")
    (folder / "wrong.py").write_text(WRONG, "utf-8")
    _, said = python("-m", "mypy", "use.py", "wrong.py", cwd=folder)
    faults = re.findall(r"^(\S+):(\d+): error: .*\[([a-z-]+)\]$", said, re.MULTILINE)
    assert faults == [
        ("wrong.py", "4", "assignment"),
        ("wrong.py", "5", "attr-defined"),
        ("wrong.py", "6", "arg-type"),
        ("wrong.py", "7", "call-arg"),
    ], said


@pytest.mark.slow
def test_it_prices_promises_and_sells_on_a_running_server(made, tmp_path):
    folder, _ = made
    database = str(tmp_path / "fineweight.sqlite3")
    keys = seed(database)
    with server(database) as address:
        words = (address, keys["bench"], keys["shop"], keys["window"])
        code, said = python(USE, *words, cwd=folder, env={"PYTHONPATH": str(folder)})
    assert (code, said) == (0, "done\n")
