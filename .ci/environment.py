"""The project's own environment: the folder `.venv`, made on the first start.

Both start scripts come through `enter`. It makes the environment, installs the
packages that pyproject.toml asks for at the versions in constraints.txt, and
carries on inside it. A stamp tells later starts that nothing is left to do, so
they need no network. The stamp is taken away before anything is changed and
written last: an interrupted start is simply made again from the beginning.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import subprocess
import sys
import venv
from pathlib import Path

if sys.version_info < (3, 11):  # noqa: UP036  (any Python may start the scripts)
    sys.exit(
        "Fineweight needs Python 3.11 or newer and this is Python "
        f"{sys.version_info[0]}.{sys.version_info[1]}. Install a newer one from your "
        "system's packages or from python.org, and start this script with it."
    )

import tomllib

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / "fineweight.json"
PROJECT = ROOT / "pyproject.toml"
CONSTRAINTS = ROOT / ".ci" / "constraints.txt"
SWITCH = "USE_THIS_PYTHON"


class NotReady(Exception):
    """The environment could not be made; the message says what to do."""


def requirements(extra: str = "") -> list[str]:
    """What pyproject.toml asks for: to run, to build itself, and for one extra."""
    document = tomllib.loads(PROJECT.read_text("utf-8"))
    project = document["project"]
    wanted = [*document["build-system"]["requires"], *project["dependencies"]]
    return wanted + (project["optional-dependencies"][extra] if extra else [])


def python_of(folder: Path) -> Path:
    """The interpreter inside an environment's folder."""
    windows = folder / "Scripts" / "python.exe"
    return windows if os.name == "nt" else folder / "bin" / "python"


def fingerprint() -> dict[str, str]:
    """What an environment must have been made from to be of use as it stands."""
    packages = PROJECT.read_bytes() + b"\0" + CONSTRAINTS.read_bytes()
    return {
        "python": "{}.{}".format(*sys.version_info[:2]),
        "folder": str(VENV),  # a moved environment no longer finds itself
        "packages": hashlib.sha256(packages).hexdigest(),
    }


def stamped() -> dict[str, str]:
    """What the environment that is there was made from; empty where unfinished."""
    try:
        found: dict[str, str] = json.loads(STAMP.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return found


def lacks(extra: str) -> bool:
    """Whether our environment is there, and without the packages of `extra`."""
    found = stamped()
    return bool(found) and extra not in ("", found.get("extra"))


def has_module(name: str) -> bool:
    """Whether the Python that runs could import it."""
    return importlib.util.find_spec(name) is not None


def pip_for(folder: Path) -> list[str]:
    """The pip command for an environment: its own, or the one outside."""
    inside = str(python_of(folder))
    if has_module("ensurepip"):
        return [inside, "-m", "pip"]
    return [sys.executable, "-m", "pip", "--python", inside]


def make(folder: Path) -> None:
    """A fresh, empty environment in `folder`.

    Some systems leave out the part of Python that puts pip into an environment;
    the pip that is there then installs from outside.

    Raises:
        NotReady: no way to a pip was found.
    """
    own_pip = has_module("ensurepip")
    if not own_pip and not has_module("pip"):
        raise NotReady(
            "this Python has neither pip nor ensurepip, so no packages can be "
            "installed. On Debian or Ubuntu: apt install python3-venv python3-pip"
        )
    builder = venv.EnvBuilder(clear=True, with_pip=own_pip, symlinks=os.name != "nt")
    builder.create(folder)


def install(pip: list[str], *arguments: str) -> None:
    """One quiet pip run in the project's folder.

    Raises:
        NotReady: pip failed; what it had to say is already on the screen.
    """
    quiet = ["-qq", "--no-input", "--disable-pip-version-check"]
    command = [*pip, "install", *quiet, *arguments]
    if subprocess.run(command, cwd=ROOT, check=False).returncode:
        raise NotReady(
            "pip could not install the packages (its own words are above). The first "
            "start needs the network: check the connection, set HTTPS_PROXY if you are "
            "behind a proxy, and start again. Nothing else was changed."
        )


def prepare(extra: str = "") -> Path:
    """The interpreter of the environment, which is made or completed if need be.

    Args:
        extra: the optional group of pyproject.toml that is needed as well.

    Raises:
        NotReady: it could not be made.
    """
    wanted = fingerprint()
    found = stamped()
    had = found.pop("extra", "")
    if found == wanted and extra in ("", had):
        return python_of(VENV)
    print("Getting the packages into .venv: once, a minute or two ...", flush=True)
    STAMP.unlink(missing_ok=True)
    if found != wanted:
        make(VENV)
    pip = pip_for(VENV)
    pinned = ["--constraint", str(CONSTRAINTS.relative_to(ROOT))]
    install(pip, *pinned, *requirements(extra))
    install(pip, "--no-deps", "--no-build-isolation", "--editable", ".")
    STAMP.write_text(json.dumps({**wanted, "extra": extra}), "utf-8")
    return python_of(VENV)


def enter(extra: str = "") -> None:
    """Carry on inside the project's environment; returns once there.

    Where it is activated, packages that it lacks are added to it.
    With USE_THIS_PYTHON=yes the Python that runs is taken as it is:
    for those who look after the packages themselves.
    """
    inside = Path(sys.prefix).resolve() == VENV.resolve()
    if os.environ.get(SWITCH) == "yes" or (inside and not lacks(extra)):
        return
    try:
        python = prepare(extra)
    except NotReady as problem:
        sys.exit(f"Fineweight cannot start: {problem}")
    except OSError as problem:
        sys.exit(
            f"Fineweight cannot start: the folder {VENV} cannot be made: {problem}"
        )
    except KeyboardInterrupt:
        sys.exit("Stopped; the next start begins again where it has to.")
    os.environ.setdefault("PYTHONUTF8", "1")  # × and ½ on every terminal
    command = [str(python), *sys.argv]
    if os.name == "nt":  # exec there would let go of the terminal
        sys.exit(subprocess.run(command, check=False).returncode)
    os.execv(command[0], command)  # noqa: S606  (no shell on purpose)
