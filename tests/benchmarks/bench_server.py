"""`POST /v1/estimates` against a bare Flask JSON route on the same server.

The goal is 0.30 of the bare route's requests a second.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from http import HTTPStatus
from http.client import HTTPConnection

import psutil

from tests.architecture.source import ROOT
from tests.benchmarks.contest import table
from tests.benchmarks.load import CONNECTIONS, Target, measure

WISH = {"coin": "at_50s_1959_1973", "size": {"system": "us", "size": "10"}}
GOAL = 0.30
ANSWER_BYTES = 6000  # about what an estimate answers


def main() -> None:
    # Whatever is written goes to a folder that is gone afterwards.
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "tests.benchmarks.served", folder]
        with subprocess.Popen(
            [*command, str(ANSWER_BYTES)], cwd=ROOT, stdout=subprocess.PIPE, text=True
        ) as server:
            try:
                told = json.loads(server.stdout.readline())
                compare(server.pid, told["port"], told["token"])
            finally:
                server.terminate()


def compare(pid: int, port: int, token: str) -> None:
    headers = {"Content-Type": "application/json"}
    body = json.dumps(WISH).encode()
    bare = Target("bare Flask JSON route", "/bare", body, headers)
    ours = Target(
        "POST /v1/estimates",
        "/v1/estimates",
        body,
        headers | {"Authorization": f"Bearer {token}"},
    )
    size = len(answer(port, ours))
    answer(port, bare)
    measure(port, [bare, ours])
    rows = [
        (each.name, f"{each.rate:,.0f}", f"{each.p99_ms:,.1f}",
         f"{each.rate / bare.rate:.2f}")
        for each in (bare, ours)
    ]  # fmt: skip
    table(
        f"{CONNECTIONS} connections, one server process (goal {GOAL:.2f})",
        ("", "requests/s", "p99 ms", "x first"),
        rows,
    )
    print(f"  an estimate answers {size:,} bytes, the bare route {ANSWER_BYTES:,}")
    print(f"  memory of the server process: {memory_mb(pid):.0f} MB")


def answer(port: int, target: Target) -> bytes:
    """One answer, to see that there is one."""
    connection = HTTPConnection("127.0.0.1", port, timeout=30)
    connection.request("POST", target.path, target.body, target.headers)
    answered = connection.getresponse()
    text = answered.read()
    connection.close()
    if answered.status != HTTPStatus.OK:
        sys.exit(f"{target.name} answers {answered.status}: {text[:300]!r}")
    return text


def memory_mb(pid: int) -> float:
    """What the process holds alone or shares, resident [MB]."""
    return psutil.Process(pid).memory_info().rss / 1e6
