"""Where checks decide, a skipped test fails the run."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.architecture.source import ROOT

ONE_TEST = "import pytest\ndef test_a():\n    pytest.skip('no scale here')\n"
WHOLE_FILE = "import pytest\npytest.skip('no scale here', allow_module_level=True)\n"


def outcome(folder, text, **environ):
    (folder / "test_planted.py").write_text(text, "utf-8")
    (folder / "test_sound.py").write_text("def test_b(): pass\n", "utf-8")
    settings = folder / "none.ini"
    settings.write_text("[pytest]\n", "utf-8")
    plugin = ("-p", "tests.plugins.no_silent_skips")
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-c",
        str(settings),
        *plugin,
        str(folder),
    ]
    kept = {name: value for name, value in os.environ.items() if name != "CI"}
    return subprocess.run(
        command, cwd=ROOT, env=kept | environ,
        capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.mark.parametrize("text", [ONE_TEST, WHOLE_FILE], ids=["test", "file"])
def test_a_skip_fails_and_is_named_where_checks_decide(tmp_path, text):
    done = outcome(tmp_path, text, CI="true")
    assert done.returncode == 1
    assert "no scale here" in done.stdout


def test_a_skip_passes_on_a_makers_own_machine(tmp_path):
    assert outcome(tmp_path, ONE_TEST).returncode == 0


def test_a_run_without_skips_passes(tmp_path):
    assert outcome(tmp_path, "", CI="true").returncode == 0
