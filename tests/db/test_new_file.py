"""Files that appear whole or not at all."""

from __future__ import annotations

import os
import stat
from errno import EPERM
from pathlib import Path

import pytest

from api.db.new_file import new_file
from api.ports import Conflict
from api.ports.backups import BackupRefused


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_file_has_its_name_only_when_it_is_written(tmp_path):
    target = tmp_path / "a.db"
    with new_file(target) as part:
        part.write_bytes(b"half")
        assert not target.exists()
        part.write_bytes(b"whole")
    assert target.read_bytes() == b"whole"
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    assert names(tmp_path) == ["a.db"]


def test_it_is_on_the_disk_before_it_has_its_name(tmp_path, monkeypatch):
    done = []
    real = os.fsync

    def fsync(descriptor):
        there = Path(f"/proc/self/fd/{descriptor}").readlink()
        done.append((there == tmp_path, (tmp_path / "a.db").exists()))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", fsync)
    with new_file(tmp_path / "a.db"):
        pass
    assert done == [(False, False), (True, True)]  # the file, then its folder


def test_nothing_is_left_of_one_that_failed(tmp_path):
    def spoil(part):
        part.with_name(part.name + "-wal").touch()
        raise RuntimeError

    with pytest.raises(RuntimeError), new_file(tmp_path / "a.db") as part:
        spoil(part)
    assert names(tmp_path) == []


def test_a_file_that_is_there_stays(tmp_path):
    target = tmp_path / "a.db"
    target.write_bytes(b"theirs")
    with pytest.raises(Conflict, match=r"a\.db' already"), new_file(target):
        raise AssertionError
    assert target.read_bytes() == b"theirs"


def test_so_does_one_that_came_to_be_meanwhile(tmp_path):
    target = tmp_path / "a.db"
    with pytest.raises(Conflict), new_file(target):
        target.write_bytes(b"theirs")
    assert target.read_bytes() == b"theirs"
    assert names(tmp_path) == ["a.db"]


def test_a_folder_or_a_place_that_is_not_there_is_refused(tmp_path):
    for folder in (tmp_path, Path("/")):
        with pytest.raises(BackupRefused, match="is a folder"), new_file(folder):
            raise AssertionError
    missing = tmp_path / "none" / "a.db"
    with pytest.raises(BackupRefused, match="no folder"), new_file(missing):
        raise AssertionError


def test_a_name_that_the_disk_does_not_take_is_refused(tmp_path):
    target = tmp_path / ("x" * 250)  # the name it is written under is longer
    with pytest.raises(BackupRefused, match="too long"), new_file(target):
        raise AssertionError


def test_so_is_one_that_is_too_long_altogether(tmp_path):
    with (
        pytest.raises(BackupRefused, match="too long"),
        new_file(tmp_path / ("x" * 999)),
    ):
        raise AssertionError


def test_a_disk_without_links_will_do(tmp_path, monkeypatch):
    def link(*_):
        raise OSError(EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", link)
    with new_file(tmp_path / "a.db") as part:
        part.write_bytes(b"whole")
    assert names(tmp_path) == ["a.db"]


def test_a_system_that_syncs_no_folders_will_do(tmp_path, monkeypatch):
    real = os.open

    def opening(path, *how):
        if Path(path) == tmp_path:
            raise PermissionError
        return real(path, *how)

    monkeypatch.setattr(os, "open", opening)
    with new_file(tmp_path / "a.db"):
        pass
    assert names(tmp_path) == ["a.db"]
