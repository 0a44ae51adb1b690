"""Many connections at once against one server, a slice of time a target in turn.

The load comes from another process: `wrk` where it is installed, as it takes next
to nothing of the processor, else `client.py`. What the client took is told, so
that a reader sees whether it stood in the server's way.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from http import HTTPStatus
from http.client import HTTPConnection
from pathlib import Path
from statistics import median

from tests.architecture.source import ROOT
from tests.benchmarks.contest import middle
from tests.benchmarks.servers import HOST, Running

CONNECTIONS = 16
SLICE_S = 1
ROUNDS = 10
WRK = shutil.which("wrk")
SCRIPT = Path(__file__).with_name("wrk.lua")


@dataclass(frozen=True)
class Slice:
    """What one slice of time showed.

    Attributes:
        rate: answers a second [1/s].
        p50_ms, p99_ms: time an answer took [ms].
        server_ms: processor time the server used for an answer [ms].
        client_share, server_share: part of one core they used.
    """

    rate: float
    p50_ms: float
    p99_ms: float
    server_ms: float
    client_share: float
    server_share: float


@dataclass
class Target:
    """Requests sent over and over.

    Attributes:
        bodies: what is sent, one after the other and from the first again; for a GET
            the address, and after a space the entity tag that is known of it.
        sent: how many have been, so that a slice goes on where the last one ended.
    """

    name: str
    path: str
    bodies: Sequence[bytes]
    headers: dict[str, str]
    method: str = "POST"
    slices: list[Slice] = field(default_factory=list)
    sent: int = 0

    def median(self, figure: str) -> float:
        """The median of a figure over the slices."""
        return median(getattr(each, figure) for each in self.slices)

    def against(self, first: Target, figure: str) -> list[float]:
        """The ratio of a figure to another target's, round by round."""
        both = zip(self.slices, first.slices, strict=True)
        return [getattr(ours, figure) / getattr(its, figure) for ours, its in both]


def compared(target: Target, first: Target, figure: str) -> str:
    """The median ratio, with the bounds of the middle 80 % of the rounds."""
    ratios = target.against(first, figure)
    low, high = middle(ratios)
    return f"{median(ratios):.2f} ({low:.2f} to {high:.2f})"


def client_name() -> str:
    return "wrk, 1 thread" if WRK else "client.py, 1 process"


def answer(port: int, target: Target, body: bytes) -> bytes:
    """One answer, to see that there is one."""
    return answered(port, target, body)[1]


def answered(port: int, target: Target, body: bytes) -> tuple[str, bytes]:
    """The entity tag of one answer, and its body."""
    path, sent, headers = target.path, body, target.headers
    if target.method == "GET":
        path, _, tag = body.decode().partition(" ")
        sent, headers = None, headers | ({"If-None-Match": tag} if tag else {})
    connection = HTTPConnection(HOST, port, timeout=30)
    connection.request(target.method, path, sent, headers)
    response = connection.getresponse()
    tag, text = response.headers.get("ETag", ""), response.read()
    connection.close()
    if response.status not in {HTTPStatus.OK, HTTPStatus.NOT_MODIFIED}:
        sys.exit(f"{target.name} answers {response.status}: {text[:300]!r}")
    return tag, text


def measure(server: Running, targets: Sequence[Target], rounds: int = ROUNDS) -> None:
    """Load the targets in turn, after a round that does not count."""
    with tempfile.TemporaryDirectory() as folder:
        files = [_file(Path(folder), target) for target in targets]
        for turn in range(rounds + 1):
            for target, file in zip(targets, files, strict=True):
                seen = _slice(server, target, file)
                if turn:
                    target.slices.append(seen)


def _file(folder: Path, target: Target) -> Path:
    handle, name = tempfile.mkstemp(dir=folder)
    with os.fdopen(handle, "wb") as file:
        file.writelines(body + b"\n" for body in target.bodies)
    return Path(name)


def _slice(server: Running, target: Target, file: Path) -> Slice:
    had_server, had_client = server.cpu_s(), _children_s()
    done = subprocess.run(
        _command(server.port, target, file),
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    client_s, server_s = _children_s() - had_client, server.cpu_s() - had_server
    if done.returncode:
        raise RuntimeError(done.stderr or done.stdout)
    told = json.loads(done.stdout.splitlines()[-1])
    if told["bad"] or not told["answers"]:
        raise RuntimeError(f"{target.name}: {told}")
    target.sent += told["answers"]
    return Slice(
        rate=told["answers"] / told["seconds"],
        p50_ms=told["p50_ms"],
        p99_ms=told["p99_ms"],
        server_ms=server_s / told["answers"] * 1000,
        client_share=client_s / told["seconds"],
        server_share=server_s / told["seconds"],
    )


def _command(port: int, target: Target, file: Path) -> list[str]:
    address = f"http://{HOST}:{port}{target.path}"
    start = str(target.sent % len(target.bodies))
    if WRK:
        headers = [
            word
            for name, value in target.headers.items()
            for word in ("-H", f"{name}: {value}")
        ]
        told = ["-t1", f"-c{CONNECTIONS}", f"-d{SLICE_S}s", "-s", str(SCRIPT)]
        return [WRK, *told, *headers, address, "--", str(file), start, target.method]
    told = [address, json.dumps(target.headers), str(file), start]
    limits = [str(CONNECTIONS), str(SLICE_S), target.method]
    return [sys.executable, "-m", "tests.benchmarks.client", *told, *limits]


def _children_s() -> float:
    """Processor time of clients that have ended [s]; 0 where nobody counts it."""
    times = os.times()
    return times.children_user + times.children_system
