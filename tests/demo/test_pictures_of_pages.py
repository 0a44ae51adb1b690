"""The pictures in README.md, and the script that takes them."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
PICTURES = ROOT / "demo/pictures"
WEBP = re.compile(rb"RIFF....WEBP", re.DOTALL)


@pytest.fixture
def pictures(monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    return importlib.import_module("pictures_of_pages")


def test_the_readme_shows_each_picture_that_is_kept_and_says_what_it_shows():
    shown = dict(
        re.findall(r'<img src="([^"]+)"[^>]* alt="([^"]+)"', README.read_text("utf-8"))
    )
    kept = {f"demo/pictures/{file.name}" for file in PICTURES.iterdir()}
    assert shown.keys() == kept
    assert len(kept) == 2


@pytest.mark.slow
def test_pictures_are_taken_anew(pictures, tmp_path, capsys):
    told = list(pictures.take(tmp_path))
    taken = {file.name: file.read_bytes() for file in tmp_path.iterdir()}
    assert taken.keys() == {file.name for file in PICTURES.iterdir()}
    assert len(told) == 2
    for body in taken.values():
        assert WEBP.match(body)
        assert 20_000 < len(body) < pictures.MOST_BYTES
    capsys.readouterr()
