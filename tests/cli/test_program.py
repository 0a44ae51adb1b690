"""The real program on a real file, each call a process of its own."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from decimal import Decimal
from urllib.request import urlopen

import pytest

from tests.architecture.source import ROOT
from tests.cli.conftest import BOOK

PROGRAM = (sys.executable, "-m", "api.cli")


@pytest.fixture
def environ(tmp_path):
    return os.environ | {"FINEWEIGHT_DATABASE": str(tmp_path / "my rings.db")}


@pytest.fixture
def program(environ):
    def program(*arguments, given=""):
        done = subprocess.run(
            [*PROGRAM, *arguments], cwd=ROOT, env=environ, input=given,
            capture_output=True, encoding="utf-8", check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return done.stdout

    return program


def test_a_workshop_is_set_up_by_commands_alone(program):
    assert "up to date" in program("db", "upgrade")
    assert "version 1" in program("book", "load", "-", given=BOOK)
    assert "version 2" in program("book", "load", "-", given=BOOK.replace("32", "33"))
    assert "32.00" in program("book", "diff", "1")
    program("spot", "set", "27.50")
    assert Decimal(json.loads(program("spot", "show", "--json"))["price"]) == 27.5
    assert "27.50 EUR" in program("spot", "show")
    assert "20 g" in program("coins", "show", "at_50s_1959_1973")
    assert program("key", "create", "--scope", "bench").startswith("fw_bench_")


def test_the_api_is_served_until_the_program_is_told_to_stop(environ):
    command = [*PROGRAM, "serve", "--port", "0"]
    with subprocess.Popen(
        command, cwd=ROOT, env=environ, stderr=subprocess.PIPE, text=True
    ) as server:
        try:
            address = re.search(r"http://127\.0\.0\.1:\d+", server.stderr.readline())
            with urlopen(f"{address.group()}/livez", timeout=10) as answer:  # noqa: S310
                assert answer.status == 200
        finally:
            server.terminate()
        assert "Stop with" in server.stderr.read()
    assert server.returncode == (1 if os.name == "nt" else 0)
