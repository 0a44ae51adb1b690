"""Write constraints.txt anew: `python3 .ci/pin.py`.

Everything pyproject.toml asks for, tests included, is installed into a new
environment and what came is written down. `--keep` holds the versions that are
already written and adds or drops only what pyproject.toml changed.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import environment

HEADER = """\
# The versions that were tested together: to run, to build and to test.
# Both start scripts and the checks install with them.
# Written by `python3 .ci/pin.py`; `--keep` changes no version that still serves.
"""
ELSEWHERE = ('colorama==0.4.6 ; sys_platform == "win32"',)
NOT_PINNED = ("pip==", "wheel==", "fineweight", "-e ")


def pinned_lines(pip: list[str]) -> list[str]:
    """One line a package of the environment that `pip` looks after, sorted."""
    freeze = subprocess.run(
        [*pip, "freeze", "--all"], capture_output=True, text=True, check=True
    )
    lines = [*freeze.stdout.splitlines(), *ELSEWHERE]
    local = [line for line in lines if " @ " in line]
    if local:
        sys.exit(f"these came from a place others cannot reach: {local}")
    return sorted(
        (line for line in lines if not line.startswith(NOT_PINNED)), key=str.lower
    )


def main() -> None:
    """Resolve in a folder of its own and write the file in one go."""
    keep = ["--constraint", str(environment.CONSTRAINTS)]
    with tempfile.TemporaryDirectory() as folder:
        environment.make(Path(folder))
        pip = environment.pip_for(Path(folder))
        wanted = environment.requirements("test")
        environment.install(pip, *(keep if "--keep" in sys.argv else ()), *wanted)
        text = HEADER + "\n".join(pinned_lines(pip)) + "\n"
    environment.CONSTRAINTS.write_text(text, "utf-8")
    print(f"{environment.CONSTRAINTS} written")


if __name__ == "__main__":
    main()
