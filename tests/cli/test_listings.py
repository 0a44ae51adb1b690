"""`fineweight listings`: listed, shown, written to a file and read from one."""

from __future__ import annotations

import json
import stat
from decimal import Decimal
from pathlib import Path

import pytest

from tests.cli.quoting import workshop
from tests.services.selling import HEADER, asked, band, csv_file, row


@pytest.fixture
def services(tmp_path, clock):
    with workshop(tmp_path / "workshop.sqlite3", clock) as composed:
        yield composed


def add(services, *bands, **members):
    return services.listings.create(asked(*bands, **members))


def test_listings_are_listed_with_their_prices(run, services):
    add(services, sku="a", title="One", published=True, locked=True)
    add(services, band("8", "8"), band("10", "12.5", "200"), sku="b")
    done = run("listings", "list")
    assert (done.exit_code, done.stderr) == (0, "")
    heading, second, first = done.stdout.splitlines()
    assert heading.split() == ["sku", "title", "coin", "sizes", "EUR"]
    assert "8, 10 to 12.5" in second
    assert "189.95 to 200.00" in second
    assert second.endswith("not published")
    assert first.split()[0] == "a"
    assert first.endswith("189.95  published, locked")


def test_amounts_are_shown_with_the_decimals_of_the_currency(run, services):
    yen = {
        "currency": "JPY",
        "channels": [{"key": "own_shop"}],
        "policies": [{"key": "retail", "target_margin": "0.35"}],
    }
    document = json.loads(services.price_books.stored().document) | yen
    services.price_books.replace(document, expected=1)
    cost = Decimal(4200)
    add(services, band(price="12500"), kind="ready_made", actual_cost=cost)
    told = run("listings", "show", "ring-1").stdout
    assert "4200\n" in told
    assert told.count("12500") == 2
    assert "00.00" not in told


@pytest.mark.parametrize(
    ("options", "found"),
    [
        (("--kind", "ready_made"), ["b"]),
        (("--coin", "at_50s_1959_1973"), ["b", "a"]),
        (("--published",), ["a"]),
        (("--unpublished",), ["b"]),
        (("--locked",), []),
        (("--unlocked",), ["b", "a"]),
        (("--text", "ONE"), ["a"]),
        (("--limit", "1"), ["b"]),
    ],
)
def test_the_list_can_be_narrowed(run, services, options, found):
    add(services, sku="a", title="One", published=True)
    add(services, sku="b", title="Two", kind="ready_made")
    done = run("listings", "list", *options, "--json")
    assert [each["sku"] for each in json.loads(done.stdout)["listings"]] == found
    assert ("no such listing" in done.stderr) == (not found)
    assert ("There are older ones" in done.stderr) == ("--limit" in options)


def test_an_empty_shop_says_how_to_fill_it(run, services):
    done = run("listings", "list")
    assert (done.exit_code, done.stdout.strip()) == (0, "")
    assert "listings import" in done.stderr


def test_a_listing_is_shown_with_the_history_of_its_prices(run, services):
    add(services, kind="ready_made", actual_cost=Decimal(41), extras=("box",))
    services.listings.replace("ring-1", asked(band(price="199.95"), extras=("box",)))
    done = run("listings", "show", "ring-1")
    assert done.exit_code == 0
    for words in ("A band ring", "made to order", "box", "5 to 9.5  199.95", "edited"):
        assert words in done.stdout, words
    history = done.stdout.split("\n\n")[2].splitlines()
    assert [line.split()[-2:] for line in history[1:]] == [
        ["199.95", "edited"],
        ["189.95", "created"],
    ]
    told = json.loads(run("listings", "show", "ring-1", "--json").stdout)
    assert (told["sku"], told["bands"][0]["price"]) == ("ring-1", "199.95")


def test_what_is_not_there_is_not_shown(run, services):
    done = run("listings", "show", "nothing")
    assert done.exit_code == 1
    assert "no listing 'nothing'" in done.stderr


@pytest.fixture
def file(tmp_path):
    """Writes a file and says where it is."""

    def write(data):
        found = tmp_path / "listings.csv"
        found.write_bytes(data)
        return found

    return write


def test_a_file_is_imported_and_again_without_effect(run, services, file):
    path = file(csv_file(row(), row("two", "10", "11", price="")))
    done = run("listings", "import", path)
    assert done.exit_code == 0
    assert [line.split()[:2] for line in done.stdout.splitlines()[1:]] == [
        ["2", "ring-1"],
        ["3", "two"],
    ]
    assert done.stderr == "2 rows: 2 listings added, 0 changed, 0 unchanged.\n"
    assert services.listings.get("two").changed_by
    again = run("listings", "import", path)
    assert again.stdout.strip() == ""
    assert "0 listings added, 0 changed, 2 unchanged" in again.stderr


def test_a_dry_run_says_what_would_change_and_changes_nothing(run, services, file):
    add(services, band("5", "6", "10"), band("7", "8", "20"))
    path = file(csv_file(row(price="12", title="New"), row("two")))
    done = run("listings", "import", path, "--dry-run")
    lines = [" ".join(line.split()) for line in done.stdout.splitlines()]
    assert lines == [
        "row sku sizes old new",
        "2 ring-1 changed: title",
        "2 ring-1 5 to 6 10.00 removed",
        "2 ring-1 5 to 9.5 12.00 new",
        "2 ring-1 7 to 8 20.00 removed",
        "3 two 5 to 9.5 189.95 new",
    ]
    assert "1 listing would be added, 1 would be changed" in done.stderr
    assert services.listings.get("ring-1").title == "A band ring"


