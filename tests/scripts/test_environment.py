"""When the project's environment is made, completed, or left alone."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from types import SimpleNamespace

import pytest

from tests.architecture.source import ROOT

PIN = re.compile(r"([A-Za-z0-9._-]+)==[^ ;]+( ; .+)?")


@pytest.fixture
def pips(environment, monkeypatch):
    """Every pip call made; none is really run, and folders are made empty."""
    calls = []

    def run(command, **settings):
        calls.append(command[1:])
        return SimpleNamespace(returncode=0)

    monkeypatch.setattr(environment.subprocess, "run", run)
    monkeypatch.setattr(
        environment.venv.EnvBuilder, "create", lambda _, folder: folder.mkdir()
    )
    return calls


def test_the_first_start_installs_pinned_packages_and_then_the_project(
    environment, pips
):
    assert environment.prepare() == environment.python_of(environment.VENV)
    packages, project = pips
    assert packages[packages.index("--constraint") + 1].endswith("constraints.txt")
    assert any(each.startswith("flask") for each in packages)
    assert not any(each.startswith("pytest") for each in packages)
    assert project[-2:] == ["--editable", "."]
    assert "--no-deps" in project


def test_a_second_start_runs_no_pip(environment, pips):
    environment.prepare("test")
    pips.clear()
    environment.prepare("test")
    environment.prepare()
    assert pips == []


def test_the_tests_packages_are_added_to_an_environment_without_them(environment, pips):
    environment.prepare()
    kept = environment.VENV / "kept"
    kept.touch()
    environment.prepare("test")
    assert any(each.startswith("pytest") for each in pips[2])
    assert kept.exists()


@pytest.mark.parametrize("changed", ["pyproject.toml", ".ci/constraints.txt"])
def test_a_change_of_what_is_asked_for_makes_it_anew(environment, pips, changed):
    environment.prepare()
    pips.clear()
    with (environment.ROOT / changed).open("a") as file:
        file.write("\n# changed\n")
    monkey_made = environment.VENV
    monkey_made.rename(monkey_made.with_name("old"))
    environment.prepare()
    assert len(pips) == 2


def test_an_interrupted_start_is_made_again(environment, pips, monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(environment, "install", interrupted)
        with pytest.raises(KeyboardInterrupt):
            environment.prepare()
    assert environment.stamped() == {}
    monkeypatch.setattr(
        environment.venv.EnvBuilder, "create", lambda *_: pips.append("made anew")
    )
    environment.prepare()
    assert pips[0] == "made anew"


def test_a_damaged_stamp_counts_as_none(environment, pips):
    environment.prepare()
    environment.STAMP.write_text("{", "utf-8")
    assert environment.stamped() == {}


def test_without_network_the_reader_is_told_what_to_do(environment, pips, monkeypatch):
    monkeypatch.setattr(
        environment.subprocess, "run", lambda *_, **__: SimpleNamespace(returncode=1)
    )
    with pytest.raises(SystemExit, match="check the connection"):
        environment.enter()
    assert environment.stamped() == {}


def test_without_any_pip_the_reader_is_told_what_to_install(environment, monkeypatch):
    monkeypatch.setattr(environment, "has_module", lambda _: False)
    with pytest.raises(SystemExit, match="apt install python3-venv"):
        environment.enter()


def test_a_pip_outside_serves_where_none_can_be_put_inside(
    environment, pips, monkeypatch
):
    monkeypatch.setattr(environment, "has_module", lambda name: name == "pip")
    environment.prepare()
    assert pips[0][:3] == [
        "-m", "pip", "--python",
    ]  # fmt: skip


def test_who_looks_after_the_packages_alone_is_left_alone(
    environment, pips, monkeypatch
):
    monkeypatch.setenv("USE_THIS_PYTHON", "yes")
    environment.enter("test")
    assert pips == []


def test_packages_are_added_to_an_environment_that_is_activated(
    environment, pips, monkeypatch
):
    gone_on = []
    monkeypatch.setattr(environment.os, "execv", lambda *given: gone_on.append(given))
    environment.prepare()
    monkeypatch.setattr(environment.sys, "prefix", str(environment.VENV))
    pips.clear()
    environment.enter()
    assert pips == gone_on == []
    environment.enter("test")
    assert any(each.startswith("pytest") for each in pips[0])
    assert len(gone_on) == 1
    environment.enter("test")
    assert len(gone_on) == 1


def test_an_environment_that_somebody_made_is_taken_as_it_is(
    environment, pips, monkeypatch
):
    monkeypatch.setattr(environment.sys, "prefix", str(environment.VENV))
    environment.enter("test")
    assert pips == []


def test_an_old_python_is_told_what_is_needed():
    code = (
        "import sys, runpy\n"
        "sys.version_info = (3, 10, 1)\n"
        "runpy.run_path('.ci/environment.py')"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 1
    assert "needs Python 3.11 or newer and this is Python 3.10" in done.stderr
    assert "Traceback" not in done.stderr


def test_every_package_asked_for_is_pinned_and_to_nobodys_machine():
    lines = (ROOT / ".ci" / "constraints.txt").read_text("utf-8").splitlines()
    pinned = {
        found.group(1).lower().replace("_", "-")
        for line in lines
        if not line.startswith("#") and (found := PIN.fullmatch(line))
    }
    assert len(pinned) == sum(not line.startswith("#") for line in lines)
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    extras = project["project"]["optional-dependencies"]["test"]
    asked = [
        re.match(r"[\w.-]+", each).group().lower().replace("_", "-")
        for each in (
            *project["project"]["dependencies"],
            *extras,
            *project["build-system"]["requires"],
        )
    ]
    assert set(asked) <= pinned
