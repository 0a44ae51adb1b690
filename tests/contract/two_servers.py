"""Two real servers on one database, and many callers at once."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from threading import Barrier, Thread
from typing import Any

import requests

from tests.architecture.source import ROOT

WAIT_S = 60
_ADDRESS = re.compile(r"Serving on (http://\S+)")
_MANY = "100000"


@contextmanager
def server(database: str, *, threads: str = "8", **settings: str) -> Iterator[str]:
    """The address of `fineweight serve`, until the end of the block."""
    told = {f"FINEWEIGHT_{name.upper()}": text for name, text in settings.items()}
    told = {"FINEWEIGHT_QUOTA_QUOTES": _MANY} | told
    words = ["serve", "--port", "0", "--threads", threads, "--database", database]
    with subprocess.Popen(
        [sys.executable, "-m", "api.cli", *words],
        cwd=ROOT,
        env=os.environ | told,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            address = _address(process)
            # A server whose log nobody reads stands still once the pipe is full.
            reader = Thread(target=deque, args=(process.stderr, 0), daemon=True)
            reader.start()
            yield address
        finally:
            process.terminate()
            process.wait(timeout=WAIT_S)


def _address(process: subprocess.Popen[str]) -> str:
    said = []
    for line in process.stderr:
        said.append(line)
        found = _ADDRESS.search(line)
        if found:
            return found[1]
    raise RuntimeError(f"the server did not start: {''.join(said)}")


@contextmanager
def two_servers(database: str, **settings: str) -> Iterator[list[str]]:
    """The addresses of two of them on one database."""
    with ExitStack() as stack:
        yield [stack.enter_context(server(database, **settings)) for _ in range(2)]


def at_once(calls: int, call: Callable[[int], Any]) -> list[Any]:
    """What ``call`` gives for each number, in threads that begin together."""
    together = Barrier(calls)

    def begin(number: int) -> Any:
        together.wait(timeout=WAIT_S)
        return call(number)

    with ThreadPoolExecutor(calls) as pool:
        return list(pool.map(begin, range(calls)))


def post(address: str, path: str, body: Any, headers: dict[str, str]) -> Any:
    """The answer to a POST."""
    return requests.post(address + path, json=body, headers=headers, timeout=WAIT_S)
