"""The quote desk's form as a browser sends it."""

from __future__ import annotations

import re

COIN = "at_50s_1959_1973"
NEW, ALL = "/bench/quotes/new", "/bench/quotes"
RING = {
    "_coin-0": COIN,
    "lines-0-size-system": "us",
    "lines-0-size-size": "10",
    "lines-0-quantity": "1",
    "_open": "0",
}
SET = RING | {
    "_coin-1": COIN,
    "lines-1-size-system": "uk",
    "lines-1-size-size": "M 1/2",
    "lines-1-quantity": "1",
}
_PROMISE = re.compile('name="_do" value="(promise-[^"]+)"')


def promise_in(page):
    """What the button sends that promises the price on a page."""
    return _PROMISE.search(page).group(1)


def promised(desk, values=RING):
    """The answer to working a form out and promising what it shows."""
    page = desk.post(NEW, values).text
    return desk.post(ALL, values | {"_do": promise_in(page)}, drawn=NEW)
