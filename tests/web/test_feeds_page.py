"""The pages of feeds: set up, tried, fetched from, switched, and their secrets."""

from __future__ import annotations

from datetime import timedelta

import pytest

from api.ports import FeedFailed
from tests.browser.quotes import Clock
from tests.web.feeding import ASSAY

FEEDS, ADD = "/bench/spot/feeds", "/bench/spot/new-feed"
PLACE = f"{FEEDS}/assay_office"
TYPED = {
    "title": "The assay <office>",
    "_key": "assay_office",
    "url": "https://prices.example/silver.json",
    "format": "json",
    "currency": "EUR",
    "price": "/silver/price",
    "time-path": "/at",
    "invert": "false",
    "hundredths": "false",
}


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def bench(desk_on, filled_copy, clock, source):
    return desk_on(filled_copy, clock=clock, outside={"fetcher": source})


@pytest.fixture
def fed(bench):
    """A bench with one feed."""
    bench.services.feeds.put("assay_office", ASSAY, expected=None)
    return bench


def press(desk, deed, place=PLACE, **more):
    version = desk.services.feeds.get("assay_office").revision
    return desk.post(place, {"_do": deed, "_version": str(version)} | more)


def test_without_feeds_one_is_offered(bench):
    page = bench.get(FEEDS).text
    assert "No feed is set up" in page
    assert f'href="{ADD}"' in page
    assert "No feed is switched on" in bench.post(FEEDS, drawn="/bench/spot").text


def test_a_feed_is_set_up_from_the_form(bench):
    answer = bench.post(ADD, TYPED)
    assert answer.headers["Location"] == f"{PLACE}?done=added"
    assert bench.services.feeds.get("assay_office").document == ASSAY
    page = bench.get(answer.headers["Location"]).text
    assert "Try it before you rely on it" in page
    assert "The assay &lt;office&gt;" in page
    assert "never asked" in page


def test_everything_about_a_feed_can_be_typed_and_is_shown_again(bench):
    rare = {
        "metal": "USD",
        "price": "",
        "bid": "/bid",
        "ask": "/ask",
        "side": "ask",
        "rows": "/rows",
        "decimal_mark": ",",
        "time-format": "date",
        "time-zone": "Europe/Vienna",
        "time-at": "16:00",
        "max_age_hours": "30,5",
        "limits-lowest": "0,5",
        "limits-highest": "2",
        "limits-jump.pct": "2,5",
        "second_source": "",
        "licence_note": "For own use.",
        "may_display": "true",
        "_closed_dates": "2026-12-24\r\n\r\n2026-12-31",
        "_headers": "Accept: application/json",
        "_secret_headers": "X-Api-Key",
    }
    answer = bench.post(ADD, TYPED | rare, headers={"Accept-Language": "de-AT"})
    assert answer.status_code == 303
    feed = bench.services.feeds.get("assay_office")
    assert feed.document["limits"] == {"lowest": "0.5", "highest": "2", "jump": "0.025"}
    assert feed.document["closed_dates"] == ["2026-12-24", "2026-12-31"]
    assert feed.document["headers"] == {"Accept": "application/json"}
    assert feed.document["secret_headers"] == ["X-Api-Key"]
    page = bench.get(f"{PLACE}/change").text
    for typed in ("30.5", "2.5", "2026-12-31", "X-Api-Key", "Accept: application/json"):
        assert typed in page
    again = dict(TYPED) | rare | {"_version": str(feed.revision)}
    bench.post(f"{PLACE}/change", again, headers={"Accept-Language": "de-AT"})
    assert bench.services.feeds.get("assay_office").document == feed.document


def test_reference_rates_need_an_address_alone(bench):
    typed = {"title": "Rates", "_key": "rates", "url": "https://bank.example/day.xml"}
    blank = dict.fromkeys(("currency", "price", "time-path", "unit"), "")
    answer = bench.post(ADD, TYPED | blank | typed | {"format": "ecb"})
    assert answer.headers["Location"] == f"{FEEDS}/rates?done=added"


@pytest.mark.parametrize(
    ("name", "typed", "field"),
    [
        ("url", "silver", "url"),
        ("_key", "", "_key"),
        ("_key", "Not a key", "_key"),
        ("currency", "euros", "currency"),
        ("price", "", ""),
        ("time-zone", "Europe/Wien", "time-zone"),
        ("max_age_hours", "old", "max_age_hours"),
        ("limits-jump.pct", "900", "limits-jump.pct"),
        ("_closed_dates", "Christmas", "_closed_dates"),
        ("_headers", "no colon", "_headers"),
        ("_headers", "X-Token: abc", "_headers"),
        ("_secret_headers", "two words", "_secret_headers"),
    ],
)
def test_what_cannot_be_is_told_at_its_field(bench, name, typed, field):
    answer = bench.post(ADD, TYPED | {name: typed})
    assert answer.status_code == 422
    assert "to mend" in answer.text
    if field:
        assert f'href="#f-{field}"' in answer.text
    assert "https://prices.example" in answer.text or name == "url"
    assert not bench.services.feeds.list()


