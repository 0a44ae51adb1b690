"""Listings from a spreadsheet: looked at, mended, read in at once; and into one."""

from __future__ import annotations

import io
import re
from decimal import Decimal

import pytest

FILES, EXPORT = "/bench/listings/import", "/bench/listings/export"
HEADER = "sku,title,kind,coin,channel,policy,from,to,price"
RING = "ring-new,Ring,made_to_order,at_50s_1959_1973,own_shop,retail,5,12,"
PLAIN = {"delimiter": "comma", "decimal": "point", "_do": "look"}


def sent(desk, *rows, header=HEADER, **more):
    """The page after a file of these rows was sent."""
    file = (io.BytesIO("\r\n".join((header, *rows)).encode()), "shop.csv")
    return desk.post(FILES, PLAIN | more | {"file": file})


def carried(page):
    """What the page carries on of the file."""
    return re.search(r'name="_file" value="([^"]*)"', page.text)[1]


def skus(desk):
    every = desk.services.storage.read(lambda unit: [*unit.listings.each()])
    return {each.sku for each in every}


def test_what_a_file_would_change_is_seen_before_it_is_read_in(desk):
    look = sent(desk, RING, "ring-50s,,,,,,5,9.5,175")
    assert look.status_code == 200
    before = skus(desk)
    assert "faults" in look.text  # the title is empty there
    look = sent(desk, RING)
    assert "What would change" in look.text
    assert "€169.95" in look.text
    assert skus(desk) == before
    done = desk.post(FILES, PLAIN | {"_file": carried(look), "_do": "import"})
    assert done.headers["Location"] == "/bench/listings?done=imported"
    assert skus(desk) == before | {"ring-new"}


def test_the_same_file_again_changes_nothing(desk):
    look = sent(desk, RING)
    again = PLAIN | {"_file": carried(look), "_do": "import"}
    desk.post(FILES, again)
    twice = desk.post(FILES, again)
    assert twice.status_code == 200
    assert "The file says nothing new" in twice.text


def test_every_row_at_fault_is_named_and_nothing_is_read_in(desk):
    before = skus(desk)
    rows = [RING, RING.replace("5,12", "x,12"), "ring-odd,Odd,other,c,s,p,5,6,7"]
    look = sent(desk, *rows)
    for row in (3, 4):
        assert re.search(rf'<th scope="row" class="num">{row}</th>', look.text)
    assert re.search("no number", look.text)
    assert "To mend" in look.text
    done = desk.post(FILES, PLAIN | {"_file": carried(look), "_do": "import"})
    assert done.status_code == 200
    assert skus(desk) == before


def test_other_headings_are_matched_by_hand(desk):
    header = "Artikel,Name,Art,Coin,channel,policy,von,bis,Preis"
    look = sent(desk, RING + "99.90", header=header)
    assert "there is no column of this heading" in look.text.casefold()
    mapped = {"sku": "Artikel", "title": "Name", "kind": "Art", "from": "von"}
    chosen = mapped | {"to": "bis", "price": "Preis"}
    columns = {f"_column-{name}": heading for name, heading in chosen.items()}
    again = desk.post(FILES, PLAIN | columns | {"_file": carried(look)})
    assert "€99.90" in again.text
    assert '<option value="Artikel" selected>' in again.text
    assert '<option value="Coin" selected>' in again.text  # of the same name
    done = desk.post(
        FILES, PLAIN | columns | {"_file": carried(again), "_do": "import"}
    )
    assert done.status_code == 303
    assert desk.services.listings.get("ring-new").bands[0].price == Decimal("99.90")


def test_what_was_not_looked_at_is_not_read_in(desk):
    header = HEADER + ",other"
    look = sent(desk, RING + "99.90,9.99", header=header)
    seen = re.search('name="_seen" value="([^"]+)"', look.text)[1]
    carry = PLAIN | {"_file": carried(look), "_seen": seen, "_do": "import"}
    before = skus(desk)
    again = desk.post(FILES, carry | {"_column-price": "other"})
    assert "nothing was read in yet" in again.text
    assert "€9.99" in again.text
    assert skus(desk) == before
    carry["_seen"] = re.search('name="_seen" value="([^"]+)"', again.text)[1]
    assert carry["_seen"] != seen
    done = desk.post(FILES, carry | {"_column-price": "other"})
    assert done.status_code == 303
    assert desk.services.listings.get("ring-new").bands[0].price == Decimal("9.99")


