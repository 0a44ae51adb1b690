"""The scripts a newcomer starts first."""

from __future__ import annotations

import os
import runpy
import subprocess
import sys

import pytest

from api.settings import settings_from
from tests.architecture.source import ROOT


def start(script, *arguments):
    return subprocess.run(
        [sys.executable, str(ROOT / script), *arguments],
        env=os.environ | {"USE_THIS_PYTHON": "yes"},
        capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip


@pytest.mark.parametrize("script", ["tests/run", "demo/run"])
def test_help_needs_no_environment(script):
    done = start(script, "--help")
    assert done.returncode == 0
    assert script in done.stdout


def test_pytest_arguments_are_passed_on_and_their_end_is_the_runs():
    passed = start("tests/run", "tests/scripts/test_start_scripts.py", "-k", "planted")
    assert passed.returncode == 0, passed.stdout + passed.stderr
    assert start("tests/run", "no/such/test.py").returncode == 1


def test_planted():
    """Chosen by the test above."""


@pytest.fixture
def script(monkeypatch):
    monkeypatch.setattr(sys, "path", list(sys.path))
    return runpy.run_path(str(ROOT / "tests" / "run"))


def test_one_failure_fails_the_whole(script, capsys):
    assert script["report"]({"style": 1.0, "tests": None}) == 1
    assert "tests" in capsys.readouterr().out
    assert script["report"]({"style": 1.0, "tests": 2.0}) == 0
    assert "All passed." in capsys.readouterr().out


def test_each_package_has_its_floor_of_coverage(script):
    assert script["FLOORS"] == {"pricing": 100, "api": 95}


@pytest.mark.parametrize(
    ("said", "held"), [("1", ["pricing", "api"]), ("", ["pricing"])]
)
def test_the_floor_of_prices_is_held_always_and_all_in_a_thorough_run(
    script, monkeypatch, said, held
):
    asked = []
    inside = script["full"].__globals__
    monkeypatch.setitem(inside, "module", lambda *words: asked.append(words) or 0.0)
    monkeypatch.setenv("TESTS_THOROUGH", said)
    assert script["full"]() == 0
    floors = {"pricing": 100, "api": 95}
    assert [words[2:] for words in asked if words[0] == "coverage"] == [
        (f"--include={one}/*", f"--fail-under={floors[one]}") for one in held
    ]
    runs = [words for words in asked if words[0] == "pytest"]
    assert [word for words in runs for word in words if word.startswith("--cov=")] == [
        f"--cov={one}" for one in held
    ]


@pytest.mark.parametrize("said", ["1", ""])
def test_every_test_is_in_one_of_two_runs(script, monkeypatch, said):
    asked = []
    inside = script["full"].__globals__
    monkeypatch.setitem(inside, "module", lambda *words: asked.append(words) or 0.0)
    monkeypatch.setenv("TESTS_THOROUGH", said)
    script["full"]()
    first, second = (words for words in asked if words[0] == "pytest")
    chosen = [word for word in first if word.startswith("tests/")]
    assert chosen == list(script["PRICES"])
    assert [w for w in second if w.startswith("--ignore=")] == [
        f"--ignore={each}" for each in chosen
    ]
    assert all((ROOT / each).is_dir() for each in chosen)


def test_a_failed_run_fails_the_whole(script, monkeypatch):
    inside = script["full"].__globals__
    monkeypatch.setitem(
        inside, "module", lambda *words: None if "--ignore=" in str(words) else 0.0
    )
    assert script["full"]() == 1


def test_a_thorough_run_tells_the_program_nothing():
    assert settings_from({"TESTS_THOROUGH": "1"}) == settings_from({})