def test_a_description_is_tried_before_it_is_kept(bench, source):
    answer = bench.post(f"{ADD}/try", TYPED | {"_key": ""}, drawn=ADD)
    assert answer.status_code == 200
    assert "would count" in answer.text
    assert "27.5 EUR" in answer.text
    assert 'value="/silver/price"' in answer.text
    assert not bench.services.feeds.list()
    source.price = "40.00"
    bench.services.feeds.put("assay_office", ASSAY, expected=None)
    source.price = "27.50"
    bench.services.spot_prices.fetch("assay_office")
    source.price = "884.00"
    answer = bench.post(f"{PLACE}/try", TYPED, drawn=f"{PLACE}/change")
    assert "would be refused" in answer.text
    assert "a price per kilogram read as one per troy ounce" in answer.text
    answer = bench.post(
        f"{PLACE}/try", TYPED | {"unit": "kilogram"}, drawn=f"{PLACE}/change"
    )
    assert "would count" in answer.text
    assert len(bench.services.feeds.fetches("assay_office")) == 1


def test_the_page_of_a_try_can_be_loaded_anew(fed):
    assert fed.get(f"{ADD}/try").headers["Location"] == ADD
    assert fed.get(f"{PLACE}/try").headers["Location"] == f"{PLACE}/change"
    assert fed.post(f"{ADD}/try", {"title": ""}, drawn=ADD).status_code == 422


def test_trying_tells_and_keeps_nothing(fed):
    answer = press(fed, "try")
    assert "nothing was kept" in answer.text
    assert "would count" in answer.text
    assert not fed.services.feeds.fetches("assay_office")


def test_fetching_puts_a_price_into_force(fed, clock, source):
    clock.time += timedelta(minutes=1)
    answer = press(fed, "fetch")
    assert "counts" in answer.text
    assert fed.services.spot_prices.current().source == "assay_office"
    source.price = "40.00"
    clock.time += timedelta(minutes=1)
    answer = fed.post(FEEDS, {"_do": "fetch"})
    assert "waits for you" in answer.text
    assert "/bench/spot/held/" in answer.text
    assert "held" in fed.get(PLACE).text


def test_a_feed_that_fails_says_why_and_rests(fed, source, clock):
    source.failure = FeedFailed("timeout", "It did not answer <in time>.")
    for _ in range(3):
        answer = press(fed, "fetch")
        clock.time += timedelta(seconds=1)
    assert "It did not answer &lt;in time&gt;." in answer.text
    for place in (FEEDS, PLACE):
        page = fed.get(place).text
        assert "resting" in page
        assert "left alone until" in page


def test_a_feed_is_switched_off_and_on(fed):
    assert press(fed, "off").headers["Location"] == f"{PLACE}?done=off"
    assert not fed.services.feeds.get("assay_office").feed.enabled
    assert "Switch it on" in fed.get(PLACE).text
    answer = press(fed, "fetch")
    assert answer.status_code == 409
    assert "is switched off" in answer.text
    press(fed, "on")
    assert fed.services.feeds.get("assay_office").feed.enabled


@pytest.mark.parametrize(("place", "deed"), [("", "off"), ("/remove", "")])
def test_what_was_changed_meanwhile_is_left_alone(fed, place, deed):
    answer = fed.post(PLACE + place, {"_do": deed, "_version": "77"})
    assert answer.status_code == 412
    assert "Somebody changed this" in answer.text
    assert fed.services.feeds.get("assay_office").feed.enabled
    assert fed.post(PLACE, {"_do": "dance"}).status_code == 422


def test_pressing_again_does_not_overwrite_what_was_changed_meanwhile(fed):
    change = f"{PLACE}/change"
    sent = TYPED | {"_version": "77"}
    answer = fed.post(change, {n: v for n, v in sent.items() if n != "_key"})
    assert answer.status_code == 412
    assert 'name="_version" value="77"' in answer.text


def test_a_feed_is_removed_after_a_look(fed):
    assert "secrets are forgotten" in fed.get(f"{PLACE}/remove").text
    answer = press(fed, "", f"{PLACE}/remove")
    assert answer.headers["Location"] == f"{FEEDS}?done=removed"
    assert fed.get(PLACE).status_code == 404
    assert fed.get(f"{PLACE}/change").status_code == 404


def test_secrets_go_in_and_never_come_out(fed, source):
    two = ASSAY | {"secret_headers": ["X-Api-Key", "X-Pass"]}
    fed.services.feeds.put(
        "assay_office", two, expected=fed.services.feeds.get("assay_office").revision
    )
    assert "needs its secret" in fed.get(PLACE).text
    secrets = f"{PLACE}/secrets"
    typed = {"_secret_X-Api-Key": "s3cr3t-one", "_secret_X-Pass": "s3cr3t-two"}
    assert fed.post(secrets, typed, drawn=PLACE).status_code == 303
    fed.post(secrets, {"_secret_X-Pass": "s3cr3t-new"}, drawn=PLACE)
    press(fed, "try")
    assert source.asked[-1][1] == {"X-Api-Key": "s3cr3t-one", "X-Pass": "s3cr3t-new"}
    for place in (PLACE, f"{PLACE}/change", FEEDS):
        assert "s3cr3t" not in fed.get(place).text
    answer = fed.post(secrets, {"_secret_X-Pass": ""}, drawn=PLACE)
    assert answer.status_code == 422
    answer = fed.post(secrets, {"_secret_X-Pass": " s3cr3t\x07"}, drawn=PLACE)
    assert answer.status_code == 422
    assert "cannot be sent" in answer.text
    assert "s3cr3t" not in answer.text
