"""Starting the servers to measure on, and what one of them uses."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec

import psutil

from tests.architecture.source import ROOT
from tests.benchmarks.served import BARE_BYTES, DATABASE

HOST = "127.0.0.1"
START_S = 30
APPLICATION = "tests.benchmarks.served:application"


@dataclass(frozen=True)
class Kind:
    """A server with its settings; `module` is what has to be installed for it."""

    name: str
    module: str
    arguments: tuple[str, ...]

    @property
    def installed(self) -> bool:
        return find_spec(self.module) is not None

    def command(self, port: int) -> list[str]:
        told = [argument.format(port=port) for argument in self.arguments]
        return [sys.executable, "-m", *told]


def waitress(threads: int) -> Kind:
    words = ("tests.benchmarks.served", "{port}", str(threads))
    return Kind(f"waitress, {threads} threads", "waitress", words)


def gunicorn(workers: int, threads: int) -> Kind:
    return Kind(
        f"gunicorn, {workers} x {threads} threads",
        "gunicorn",
        ("gunicorn", "--bind", HOST + ":{port}", "--workers", str(workers),
         "--threads", str(threads), "--log-level", "error",
         "--no-control-socket", f"{APPLICATION}()"),
    )  # fmt: skip


def granian(workers: int, threads: int) -> Kind:
    return Kind(
        f"granian, {workers} x {threads} threads",
        "granian",
        ("granian", "--interface", "wsgi", "--host", HOST, "--port", "{port}",
         "--workers", str(workers), "--blocking-threads", str(threads),
         "--log-level", "error", "--factory", APPLICATION),
    )  # fmt: skip


@dataclass(frozen=True)
class Running:
    """A server at work: where, and its processes."""

    port: int
    process: psutil.Process

    def family(self) -> list[psutil.Process]:
        return [self.process, *self.process.children(recursive=True)]

    def cpu_s(self) -> float:
        """Processor time used so far [s]."""
        times = [each.cpu_times() for each in self.family()]
        return sum(time.user + time.system for time in times)

    def memory_mb(self) -> float:
        """What all its processes hold, shared pages counted once where known [MB]."""
        held = [each.memory_full_info() for each in self.family()]
        return sum(getattr(each, "pss", each.rss) for each in held) / 1e6


@contextmanager
def running(kind: Kind, database: str, bare_bytes: int) -> Iterator[Running]:
    """The application on a server of this kind, until the end of the block."""
    port = _free_port()
    told = {DATABASE: database, BARE_BYTES: str(bare_bytes), "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(kind.command(port), cwd=ROOT, env=os.environ | told) as begun:
        try:
            _wait(begun, port)
            yield Running(port, psutil.Process(begun.pid))
        finally:
            begun.terminate()


def _free_port() -> int:
    with socket.create_server((HOST, 0)) as asked:
        return asked.getsockname()[1]


def _wait(begun: subprocess.Popen[bytes], port: int) -> None:
    end = time.monotonic() + START_S
    while time.monotonic() < end:
        if begun.poll() is not None:
            break
        try:
            socket.create_connection((HOST, port), timeout=1).close()
        except OSError:
            time.sleep(0.05)
        else:
            return
    raise RuntimeError(f"the server did not start: {begun.args}")
