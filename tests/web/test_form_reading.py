from __future__ import annotations

from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from babel import Locale
from marshmallow import fields

from api.schemas.fields import (
    SHARE,
    Document,
    KeyText,
    ListOf,
    MoneyText,
    Part,
    RateText,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.web.form_reading import Reader
from api.web.sent_form import Form
from pricing.errors import InvalidInput

VIENNA = ZoneInfo("Europe/Vienna")


class Size(Document):
    system = Text(most=10, required=True)
    size = Text(most=10, required=True)


class Line(Document):
    size = Part(Size)
    price = MoneyText()
    extras = ListOf(KeyText(), most=5)


class Order(Document):
    lines = ListOf(Part(Line), most=9)
    margin = RateText(bounds=SHARE)
    rings = StrictInteger(least=1, most=9)
    boxed = StrictBoolean()
    due = UtcTime()
    note = Text(most=99, lines=True)
    multipliers = fields.Dict(KeyText(), RateText())


def form(**values):
    sent = {
        name.replace("__", "-"): one if isinstance(one, tuple) else (one,)
        for name, one in values.items()
    }
    return Form(values=sent)


def document(sent, locale="en"):
    return Reader(Locale(locale), VIENNA).document(sent, Order())


def test_names_become_members_and_blanks_nothing():
    sent = form(
        lines__0__size__system="us",
        lines__0__size__size=" 9.5 ",
        lines__0__price="",
        rings="",
        _csrf="x",
    )
    read = document(sent).document
    assert read == {"lines": [{"size": {"system": "us", "size": "9.5"}}]}


def test_each_kind_is_read_as_the_schema_says():
    sent = Form(
        values={
            "lines-0-price": ("1.234,50",),
            "lines-0-extras": ("", "ring_box", "engraving"),
            "margin.pct": ("35,5",),
            "rings": ("3",),
            "boxed": ("false", "true"),
            "due": ("2026-11-25T13:30",),
            "note": ("one\r\ntwo",),
            "multipliers-coin": ("1,15",),
        }
    )
    read = document(sent, "de")
    assert read.faults == ()
    assert read.document == {
        "lines": [{"price": "1234.50", "extras": ["ring_box", "engraving"]}],
        "margin": "0.355",
        "rings": 3,
        "boxed": True,
        "due": "2026-11-25T12:30:00Z",
        "note": "one\ntwo",
        "multipliers": {"coin": "1.15"},
    }
    assert read.loaded(Order())["margin"] == Decimal("0.355")


def test_an_unticked_box_is_false_and_a_missing_one_nothing():
    assert document(form(boxed="false")).document == {"boxed": False}
    assert document(form(rings="1")).document == {"rings": 1}


def test_entries_keep_their_order_and_blank_ones_go():
    sent = Form(
        values={
            "lines-10-price": ("3",),
            "lines-2-price": ("2",),
            "lines-1-price": ("",),
            "lines-x-price": ("9",),
        }
    )
    assert document(sent).document == {"lines": [{"price": "2"}, {"price": "3"}]}


def test_every_fault_leads_to_the_field_it_came_from():
    sent = Form(
        values={
            "lines-0-price": ("",),
            "lines-3-price": ("1,234",),
            "lines-4-price": ("-1.23456",),
            "margin.pct": ("120",),
            "rings": ("2.5",),
            "unknown": ("x",),
        }
    )
    read = document(sent)
    with pytest.raises(InvalidInput) as raised:
        read.loaded(Order())
    sent.names.update(read.names)
    told = sent.faulted((one.path, one.message) for one in raised.value.faults)
    assert {one.name for one in told.faults} == {
        "lines-3-price", "lines-4-price", "margin.pct", "rings", "unknown",
    }  # fmt: skip
    assert "two ways" in told.fault("lines-3-price")


def test_what_is_needed_is_asked_for_in_plain_words():
    sent = form(lines__0__size__size="9")
    with pytest.raises(InvalidInput) as raised:
        document(sent).loaded(Order())
    [fault] = raised.value.faults
    assert fault.path == ("lines", 0, "size", "system")
    assert fault.message == "this is needed; fill it in"


def test_an_hour_that_the_clocks_leave_out_is_refused():
    read = document(form(due="2026-03-29T02:30"))
    assert "does not exist" in read.faults[0].message


@pytest.mark.parametrize(
    ("typed", "zone"),
    [("0001-01-01T00:30", "Europe/Vienna"), ("9999-12-31T23:59", "America/New_York")],
)
def test_a_time_that_no_year_has_in_utc_is_refused_in_its_place(typed, zone):
    read = Reader(Locale("en"), ZoneInfo(zone)).document(form(due=typed), Order())
    [fault] = read.faults
    assert fault.path == ("due",)
    assert "no year that can be kept" in fault.message


def test_a_time_with_its_zone_stays_as_it_is():
    assert document(form(due="2026-11-25T09:30:00Z")).document == {
        "due": "2026-11-25T09:30:00Z"
    }


def test_a_name_within_a_name_harms_nothing():
    sent = Form(
        values={"rings": ("1",), "rings-0": ("2",), "-": ("x",), "a-" * 50: ("y",)}
    )
    assert document(sent).document["rings"] == 1


def test_a_form_can_be_changed_before_it_is_drawn_again():
    sent = form(lines__0__price="1", lines__3__price="2", _do="drop-3")
    assert sent.rows("lines") == [0, 3]
    assert sent.deed("drop-") == "3"
    assert sent.deed("add") is None
    assert sent.wants("drop-3")
    assert sent.without("lines-3").rows("lines") == [0]
    assert Form().rows("lines", least=2) == [0, 1]
    assert sent.with_values(note="x").text("note") == "x"


def test_what_stands_in_a_field_at_first_gives_way_to_what_was_typed():
    assert Form().text("rings", "1") == "1"
    assert form(note="x").text("rings", "1") == ""
    assert Form().chosen("boxed", "true", otherwise=True)
    assert not form(boxed="false").chosen("boxed", "true", otherwise=True)
    assert Form().chosen("system", "us", "us")
