"""Two pages of the demo's workshop, as a browser shows them, as pictures."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import bench_days
import feed_server
import following
import promises
import shop
import story
from playwright.sync_api import Page, sync_playwright

from api.app import create_app
from api.cli.serve import listen
from api.services.actor import Actor, acting
from tests.browser import chromium

FOLDER = Path(__file__).resolve().parent / "pictures"
WIDTH, HEIGHT = 1200, 1420
"""Of a picture [px]."""
QUALITY = 80
"""Of a WebP picture [%]."""
MOST_BYTES = 150_000
"""Of a picture [B]."""


def take(folder: Path = FOLDER) -> Iterator[str]:
    """Take both, and tell of each.

    Raises:
        ValueError: a picture has become too large.
    """
    folder.mkdir(exist_ok=True)
    with workshop() as origin, sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium.path(), args=chromium.flags()
        )
        page = browser.new_page(
            base_url=origin,
            viewport={"width": WIDTH, "height": HEIGHT},
            color_scheme="light",
            locale="en-US",
        )
        for name, show in (("quote_desk", quote_desk), ("week", week)):
            show(page)
            file = folder / f"{name}.webp"
            file.write_bytes(picture(page))
            yield f"{file.name}: {file.stat().st_size / 1000:.0f} kB"
        browser.close()


@contextmanager
def workshop() -> Iterator[str]:
    """The demo's workshop, filled in a folder of its own and served; its address."""
    with (
        TemporaryDirectory() as folder,
        feed_server.serving() as feed,
        acting(Actor(by="demo")),
    ):
        settings, services, _ = story.open_workshop(Path(folder) / "demo", feed)
        story.fetch(services)
        pair = promises.pair(services)
        promises.accept(services, pair)
        following.stock(services)
        bench_days.work(services, pair)
        app = create_app(settings, services)
        try:
            yield shop.serve_beside(listen(app, host="127.0.0.1", port=0, threads=4))
        finally:
            services.close()


def quote_desk(page: Page) -> None:
    """A ring at the desk, worked out while it is typed."""
    page.goto(f"/bench/quotes/new?coin={promises.COIN}")
    page.get_by_label("Finger size").fill("8.5")
    page.locator("#figures svg").first.wait_for()


def week(page: Page) -> None:
    """The check of this week."""
    page.goto("/bench/week")


def picture(page: Page) -> bytes:
    """What the browser shows now, as WebP. Raises ValueError."""
    page.evaluate("document.activeElement.blur()")
    asked = {"format": "webp", "quality": QUALITY}
    session = page.context.new_cdp_session(page)
    taken = base64.b64decode(session.send("Page.captureScreenshot", asked)["data"])
    if len(taken) > MOST_BYTES:
        raise ValueError(
            f"the picture has {len(taken)} bytes; {MOST_BYTES} are allowed"
        )
    return taken