def test_a_heading_of_the_same_name_can_be_passed_over(desk):
    header = HEADER.replace("price", "Price")
    look = sent(desk, RING + "99.90", header=header)
    assert "€99.90" in look.text
    field = look.text.partition('name="_column-price"')[2].partition("</select>")[0]
    [passed] = re.findall('value="([^"]*)">not in the file', field)
    chosen = PLAIN | {"_file": carried(look), "_column-price": passed}
    again = desk.post(FILES, chosen)
    assert "€99.90" not in again.text
    assert f'value="{passed}">not in the file' in again.text
    desk.post(FILES, chosen | {"_do": "import"})
    assert desk.services.listings.get("ring-new").bands[0].price == Decimal("169.95")


def test_a_file_of_another_country_is_read_as_it_is_said_to_be(desk):
    german = desk.get(FILES, **{"Accept-Language": "de"})
    assert '<option value="semicolon" selected>' in german.text
    look = sent(desk, RING + "99.90")
    odd = desk.post(FILES, PLAIN | {"_file": carried(look), "delimiter": "tab"})
    assert "is it another?" in odd.text
    header, row = HEADER.replace(",", ";"), RING.replace(",", ";") + "99,90"
    look = sent(desk, row, header=header, delimiter="semicolon", decimal="comma")
    assert "€99.90" in look.text


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({}, "choose a file"),
        ({"_file": "@@"}, "choose it again"),
        ({"_file": "x" * 100, "delimiter": "dots"}, "choose it again"),
    ],
)
def test_what_is_no_file_is_refused(shared_desk, values, said):
    answer = shared_desk.post(FILES, PLAIN | values)
    assert answer.status_code == 422
    assert said in answer.text.casefold()


def test_a_way_of_writing_that_is_not_known_is_refused(shared_desk):
    assert sent(shared_desk, RING, delimiter="dots").status_code == 422


def test_bytes_that_are_no_text_are_told_with_their_row(shared_desk):
    file = (io.BytesIO(HEADER.encode() + b"\r\n\xff\xfe"), "shop.csv")
    look = shared_desk.post(FILES, PLAIN | {"file": file})
    assert "is not UTF-8" in look.text


def test_a_file_too_large_is_refused(shared_desk):
    file = b'\r\nContent-Disposition: form-data; name="file"; filename="f"\r\n\r\n'
    marks = "".join(
        f'--x\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'
        for name, value in shared_desk.marks(FILES).items()
    )
    answer = shared_desk.open(
        FILES,
        method="POST",
        data=marks.encode() + b"--x" + file + b"x" * 2_000_001 + b"\r\n--x--\r\n",
        content_type="multipart/form-data; boundary=x",
    )
    assert answer.status_code == 422
    assert "2 MB; send it in parts" in answer.text


def test_many_faults_and_changes_are_cut_short(desk):
    many = [RING.replace("ring-new", f"ring-{n}") + "150" for n in range(130)]
    assert "… and 30 more listings" in sent(desk, *many).text
    odd = [each.replace(",5,12,", ",y,12,") for each in many]
    look = sent(desk, *odd)
    assert "… and 30 more faults" in look.text
    assert "130 rows have faults" in look.text


def test_the_shop_is_saved_as_a_file_that_can_be_read_in_again(shared_desk):
    saved = shared_desk.get(f"{EXPORT}?delimiter=semicolon&decimal=comma")
    assert saved.headers["Content-Disposition"].endswith('filename="listings.csv"')
    assert saved.content_type == "text/csv; charset=utf-8; header=present"
    # Without it spreadsheets read another encoding (RFC 3629 §6, the signature).
    assert saved.data.startswith(b"\xef\xbb\xbfsku;")
    assert ";9,5;169,95" in saved.text
    look = shared_desk.post(
        FILES,
        {
            "delimiter": "semicolon",
            "decimal": "comma",
            "file": (io.BytesIO(saved.data), "listings.csv"),
        },
    )
    assert "nothing new" in look.text
    assert shared_desk.get(f"{EXPORT}?delimiter=dots").status_code == 404
