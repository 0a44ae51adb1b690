"""How long others get in between."""

from __future__ import annotations

import pytest

from api.services.repricings.pace import MANY_WRITERS, ONE_WRITER, Pace


@pytest.mark.parametrize(
    ("pause_s", "bands", "slept"),
    [(0.5, 11, [0.5]), (0.5, 10, []), (0.0, 10**9, [])],
    ids=["many", "at once", "no pause"],
)
def test_it_rests_only_amid_more_than_go_at_once(pause_s, bands, slept):
    told = []
    Pace(at_once=10, pause_s=pause_s, sleep=told.append).rest(bands)
    assert told == slept


def test_only_where_there_is_one_writer_are_there_rests():
    assert ONE_WRITER.pause_s > MANY_WRITERS.pause_s == 0
    assert ONE_WRITER.size < MANY_WRITERS.size
