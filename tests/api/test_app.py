"""The composition root with a real database."""

from __future__ import annotations

from dataclasses import replace
from ipaddress import ip_network

import pytest
import yaml
from marshmallow import Schema

from api.app import compose, create_app, openapi_document, openapi_yaml, upgrade
from api.ports import FeedFailed
from api.settings import Settings
from tests.http.fakes import FakeServices, bearer

QUERY = "/v1/ring-sizes?system=us&size=10"


@pytest.fixture
def settings(sqlite_url):
    return Settings(database=sqlite_url)


@pytest.fixture
def services(settings):
    composed = compose(settings)
    yield composed
    composed.close()


def test_a_new_database_is_ready_at_once(settings, services):
    client = create_app(settings, services).test_client()
    assert client.get("/readyz").status_code == 200


def test_a_key_works_until_it_is_revoked(settings, services):
    client = create_app(settings, services).test_client()
    record, token = services.keys.create("window", "storefront")
    headers = {"Authorization": f"Bearer {token}"}
    assert client.get(QUERY, headers=headers).status_code == 200
    services.keys.revoke(record.id)
    assert client.get(QUERY, headers=headers).status_code == 401


def test_services_are_composed_where_none_are_given(settings):
    app = create_app(settings)
    assert app.test_client().get("/readyz").status_code == 200
    app.extensions["services"].close()


def test_a_database_that_is_there_is_left_as_it_is(settings, services):
    record, _ = services.keys.create("window", "kept")
    again = compose(settings)
    assert [one.id for one in again.keys.list()] == [record.id]
    again.close()


def test_upgrading_twice_is_the_same_as_once(settings):
    assert upgrade(settings) == upgrade(settings)


def test_the_description_needs_no_database():
    assert yaml.safe_load(openapi_yaml()) == openapi_document()


def test_two_applications_share_nothing(settings):
    one = create_app(settings, FakeServices())
    other = create_app(settings, FakeServices())
    assert one.extensions["description"] is not other.extensions["description"]


def test_a_request_makes_no_new_schema(settings, monkeypatch):
    client = create_app(settings, FakeServices()).test_client()
    made = []
    monkeypatch.setattr(Schema, "__init__", lambda *_, **__: made.append(1))
    assert client.get(QUERY, headers=bearer("window")).status_code == 200
    assert made == []


def test_what_may_be_reached_beyond_the_usual_is_told_at_the_start(settings, caplog):
    create_app(settings, FakeServices())
    assert caplog.messages == []
    networks = (ip_network("192.168.7.0/24"), ip_network("fd00::/8"))
    open_wide = replace(
        settings,
        feed_networks=networks,
        feed_http=True,
        hook_networks=networks[:1],
        hook_http=True,
    )
    create_app(open_wide, FakeServices())
    assert caplog.messages == [
        "Feeds may lie in these private networks: 192.168.7.0/24, fd00::/8",
        "Feeds may be asked without encryption.",
        "Hooks may lie in these private networks: 192.168.7.0/24",
        "Hooks may be told without encryption.",
    ]


def test_a_clock_and_a_fetcher_may_be_given(settings, clock):
    asked = []

    class Nobody:
        def fetch(self, url, *_, **__):
            asked.append(url)
            raise FeedFailed("timeout", "Nobody is there.")

    services = compose(settings, clock=clock, fetcher=Nobody())
    feed = {"title": "A", "url": "https://a.example/", "format": "ecb"}
    stored = services.feeds.put("a", feed, expected=None)
    assert stored.changed_at == clock.now()
    [result] = services.spot_prices.fetch()
    assert (result.outcome, asked) == ("failed", ["https://a.example/"])
    services.close()
