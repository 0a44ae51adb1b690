from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import BookRefused
from pricing.price_book import document, read_price_book
from tests.pricing.price_book.documents import (
    LEFT_OUT,
    changed,
    faults_of,
    small,
    the_fault,
)


@pytest.mark.parametrize(
    ("path", "value", "dotted", "said"),
    [
        (("title",), LEFT_OUT, "title", "missing"),
        (("title",), "  ", "title", "empty"),
        (("title",), None, "title", "missing"),
        (("currency",), "EURO", "currency", "ISO 4217"),
        (("currency",), "XAG", "currency", "ISO 4217"),
        (("currency",), 978, "currency", "not text"),
        (("timezone",), "Europe/Wien", "timezone", "not a time zone"),
        (("timezone",), "europe/vienna", "timezone", "did you mean 'Europe/Vienna'?"),
        (("timezone",), "??", "timezone", "write it like Europe/Vienna"),
        (("timezone",), "../UTC", "timezone", "did you mean"),
        (("timezone",), "localtime", "timezone", "not a time zone"),
        (("timezone",), LEFT_OUT, "timezone", "missing"),
        (("labour",), LEFT_OUT, "labour", "missing"),
        (("labour",), "32", "labour", "not a table"),
        (("channels",), [], "channels", "at least 1"),
        (("policies",), LEFT_OUT, "policies", "at least 1"),
        (("stages",), [], "stages", "at least 1"),
        (("stages",), {"key": "fold"}, "stages", "not a list"),
        (("extra",), [], "extra", "did you mean 'extras'?"),
        (("version",), 3, "version", "not known here"),
    ],
)
def test_a_fault_at_the_top_is_told_by_its_path(path, value, dotted, said):
    where, message = the_fault(path, value)
    assert where == dotted
    assert said in message


def test_a_valid_book_is_read_with_the_version_it_was_given():
    book = read_price_book(small(), version=7)
    assert book.version == 7
    assert book.currency.code == "EUR"
    assert book.stages[1].minutes == Decimal(6)


def test_every_fault_is_listed_at_once():
    spoilt = changed(
        (("title",), ""),
        (("labour", "rate_per_hour"), 32.5),
        (("tools", 0, "life_uses"), "many"),
        (("stages", 1, "redo", "to"), "finish"),
        (("channels", 0, "fees", 0, "percent"), "2"),
        (("policies", 0, "target_margin"), "35"),
        (("extras", 1), {"key": "ring_box"}),
    )
    assert list(faults_of(spoilt)) == [
        "title",
        "labour.rate_per_hour",
        "tools[0].life_uses",
        "channels[0].fees[0].percent",
        "policies[0].target_margin",
        "extras[1].key",
        "stages[1].redo.to",
    ]


def test_the_refusal_counts_the_faults_and_names_the_first():
    with pytest.raises(
        BookRefused, match=r"2 faults .* first, title: this text"
    ) as two:
        read_price_book(changed((("title",), ""), (("currency",), "?")))
    assert two.value.code == "book_refused"
    with pytest.raises(BookRefused, match="1 fault and nothing of it is used"):
        read_price_book(changed((("title",), "")))


@pytest.mark.parametrize("document", [[], "title = 1", None, 3])
def test_what_is_not_a_table_is_not_a_book(document):
    assert "not a table" in faults_of(document)[""]


def test_reading_leaves_the_document_as_it_was():
    given_document = small()
    read_price_book(given_document)
    assert given_document == small()


def test_the_callers_own_decimal_context_changes_nothing():
    with localcontext(prec=2):
        coarse = document(read_price_book(small()))
    assert coarse == document(read_price_book(small()))


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(sorted(small())), inner, max_size=3)
    ),
    max_leaves=8,
)


def _places(part, path=()):
    steps = part.items() if isinstance(part, dict) else enumerate(part)
    for step, inner in steps:
        yield (*path, step)
        if isinstance(inner, dict | list):
            yield from _places(inner, (*path, step))


@given(st.sampled_from(list(_places(small()))), JUNK)
def test_junk_anywhere_is_either_a_book_or_a_list_of_faults(path, junk):
    faults = ()
    try:
        read_price_book(changed((path, junk)))
    except BookRefused as refused:
        faults = refused.faults
    assert all(0 < len(fault.message) < 600 for fault in faults)
