from __future__ import annotations

import importlib.util

import pytest

from tests.architecture.source import ROOT


@pytest.fixture
def environment(monkeypatch, tmp_path):
    """The start scripts' module, looking at a project in a folder with a blank."""
    spec = importlib.util.spec_from_file_location(
        "environment_under_test", ROOT / ".ci" / "environment.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.delenv(module.SWITCH, raising=False)  # tests/run sets it
    root = tmp_path / "my rings"
    (root / ".ci").mkdir(parents=True)
    monkeypatch.setattr(module, "ROOT", root)
    monkeypatch.setattr(module, "VENV", root / ".venv")
    monkeypatch.setattr(module, "STAMP", root / ".venv" / "fineweight.json")
    monkeypatch.setattr(module, "PROJECT", root / "pyproject.toml")
    monkeypatch.setattr(module, "CONSTRAINTS", root / ".ci" / "constraints.txt")
    module.PROJECT.write_bytes((ROOT / "pyproject.toml").read_bytes())
    module.CONSTRAINTS.write_bytes((ROOT / ".ci" / "constraints.txt").read_bytes())
    return module
