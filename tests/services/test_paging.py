"""A page of a list, cut out of one entry more than it takes."""

from __future__ import annotations

import pytest

from api.services.paging import cut


@pytest.mark.parametrize(
    ("found", "begun", "back", "expected"),
    [
        ((), False, False, ((), False, False)),
        ((1, 2), False, False, ((1, 2), False, False)),
        ((1, 2, 3), False, False, ((1, 2), True, False)),
        ((1, 2, 3), True, False, ((1, 2), True, True)),
        ((1, 2, 3), True, True, ((2, 3), True, True)),
        ((1, 2), True, True, ((1, 2), True, False)),
        ((1, 2, 3), False, True, ((2, 3), False, True)),
    ],
)
def test_the_one_too_many_only_tells_that_there_are_more(found, begun, back, expected):
    assert cut(found, limit=2, begun=begun, back=back) == expected
