"""The ways through long lists."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from api.web.paging import place, ways


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ({}, (None, False)),
        ({"older": "12"}, (12, False)),
        ({"newer": "12"}, (12, True)),
        ({"older": "1" * 19}, (None, False)),
        ({"newer": "-1", "older": "3"}, (3, False)),
        ({"older": "٣"}, (None, False)),
    ],
)
def test_a_place_is_read_or_the_list_begins(query, found):
    assert place(query) == found


def test_ways_keep_what_was_chosen_and_lead_only_where_there_is_more():
    middle = SimpleNamespace(newer=True, older=True)
    found = ways("/bench/x", middle, [9, 8, 7], chosen={"text": "a&b"})
    assert found == {
        "newer": "/bench/x?text=a%26b&newer=9",
        "older": "/bench/x?text=a%26b&older=7",
    }
    last = SimpleNamespace(newer=True, older=False)
    assert ways("/bench/x", last, [9], chosen={})["older"] == ""
    assert set(ways("/bench/x", middle, [], chosen={}).values()) == {""}
