from __future__ import annotations

from types import SimpleNamespace

import pytest


@pytest.fixture(autouse=True)
def described(monkeypatch):
    stand_in = SimpleNamespace(
        openapi_yaml=lambda: "openapi: 3.1.0\n",
        openapi_document=lambda: {"openapi": "3.1.0"},
    )
    monkeypatch.setattr("api.cli.openapi.import_module", lambda _: stand_in)


def test_the_description_is_printed(run):
    assert run("openapi").stdout == "openapi: 3.1.0\n"
    assert run("openapi", "--json").stdout == '{\n  "openapi": "3.1.0"\n}\n'


def test_or_written_to_a_file(run, tmp_path):
    file = tmp_path / "openapi.yaml"
    done = run("openapi", "--output", file)
    assert done.stdout == ""
    assert file.read_text("utf-8") == "openapi: 3.1.0\n"