def test_a_changed_price_is_told_with_the_old_one(run, services, file):
    add(services, band(price="10"))
    done = run("listings", "import", file(csv_file(row(price="12"))))
    assert "10.00  12.00" in done.stdout.splitlines()[1]


def test_a_file_of_another_dialect_is_read_as_it_is_said_to_be(run, services, file):
    text = f"Nr;Titel;{HEADER.replace(',', ';')}\na;Größe;x;y;made_to_order;".encode()
    text += b"at_50s_1959_1973;own_shop;retail;;no;yes;5;9,5;99,9\n"
    done = run(
        "listings", "import", file(text), "--delimiter", ";", "--decimal", ",",
        "--map", "sku=Nr", "--map", "title= Titel ", "--json",
    )  # fmt: skip
    report = json.loads(done.stdout)
    assert (report["added"], report["ignored"]) == (1, ["sku", "title"])
    assert services.listings.get("a").title == "Größe"
    assert "mean nothing here: sku, title" in done.stderr


def test_standard_input_and_tabs_are_taken(run, services):
    text = csv_file(row()).replace(b",", b"\t")
    done = run("listings", "import", "-", "--delimiter", "tab", input=text)
    assert done.exit_code == 0
    assert services.listings.get("ring-1")


def test_every_row_at_fault_is_named(run, services, file):
    rows = [row(f"ring-{n}") for n in range(6000)]
    rows[100] = row("ring-100", policy="nothing")
    rows[5999] = row("ring-5999", price="x")
    done = run("listings", "import", file(csv_file(*rows)))
    assert (done.exit_code, done.stdout) == (1, "")
    first, second, third = done.stderr.splitlines()
    assert "2 rows have faults and nothing was imported" in first
    assert second.startswith("  row 102, policy: ")
    assert third.startswith("  row 6001, price: ")
    assert run("listings", "list").stdout.strip() == ""


@pytest.mark.parametrize(
    "pair", ["title", "cost=Kosten", "title=", "title= ", "=Titel", ""]
)
def test_a_mapping_that_is_none_is_a_usage_error(run, services, file, pair):
    done = run("listings", "import", file(b""), "--map", pair)
    assert done.exit_code == 2
    assert "no pair such as title=Name" in done.stderr


def test_a_column_is_mapped_once(run, services, file):
    twice = ("--map", "title=A", "--map", "title=B")
    assert run("listings", "import", file(b""), *twice).exit_code == 2


def test_a_file_that_is_not_there_is_a_usage_error(run, services, tmp_path):
    assert run("listings", "import", tmp_path / "nothing.csv").exit_code == 2


def test_listings_are_exported_and_come_back(run, services, tmp_path):
    add(services, title="=1+1")
    add(services, band(price="1234.5"), sku="b")
    path = tmp_path / "out.csv"
    options = ("--delimiter", ";", "--decimal", ",")
    done = run("listings", "export", path, *options)
    assert (done.exit_code, done.stdout) == (0, "")
    assert done.stderr == "2 listings written.\n"
    data = path.read_bytes()
    assert data.count(b"\r\n") == 3
    assert b"b;A band ring;" in data
    assert b";'=1+1;" in data
    assert b";5;9,5;1234,50\r\n" in data
    again = run("listings", "import", path, *options)
    assert "2 unchanged" in again.stderr


def test_an_export_goes_to_standard_output_unless_a_file_is_said(run, services):
    add(services)
    done = run("listings", "export")
    assert done.stdout_bytes == csv_file(row())
    assert done.stderr == "1 listing written.\n"


def test_an_export_for_programs_tells_of_its_file(run, services, tmp_path):
    add(services)
    path = tmp_path / "out.csv"
    done = run("listings", "export", path, "--json")
    assert json.loads(done.stdout) == {"file": str(path), "listings": 1}
    refused = run("listings", "export", "--json")
    assert refused.exit_code == 2
    assert "say a FILE" in refused.stderr


def test_a_failing_export_leaves_the_old_file(run, services, tmp_path, monkeypatch):
    path = tmp_path / "out.csv"
    path.write_text("old")

    def half(put, _):
        put("half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(services.listings, "export_csv", half, raising=False)
    done = run("listings", "export", path)
    assert done.exit_code == 2
    assert "No space left" in done.stderr
    assert path.read_text() == "old"
    assert not list(tmp_path.glob(".*"))


def test_an_export_keeps_the_rights_of_the_file_it_replaces(run, services, tmp_path):
    path, new = tmp_path / "out.csv", tmp_path / "new.csv"
    path.touch(0o640)
    path.chmod(0o640)
    for each in (path, new):
        assert run("listings", "export", each).exit_code == 0
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    plain = tmp_path / "plain"
    plain.touch()
    assert new.stat().st_mode == plain.stat().st_mode


def test_what_is_no_file_is_written_to_as_it_is(run, services):
    assert run("listings", "export", "/dev/null").exit_code == 0
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)
    full = run("listings", "export", "/dev/full")
    assert full.exit_code == 2
    assert "No space left" in full.stderr


def test_a_folder_that_cannot_be_written_is_a_usage_error(run, services, tmp_path):
    done = run("listings", "export", tmp_path / "nothing" / "out.csv")
    assert done.exit_code == 2
    assert "cannot be written" in done.stderr
