"""Listings written as files, whatever they say, and read back as they were."""

from __future__ import annotations

import csv
import io
import string
import unicodedata
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from api.services.csv_table import DELIMITERS, MARKS, CsvForm
from api.services.listings.terms import RESERVED
from tests.services.promising import Promises
from tests.services.selling import HEADER, Seller, band
from tests.thoroughness import thorough

IN_YEN = {
    "channels": [{"key": "own_shop"}, {"key": "fair"}],
    "policies": [{"key": "retail", "target_margin": "0.35"}],
}
"""Parts of the book that hold no amount of less than a yen."""
TEXT_COLUMNS = ("sku", "title", "kind", "coin", "channel", "policy", "extras")


@pytest.fixture
def seller(promises):
    return Seller(promises)


def rows(text, delimiter=","):
    return list(csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter))


def test_an_empty_shop_is_a_header(seller):
    assert seller.export() == HEADER + "\r\n"
    assert seller.listings.export_csv(lambda _: None) == 0
    report = seller.listings.import_csv(seller.export().encode())
    assert (report.rows, report.changes) == (0, ())


def test_listings_are_written_by_sku_one_row_a_band(seller):
    seller.create(band("10", "12.5", "70"), band(), sku="b", title='A "ring", large')
    seller.create(sku="a", title="=Ring", extras=("engraving", "box"), locked=True)
    usual = "made_to_order,at_50s_1959_1973,own_shop,retail"
    large = f'b,"A ""ring"", large",{usual},,false,false'
    assert seller.export().split("\r\n") == [
        HEADER,
        f"a,'=Ring,{usual},engraving box,true,false,5,9.5,189.95",
        f"{large},5,9.5,189.95",
        f"{large},10,12.5,70.00",
        "",
    ]


def test_numbers_are_written_as_asked_and_are_no_texts(seller):
    seller.create(band(price="1234.5"))
    text = seller.export(form=CsvForm(delimiter=";", decimal=","))
    assert text.endswith(";5;9,5;1234,50\r\n")
    text = seller.export(form=CsvForm(delimiter=",", decimal=","))
    assert text.endswith(',5,"9,5","1234,50"\r\n')


def test_amounts_have_the_decimals_of_the_currency_and_no_more(seller):
    seller.promises.change_book(currency="JPY", **IN_YEN)
    seller.create(
        band(price="12500"), kind="ready_made", actual_cost=Decimal(4200), locked=True
    )
    text = seller.export()
    assert text.endswith(",true,false,5,9.5,12500,4200\r\n")
    assert seller.listings.import_csv(text.encode()).unchanged == 1
    dearer = text.replace("12500", "12600").encode()
    [change] = seller.listings.import_csv(dearer, dry_run=True).changes
    assert [(str(x.old), str(x.new)) for x in change.bands] == [("12500", "12600")]


def test_an_amount_with_more_decimals_than_the_currency_stays_whole(seller):
    seller.create(band(price="125.50"))
    seller.promises.change_book(currency="JPY", **IN_YEN)
    assert seller.export().endswith(",5,9.5,125.50\r\n")


def test_before_the_first_book_the_file_is_a_header(storage, clock):
    seller = Seller(Promises(storage, clock))
    assert seller.export() == HEADER + "\r\n"


def test_actual_costs_have_a_column_only_where_there_are_some(seller):
    seller.create(sku="a")
    seller.create(sku="b", kind="ready_made", actual_cost=Decimal("41.2"))
    written = rows(seller.export())
    assert list(written[0]) == [*HEADER.split(","), "actual_cost"]
    assert [each["actual_cost"] for each in written] == ["", "41.20"]
    assert seller.listings.import_csv(seller.export().encode()).unchanged == 2


def test_a_cost_goes_only_where_its_column_says_so(seller):
    seller.create(kind="ready_made", actual_cost=Decimal(40))
    full = seller.export()
    line = full.splitlines()[1].removesuffix(",40.00")
    without = f"{HEADER}\r\n{line}\r\n".encode()
    assert not seller.listings.import_csv(without).changes
    emptied = full.replace(",40.00", ",").encode()
    [change] = seller.listings.import_csv(emptied).changes
    assert change.members == ("actual_cost",)


def test_a_removed_listing_is_not_written(seller):
    seller.create()
    seller.listings.remove("ring-1")
    assert seller.export() == HEADER + "\r\n"


spelt = st.text(st.characters(exclude_categories=("C", "Zl", "Zp")), max_size=30)
formulas = st.tuples(st.sampled_from(["=", "+", "-", "@", "'=", "\u00a0="]), spelt)
titles = (
    (spelt | formulas.map("".join))
    .map(lambda text: unicodedata.normalize("NFC", text).strip())
    .filter(bool)
)
skus = st.text(string.ascii_letters + string.digits + "._-", min_size=1, max_size=12)
quarters = st.integers(0, 64).map(lambda n: Decimal(n) / 4)
amounts = st.integers(1, 10**11 - 1).map(lambda n: Decimal(n).scaleb(-2))


@st.composite
def band_lists(draw):
    ends = sorted(draw(st.sets(quarters, min_size=2, max_size=8)))
    pairs = zip(ends[::2], ends[1::2], strict=False)
    return [(low, high, draw(amounts)) for low, high in pairs]


@st.composite
def members(draw):
    ready = draw(st.booleans())
    return {
        "title": draw(titles),
        "kind": "ready_made" if ready else "made_to_order",
        "extras": tuple(draw(st.permutations(["box", "engraving"]))),
        "locked": draw(st.booleans()),
        "published": draw(st.booleans()),
        "channel": draw(st.sampled_from(["own_shop", "fair"])),
        "policy": draw(st.sampled_from(["retail", "trade"])),
        "actual_cost": draw(st.none() | amounts) if ready else None,
    }


shops = st.dictionaries(
    skus.filter(lambda sku: sku not in RESERVED),
    st.tuples(members(), band_lists()),
    max_size=4,
)
forms = st.builds(
    CsvForm, delimiter=st.sampled_from(DELIMITERS), decimal=st.sampled_from(MARKS)
)


def emptied(seller):
    text = seller.export()
    for sku in {each["sku"] for each in rows(text)}:
        seller.listings.remove(sku.removeprefix("'"))


def told(listing):
    """All of a listing that a file says."""
    bands = tuple((band.size_from, band.size_to, band.price) for band in listing.bands)
    return {
        name: getattr(listing, name)
        for name in (*TEXT_COLUMNS, "locked", "published", "actual_cost")
    } | {"bands": bands}


@settings(
    max_examples=thorough(15, 60),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(shops, forms)
def test_any_shop_comes_back_from_its_file(promises, shop, form):
    seller = Seller(promises)
    emptied(seller)
    for sku, (said, bands) in shop.items():
        sizes = [band(str(low), str(high), str(price)) for low, high, price in bands]
        seller.create(*sizes, sku=sku, **said)
    before = [told(seller.listings.get(sku)) for sku in shop]
    text = seller.export(form=form)
    same = seller.listings.import_csv(text.encode(), form)
    assert (same.changes, same.unchanged) == ((), len(shop))
    emptied(seller)
    report = seller.listings.import_csv(text.encode(), form)
    assert report.count("added") == len(shop)
    assert [told(seller.listings.get(sku)) for sku in shop] == before
    assert seller.export(form=form) == text
    for written in rows(text, form.delimiter):
        for name in TEXT_COLUMNS:
            assert written[name].lstrip()[:1] not in set("=+-@\t\r\n\0")
