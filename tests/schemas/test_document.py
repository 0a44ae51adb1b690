"""Documents as JSON, remembered while what they are of lives."""

from __future__ import annotations

import gc
from dataclasses import dataclass

import pytest

from api.schemas.document import Remembered


@dataclass(frozen=True, slots=True, weakref_slot=True)
class Ring:
    size: str


@pytest.fixture
def written():
    return []


@pytest.fixture
def write(written):
    def write(ring):
        written.append(ring.size)
        return ring.size.encode()

    return write


def test_the_same_object_is_written_once(write, written):
    remembered, ring = Remembered(), Ring("10")
    texts = {remembered.encoded(ring, write) for _ in range(3)}
    assert (texts, written) == ({b"10"}, ["10"])


def test_an_equal_object_is_written_for_itself(write, written):
    remembered, ring, other = Remembered(), Ring("10"), Ring("10")
    remembered.encoded(ring, write)
    remembered.encoded(other, write)
    assert written == ["10", "10"]


def test_an_object_in_the_place_of_one_that_is_gone_is_not_taken_for_it(write):
    remembered = Remembered()
    for number in range(1000):  # most of them lie where the one before lay
        ring = Ring(str(number))
        assert remembered.encoded(ring, write) == str(number).encode()
        del ring


def test_nothing_is_remembered_of_what_is_gone(write):
    remembered, ring = Remembered(), Ring("10")
    remembered.encoded(ring, write)
    assert len(remembered) == 1
    del ring
    gc.collect()
    assert len(remembered) == 0
