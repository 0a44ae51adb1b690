from __future__ import annotations

import importlib
import json
import os
import re
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from time import monotonic
from urllib.request import Request, urlopen

import pytest

ROOT = Path(__file__).resolve().parents[2]
WAIT_S = 60


@pytest.fixture
def story(monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    return importlib.import_module("story")


@pytest.fixture
def services(story, tmp_path):
    """The demo's workshop, with its feed at hand."""
    feed_server = importlib.import_module("feed_server")
    with feed_server.serving() as url:
        _, services, _ = story.open_workshop(tmp_path / "demo", url)
        yield services
        services.close()


@pytest.fixture
def rings(story, services):
    assert story.fetch(services).outcome == "accepted"
    return story.price(services)


def test_the_spot_is_fetched_from_the_demos_own_feed(story, services):
    before = services.spot_prices.current()
    assert before.as_of.date() < datetime.now(UTC).date()
    found = story.fetch(services)
    assert (found.outcome, found.from_cache) == ("accepted", False)
    assert found.findings == ()
    spot = services.spot_prices.current()
    assert (spot.price, spot.currency) == (27.50, "EUR")
    assert spot.source == found.feed == "brackelau"
    [record] = services.feeds.fetches("brackelau")
    assert record.outcome == "accepted"


def test_the_history_lets_the_demo_suggest_how_long_a_quote_may_hold(rings):
    assert {ring.validity.points for ring in rings} == {30}
    assert all(ring.validity.hours > 1 for ring in rings)


def test_a_fresh_workshop_prices_three_coins_above_their_cost(rings):
    assert len({ring.coin.key for ring in rings}) == 3
    for ring in rings:
        assert ring.price.sale.unit > ring.cost.per_piece
        assert ring.price.sale.margin_rate >= ring.policy.target_margin
        assert ring.spot.price == 27.50


def test_the_readme_tells_the_first_ring_as_it_is_priced(rings):
    readme = (ROOT / "README.md").read_text("utf-8")
    ring = rings[0]
    sale = ring.price.sale
    figures = [ring.cost.per_piece, sale.unit, sale.net, sale.margin]
    figures += [fee.amount for fee in sale.fees]
    for kind in ("coin", "labour", "overhead", "consumable", "tool", "after_sale"):
        figures.append(ring.cost.by_kind[kind])
    figures += [-line.amount for line in ring.cost.lines if line.kind == "recovery"]
    figures.append(f"{ring.break_even.spot_at_floor:.2f}")
    figures.append(f"{ring.break_even.spot_at_zero:.2f}")
    missing = [str(figure) for figure in figures if str(figure) not in readme]
    assert not missing


def test_telling_it_once_prints_the_rings_and_ends(
    story, tmp_path, capsys, monkeypatch
):
    monkeypatch.setattr(story, "FOLDER", tmp_path / "demo")
    assert story.main(["--once"]) == 0
    told = capsys.readouterr().out
    rings, _, promised = told.partition("A customer asked")
    assert rings.count("Austria 50 schilling") == 2
    assert "fetches silver from the demo's own feed" in told
    assert "27.50 EUR a troy ounce (brackelau" in told
    assert "A quote may hold" in told
    assert re.search(r"-0001 is accepted: 341\.80 EUR\.\n", promised)
    assert "\x1b[" not in told


@pytest.fixture(scope="module")
def served():
    """What the demo prints until it serves, and serves it meanwhile."""
    command = [sys.executable, "demo/run", "--port", "0", "--shop-port", "0"]
    environment = os.environ | {"USE_THIS_PYTHON": "yes", "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True
    ) as demo:
        try:
            told = ""
            while "Ctrl-C" not in told:
                line = demo.stdout.readline()
                assert line, told
                told += line
            yield told
        finally:
            demo.terminate()
            demo.wait(WAIT_S)


def ask(told, path):
    """Send the printed request to a path; the answer."""
    [printed] = re.findall(rf"curl \S+{path} .*?-d '\{{.*?\}}'\n", told, re.DOTALL)
    address = re.search(r"curl (\S+)", printed)[1]
    headers = dict(re.findall(r"-H '(\S+): (.*?)'", printed))
    body = re.search(r"-d '(.*)'", printed)[1].encode()
    request = Request(address, body, headers)  # noqa: S310 - our own server
    with urlopen(request, timeout=WAIT_S) as answer:  # noqa: S310 - as above
        return json.load(answer)


def page(address):
    with urlopen(address, timeout=WAIT_S) as answer:  # noqa: S310 - our own server
        return answer.read().decode()


def shop_of(told):
    return re.search(r"origin of its own:\n\n +(\S+)\n", told)[1]


@pytest.mark.slow
@pytest.mark.parametrize("path", ["estimates", "repricings/what-if"])
def test_the_printed_key_opens_the_served_api(served, path):
    assert ask(served, f"/v1/{path}")["currency"] == "EUR"


@pytest.mark.slow
def test_the_printed_sheet_is_the_accepted_quotes(served):
    address = re.search(r"http://\S+/quotes/\S+", served)[0]
    sheet = page(address)
    assert "<strong>Accepted</strong>" in sheet
    assert "Deposit, due on acceptance" in sheet


@pytest.mark.slow
def test_the_shop_follows_the_printed_apply(served):
    shop = shop_of(served)
    before = page(shop)
    assert before.count('<a href="/rings/') == 3
    assert before.count("199.95 EUR") == 1
    applied = ask(served, r"/v1/repricings/\w+/apply")
    assert applied["status"] == "applied"
    until = monotonic() + 30  # far less than the shop shows prices without a word
    while "209.95 EUR" not in (now := page(shop)):
        assert monotonic() < until, now
    assert "199.95 EUR" not in now
