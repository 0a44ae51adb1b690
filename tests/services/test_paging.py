"""A page of a list, cut out of one entry more than it takes."""

from __future__ import annotations

import pytest

from api.services.paging import MOST_ON_A_PAGE, check_limit, cut
from pricing.errors import InvalidInput


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


@pytest.mark.parametrize("limit", [1, MOST_ON_A_PAGE])
def test_as_many_can_be_asked_for_as_a_page_takes(limit):
    check_limit(limit)


@pytest.mark.parametrize(("limit", "most"), [(0, 100), (-1, 100), (101, 100), (8, 7)])
def test_other_numbers_are_refused_with_what_is_allowed(limit, most):
    with pytest.raises(InvalidInput, match=f"limit {limit} .* 1 to {most}$") as caught:
        check_limit(limit, most=most)
    assert caught.value.path == ("limit",)
