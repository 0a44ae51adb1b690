"""Every line of a CSV answer is a row; columns go by name or number."""

from __future__ import annotations

import tracemalloc

import pytest

from api.feeds.csv_shape import csv_rows
from api.ports import CsvLayout, Feed, FeedFailed, FeedTime


def feed(price="usd", day="date", **layout):
    return Feed(
        title="A feed",
        url="https://feeds.example/",
        format="csv",
        price=price,
        time=FeedTime(path=day),
        csv=CsvLayout(**layout),
    )


def why(of, text):
    with pytest.raises(FeedFailed) as refused:
        [row(of.price) for row in csv_rows(of, text)]
    return refused.value.reason


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_may_end_in_any_way(end):
    text = end.join(["date, usd ", "", "2026-11-23,27.50", ",", '"x,y","27""50"', ""])
    rows = list(csv_rows(feed(), text))
    assert [row("usd") for row in rows] == ["27.50", '27"50']
    assert [row("date") for row in rows] == ["2026-11-23", "x,y"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_the_one_set(delimiter):
    text = f"date{delimiter}usd\n1{delimiter}2\n"
    [row] = csv_rows(feed(delimiter=delimiter), text)
    assert row("usd") == "2"


def test_without_a_header_columns_are_counted_from_one():
    rows = csv_rows(feed("2", "1", header=False), "a,b\nc,d\n")
    assert [(row("1"), row("2")) for row in rows] == [("a", "b"), ("c", "d")]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("date,usd\n", "no_rows"),
        ("\n\n", "no_rows"),
        ("date,gbp\n1,2\n", "no_such_path"),
        ("date,USD\n1,2\n", "no_such_path"),
        ("date,usd,usd\n1,2,3\n", "ambiguous_path"),
        ("date,usd\n1\n", "no_such_path"),
        ('date,usd\n1,"2\n', "not_csv"),
        ('date,usd\n1,"2"3\n', "not_csv"),
        ("date,usd\n1," + "2" * 200_000, "not_csv"),
    ],
)
def test_what_cannot_be_read_is_refused(text, reason):
    assert why(feed(), text) == reason


def test_a_feed_without_a_time_has_no_column_of_it():
    bare = Feed(title="A", url="https://feeds.example/", format="csv", price="usd")
    assert next(csv_rows(bare, "usd\n2\n"))("usd") == "2"


def test_many_short_lines_take_little_memory():
    text = "date,usd\n" + "1\n" * 500_000
    tracemalloc.start()
    assert why(feed(), text) == "no_such_path"
    assert sum(1 for _ in csv_rows(feed(), text)) == 500_000
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 10_000_000
