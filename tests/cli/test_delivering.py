from __future__ import annotations

import logging
from threading import Event
from time import monotonic
from types import SimpleNamespace

import pytest

from api.cli.delivering import PATIENCE_S, delivering
from api.ports import StorageUnavailable


class Delivery:
    """Counts what it is asked, and says when it was asked often enough."""

    def __init__(self, *outcomes, enough=3):
        self.outcomes, self.enough = [*outcomes], enough
        self.runs, self.released = 0, 0
        self.done = Event()

    def run(self, stop):
        self.runs += 1
        if self.runs >= self.enough:
            self.done.set()
        outcome = self.outcomes.pop(0) if self.outcomes else False
        if isinstance(outcome, Exception):
            raise outcome
        if callable(outcome):
            outcome(stop)
        return SimpleNamespace(elsewhere=outcome is True)

    def release(self):
        self.released += 1


def delivered(delivery):
    with delivering(delivery, every_s=0.001):
        assert delivery.done.wait(5)
    return delivery


def test_it_is_delivered_again_and_again_and_left_to_others_at_the_end():
    delivery = delivered(Delivery())
    assert delivery.runs >= 3
    assert delivery.released == 1


def test_what_another_process_does_is_left_to_it():
    delivery = Delivery(*[True] * 1000)
    assert delivered(delivery).released == 0


@pytest.mark.parametrize("error", [StorageUnavailable("busy"), LookupError("odd")])
def test_trouble_is_told_and_passes(error, caplog):
    with caplog.at_level(logging.WARNING):
        assert delivered(Delivery(error)).runs >= 3
    assert len(caplog.records) == 1
    assert "messages of hooks" in caplog.text


def test_a_try_that_hangs_does_not_keep_the_server_from_ending():
    let_go = Event()
    delivery = Delivery(lambda _: let_go.wait(20), enough=1)
    begun = monotonic()
    with delivering(delivery):
        assert delivery.done.wait(5)
    assert monotonic() - begun < PATIENCE_S + 1
    let_go.set()


def test_a_release_that_fails_is_no_trouble():
    delivery = Delivery()

    def fail():
        raise StorageUnavailable("busy")

    delivery.release = fail
    delivered(delivery)
