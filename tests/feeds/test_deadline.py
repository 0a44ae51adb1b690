from __future__ import annotations

import socket
import time

import pytest

from api.outbound.deadline import Deadline, Limits, ended_by
from api.ports.feeds import FeedFailed


def test_the_limits_are_those_that_were_agreed():
    limits = Limits()
    assert (limits.connect_s, limits.read_s, limits.total_s) == (5, 10, 20)
    assert limits.body_bytes == 1024 * 1024


def test_waits_end_with_the_deadline():
    now = [100.0]
    deadline = Deadline(20, clock=lambda: now[0])
    assert deadline.at_most(5) == 5
    now[0] = 117
    assert deadline.at_most(5) == 3
    now[0] = 120
    with pytest.raises(FeedFailed, match="within 20 seconds") as failed:
        deadline.at_most(5)
    assert failed.value.reason == "timeout"


def test_a_silent_connection_is_shut_at_the_deadline():
    ours, theirs = socket.socketpair()
    with ours, theirs, ended_by(Deadline(0.02), ours):
        ours.settimeout(5)
        began = time.monotonic()
        assert ours.recv(1) == b""
        assert time.monotonic() - began < 2


def test_a_connection_that_was_used_in_time_stays_open():
    ours, theirs = socket.socketpair()
    with ours, theirs:
        with ended_by(Deadline(5), ours):
            theirs.sendall(b"x")
            assert ours.recv(1) == b"x"
        theirs.sendall(b"y")
        assert ours.recv(1) == b"y"


def test_a_connection_that_has_gone_is_left_alone():
    server = socket.create_server(("127.0.0.1", 0))
    ours = socket.create_connection(server.getsockname())
    with server, ours:
        ours.shutdown(socket.SHUT_RDWR)
        server.accept()[0].close()
        with ended_by(Deadline(-1), ours):
            time.sleep(0.01)
