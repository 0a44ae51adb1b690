"""Spot, feeds, keys and hooks as a maker uses them, with scripts and without."""

from __future__ import annotations

import shutil
from datetime import timedelta
from decimal import Decimal

import pytest

from api.app import compose
from api.ports import SpotEntry
from api.settings import Settings
from tests.browser import bench_site as sites
from tests.browser.bench_site import DESK, MOST_BYTES, MOST_TIMES, PHONE, no_violations
from tests.browser.press import press
from tests.browser.quotes import Clock
from tests.services.hooking import Sender
from tests.web.feeding import ASSAY, Source, hold

pytestmark = pytest.mark.slow

BOTH = pytest.mark.parametrize(
    ("scripts", "width"), [(True, PHONE), (False, DESK)], ids=["scripts", "plain"]
)


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def source(clock):
    return Source(clock)


@pytest.fixture
def site(filled_database, tmp_path, clock, source):
    """A filled workshop whose feeds and hooks are on nobody's machine."""
    copy = tmp_path / "fineweight.sqlite3"
    shutil.copy(filled_database[0], copy)
    with sites.serving(copy, clock=clock, fetcher=source, sender=Sender()) as site:
        site.services.spot_prices.enter("XAG", Decimal("27.50"), "EUR")
        yield site


def looked_at(page, scripts):
    """Hold a page to what everybody can use; it takes scripts to look."""
    if scripts:
        no_violations(page)


@BOTH
def test_a_price_is_entered_doubted_and_taken_back(site, page_of, scripts, width):
    page = page_of(site, "/bench/spot", scripts=scripts, width=width, locale="de-AT")
    page.get_by_role("textbox", name="Price of one").fill("275,5")
    if scripts:
        page.locator("#heard").get_by_text("275.50 EUR is 901.8 % above").wait_for()
    press(page.get_by_role("button", name="Enter it", exact=True))
    fault = page.get_by_role("alert").get_by_role("link")
    assert "above the 27.50 in force" in fault.inner_text()
    looked_at(page, scripts)
    press(page.get_by_role("button", name="It is right"))
    assert "in force" in page.get_by_role("status").inner_text()
    assert "275,50" in page.locator(".figure.strong").inner_text()
    press(page.get_by_role("link", name="27,50").first)
    assert page.get_by_role("textbox", name="Price of one").input_value() == "27,50"
    press(page.get_by_role("button", name="Enter it", exact=True))
    press(page.get_by_role("button", name="It is right"))
    assert "27,50" in page.locator(".figure.strong").inner_text()
    assert len(site.services.spot_prices.history(limit=9)) == 4


@BOTH
def test_a_held_price_is_taken_after_a_look(site, page_of, source, scripts, width):
    hold(site.services, source)
    page = page_of(site, "/bench/spot", scripts=scripts, width=width)
    press(page.get_by_role("link", name="Take it or put it aside"))
    assert "passes unasked" in page.locator("main").inner_text()
    looked_at(page, scripts)
    press(page.get_by_role("button", name="Take it"))
    assert "counts" in page.get_by_role("status").inner_text()
    assert "40.00" in page.locator(".figure.strong").inner_text()


@BOTH
def test_a_feed_is_tried_kept_and_fetched_from(site, page_of, scripts, width):
    page = page_of(site, "/bench/spot/feeds", scripts=scripts, width=width)
    press(page.get_by_role("link", name="Set one up"))
    for label, typed in (
        ("What you call it", ASSAY["title"]),
        ("Short name", "assay_office"),
        ("Address", ASSAY["url"]),
        ("Where the price is", ASSAY["price"]),
        ("Where the time is", ASSAY["time"]["path"]),
    ):
        page.get_by_label(label).fill(typed)
    press(page.get_by_role("button", name="Try it as it stands here"))
    assert "would count" in page.locator("#answers + p + .answer").inner_text()
    assert page.get_by_label("Short name").input_value() == "assay_office"
    looked_at(page, scripts)
    press(page.get_by_role("button", name="Keep it"))
    press(page.get_by_role("button", name="Fetch now"))
    assert "counts" in page.locator(".answer").inner_text()
    looked_at(page, scripts)
    assert site.services.spot_prices.current().source == "assay_office"


@BOTH
def test_a_key_is_shown_once_and_revoked(site, page_of, scripts, width):
    page = page_of(site, "/bench/keys", scripts=scripts, width=width)
    page.get_by_label("Where it is used").fill("Shop <server>")
    page.get_by_text("Shop: the server of your shop").click()
    press(page.get_by_role("button", name="Make a key"))
    token = page.locator(".shown-once").inner_text()
    assert site.services.keys.authenticate(token).scope == "shop"
    looked_at(page, scripts)
    press(page.get_by_role("link", name="It is copied"))
    assert token not in page.content()
    press(page.get_by_role("link", name="Revoke Shop <server>"))
    press(page.get_by_role("button", name="Revoke it"))
    assert "refused from now on" in page.get_by_role("status").inner_text()


@BOTH
def test_a_hook_is_made_and_gets_a_new_secret(site, page_of, scripts, width):
    page = page_of(site, "/bench/keys/hooks", scripts=scripts, width=width)
    page.get_by_label("Address").fill("https://shop.example/hooks")
    press(page.get_by_role("button", name="Add it"))
    first = page.locator(".shown-once").inner_text()
    looked_at(page, scripts)
    press(page.get_by_role("link", name="It is copied"))
    press(page.get_by_role("link", name="A new secret"))
    press(page.get_by_role("button", name="Make it"))
    second = page.locator(".shown-once").inner_text()
    press(page.get_by_role("link", name="It is copied"))
    press(page.get_by_role("link", name="drop the old one"))
    press(page.get_by_role("button", name="Drop it"))
    [hook] = site.services.hooks.list()
    assert first != second
    assert hook.secrets == (second,)


def test_a_backup_is_saved(site, page_of):
    page = page_of(site, "/bench/keys/backup")
    with page.expect_download() as saved:
        page.get_by_role("button", name="Make it and save it").click()
    assert saved.value.suggested_filename.startswith("fineweight.backup.")


@pytest.fixture(scope="module")
def long_used(filled_database, tmp_path_factory):
    """A workshop that has fetched a price every hour for six weeks."""
    copy = tmp_path_factory.mktemp("long") / "fineweight.sqlite3"
    shutil.copy(filled_database[0], copy)
    clock = Clock()
    services = compose(Settings(database=str(copy)), clock=clock)

    def enter_all(unit):
        for hour in range(1000):
            clock.time += timedelta(hours=1)
            price = Decimal(27) + Decimal(hour % 40) / 10
            unit.spots.add(
                SpotEntry(
                    metal="XAG",
                    price=price,
                    currency="EUR",
                    as_of=clock.time,
                    source="manual",
                )
            )
        unit.revisions.bump("spot_prices")

    services.snapshots.write(enter_all)
    services.close()
    with sites.serving(copy, clock=clock) as site:
        yield site


def test_a_long_history_is_light_and_quick(long_used):
    assert long_used.weight("/bench/spot") < MOST_BYTES
    assert long_used.ratio("/bench/spot", times=5) < MOST_TIMES
