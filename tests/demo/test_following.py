"""The demo's listings from a file: their prices follow silver, and come back."""

from __future__ import annotations

import importlib

import pytest

from tests.architecture.source import ROOT


@pytest.fixture
def following(monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    return importlib.import_module("following")


@pytest.fixture
def services(following, tmp_path):
    """The demo's workshop, once its feed was asked."""
    del following
    story = importlib.import_module("story")
    with importlib.import_module("feed_server").serving() as url:
        _, services, _ = story.open_workshop(tmp_path / "demo", url)
        assert story.fetch(services).outcome == "accepted"
        yield services
        services.close()


def prices(services):
    return services.storage.read(
        lambda unit: [
            (listing.sku, band.size_from, band.price)
            for listing in unit.listings.each()
            for band in listing.bands
        ]
    )


def test_the_file_is_imported_whole_and_the_second_time_changes_nothing(
    following, services
):
    skus, told = following.stock(services)
    assert skus == ["ring-50s", "ring-50s-box", "ring-2-5g", "ring-fair"]
    assert told.count(" new") >= 5
    assert following.stock(services) == ([], "")


def test_prices_follow_silver_and_come_back_exactly(following, services):
    skus, _ = following.stock(services)
    before = prices(services)
    run = following.preview(services, skus)
    assert run.counts == {
        "hold": 0,
        "raise": 3,
        "lower": 0,
        "review": 1,
        "locked": 1,
        "blocked": 0,
    }
    told = following.told(services, run)
    assert "36.40 EUR a troy ounce" in told
    assert "over the largest step of 15 %" in told
    assert prices(services) == before
    done, told = following.apply(services, run)
    assert "3 bands have their new prices" in told
    after = prices(services)
    assert sum(new != old for new, old in zip(after, before, strict=True)) == 3
    assert "is undone" in following.undo(services, done)
    assert prices(services) == before


def test_the_demo_tells_of_it(following, services, capsys):
    del following
    importlib.import_module("story").follow(services)
    told = capsys.readouterr().out
    assert "demo/listings.csv" in told
    assert "3 bands have their new prices" in told
    assert "all prices are as they were" in told
