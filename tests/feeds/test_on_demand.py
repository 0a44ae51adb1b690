from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from ipaddress import ip_network
from pathlib import Path

import pytest

from api.feeds.on_demand import FetcherOnDemand
from api.ports import FeedFailed
from tests.feeds.hostile_server import GOOD_BODY

ROOT = Path(__file__).resolve().parents[2]
LOCAL = (ip_network("127.0.0.0/8"),)


def test_it_fetches_and_keeps_as_it_is_told(server, tmp_path):
    file = tmp_path / "answers.db"
    fetcher = FetcherOnDemand(file, networks=LOCAL, plain_http=True)
    assert not file.exists()
    url = server.url("/good")
    first = fetcher.fetch(url, {}, secret_names=())
    again = fetcher.fetch(url, {}, secret_names=())
    assert first.body == again.body == GOOD_BODY
    assert (first.from_cache, again.from_cache) == (False, True)
    assert file.exists()


@pytest.mark.parametrize(
    ("allowed", "reason"),
    [({"plain_http": True}, "forbidden_address"), ({"networks": LOCAL}, "plain_http")],
)
def test_it_goes_no_farther_than_it_is_allowed(server, allowed, reason):
    with pytest.raises(FeedFailed) as failed:
        FetcherOnDemand(**allowed).fetch(server.url("/good"), {}, secret_names=())
    assert failed.value.reason == reason
    assert server.connections == 0


def test_a_check_refuses_what_it_would(server):
    def check(_body, _kind):
        raise FeedFailed("no_price", "There is no price.")

    fetcher = FetcherOnDemand(networks=LOCAL, plain_http=True)
    with pytest.raises(FeedFailed, match="no price"):
        fetcher.fetch(server.url("/good"), {}, secret_names=(), check=check)


def test_many_who_ask_first_share_what_is_under_way(server):
    fetcher = FetcherOnDemand(networks=LOCAL, plain_http=True)
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda _: fetcher.fetch(server.url("/good"), {}, secret_names=()),
                      range(8)))  # fmt: skip
    assert len(server.requests) == 1


def test_composing_the_services_imports_nothing_to_fetch_with(tmp_path):
    code = (
        "import sys\n"
        "from api.app import compose\n"
        "from api.settings import Settings\n"
        f"compose(Settings(database={str(tmp_path / 'a.db')!r}))\n"
        "print(*sys.modules)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    loaded = set(run.stdout.split())
    assert "api.feeds.on_demand" in loaded
    assert not loaded & {"requests", "requests_cache", "urllib3", "tenacity"}
