"""Who acts is known inside, and only there."""

from __future__ import annotations

import pytest

from api.services.actor import Actor, acting, actor

MAKER = Actor(by="maker", via="command line")


def test_where_nobody_is_named_the_program_acts():
    assert (actor().by, actor().via, actor().request) == ("", "program", "")


def test_who_is_named_acts_within_and_the_one_before_again_after():
    with acting(MAKER):
        assert actor() is MAKER
        with acting(Actor(by="4bf92f3577b34da6", via="api", request="r1")):
            assert actor().request == "r1"
        assert actor() is MAKER
    assert actor().via == "program"


def test_a_failure_within_leaves_nobody_acting():
    with pytest.raises(LookupError), acting(MAKER):
        raise LookupError
    assert actor().by == ""
