"""The price book over HTTP: read, replaced whole, every version kept."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from copy import deepcopy

import pytest

from tests.http.workshop import BOOK, faults

BOOK_URL = "/v1/price-book"
VERSIONS = "/v1/price-book/versions"


def dearer(rate="33.50"):
    book = deepcopy(BOOK)
    book["labour"]["rate_per_hour"] = rate
    return book


def test_the_book_is_read_as_it_was_stored(workshop):
    answer = workshop.get(BOOK_URL)
    assert answer.json == BOOK
    assert answer.headers["ETag"] == '"price_book-1"'


def test_a_book_that_has_not_changed_is_not_sent_again(workshop):
    answer = workshop.get(BOOK_URL, headers={"If-None-Match": '"price_book-1"'})
    assert answer.status_code == 304


def test_a_replaced_book_is_in_force_at_once(workshop):
    answer = workshop.change(f"{BOOK_URL}?note=New+wages", dearer())
    assert answer.status_code == 200
    assert answer.headers["ETag"] == '"price_book-2"'
    assert answer.json == workshop.get(BOOK_URL).json == dearer()
    asked = {
        "coin": "at_50s_1959_1973",
        "size": {"system": "us", "size": "10"},
        "spot": {"price": "27.50"},
    }
    assert workshop.post("/v1/estimates", asked).json["book_version"] == 2


def test_the_first_book_of_all_is_stored_where_there_is_none(bare_workshop):
    assert bare_workshop.get(BOOK_URL).status_code == 404
    answer = bare_workshop.put(BOOK_URL, BOOK, headers={"If-None-Match": "*"})
    assert answer.status_code == 201
    assert answer.headers["Location"] == BOOK_URL
    assert answer.headers["ETag"] == '"price_book-1"'
    assert bare_workshop.get(BOOK_URL).json == BOOK


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 428),
        ({"If-Match": '"price_book-0"'}, 412),
        ({"If-Match": "*"}, 412),
        ({"If-Match": "*", "If-None-Match": "*"}, 412),
        ({"If-None-Match": '"price_book-1"'}, 428),
    ],
)
def test_where_there_is_no_book_none_can_be_replaced(bare_workshop, headers, status):
    answer = bare_workshop.put(BOOK_URL, BOOK, headers=headers)
    assert answer.status_code == status
    assert bare_workshop.counts()["price_book_versions"] == 0


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 428),
        ({"If-Match": '"price_book-2"'}, 412),
        ({"If-Match": 'W/"price_book-1"'}, 412),
        ({"If-Match": "price_book-1"}, 400),
        ({"If-None-Match": "*"}, 412),
        ({"If-Match": '"price_book-9", "price_book-1"'}, 200),
        ({"If-Match": "*"}, 200),
    ],
)
def test_a_change_names_the_version_it_was_made_from(workshop, headers, status):
    answer = workshop.put(BOOK_URL, dearer(), headers=headers)
    assert answer.status_code == status
    kept = 2 if status == 200 else 1
    assert workshop.counts()["price_book_versions"] == kept


def test_the_key_counts_before_the_version(workshop):
    assert workshop.put(BOOK_URL, {}, key=None).status_code == 401
    assert workshop.put(BOOK_URL, {}, key="shop").status_code == 403


def test_of_two_changes_from_one_version_one_is_kept(workshop):
    def change(minor):
        return workshop.app.test_client().put(
            BOOK_URL,
            json=dearer(f"33.{minor}"),
            headers={
                "If-Match": '"price_book-1"',
                "Authorization": f"Bearer {workshop.tokens['bench']}",
            },
        ).status_code  # fmt: skip

    with ThreadPoolExecutor(8) as pool:
        statuses = sorted(pool.map(change, range(10, 18)))
    assert statuses == [200] + [412] * 7
    assert workshop.counts()["price_book_versions"] == 2


def test_a_bad_book_is_refused_whole_with_every_fault(workshop):
    bad = dearer()
    bad["labour"]["rate_per_hour"] = 33.5
    bad["stages"][1]["minutes"] = "two"
    bad["stages"][4]["redo"]["to"] = "anneal_9"
    bad["channels"][0]["fees"][0]["on"] = "everything"
    bad["policies"][0]["quantity_breaks"][1]["from"] = 4
    bad["colour"] = "black"
    before = workshop.counts()
    answer = workshop.change(BOOK_URL, bad)
    assert answer.status_code == 422
    assert answer.json["type"] == "/docs/problems/book-refused"
    assert set(faults(answer)) >= {
        "#/labour/rate_per_hour",
        "#/stages/1/minutes",
        "#/stages/4/redo/to",
        "#/channels/0/fees/0/on",
        "#/policies/0/quantity_breaks/1/from",
        "#/colour",
    }
    assert workshop.counts() == before
    assert workshop.get(BOOK_URL).json == BOOK


def test_more_faults_than_are_listed_are_counted(workshop):
    bad = dearer()
    bad["extras"] = [{"key": "NO"} for _ in range(60)]
    told = workshop.change(BOOK_URL, bad).json
    assert len(told["errors"]) == 50
    assert told["errors_left_out"] == 10


@pytest.mark.parametrize("body", [b"[]", b"7", b'"a book"', b"null", b"true"])
def test_a_book_is_an_object(workshop, body):
    answer = workshop.put(BOOK_URL, body, headers={"If-Match": "*"})
    assert answer.status_code == 422
    assert list(faults(answer)) == ["#"]


@pytest.mark.parametrize("query", ["note=" + "x" * 201, "note=a%0Ab", "why=x"])
def test_a_note_that_cannot_be_kept_is_refused(workshop, query):
    answer = workshop.put(f"{BOOK_URL}?{query}", dearer(), headers={"If-Match": "*"})
    assert answer.status_code == 422
    assert workshop.counts()["price_book_versions"] == 1


def test_versions_are_listed_from_the_newest(workshop):
    for rate in ("33", "34", "35"):
        workshop.change(f"{BOOK_URL}?note=Wages+{rate}", dearer(rate))
    first = workshop.get(f"{VERSIONS}?limit=2")
    told = first.json["versions"]
    assert [(one["version"], one["note"]) for one in told] == [
        (4, "Wages 35"),
        (3, "Wages 34"),
    ]
    bench = workshop.tokens["bench"].split("_")[2]
    assert {one["by"] for one in told} == {bench}
    following = first.headers["Link"].partition(">")[0].removeprefix("<")
    rest = workshop.get(following)
    assert [one["version"] for one in rest.json["versions"]] == [2, 1]
    assert "Link" not in rest.headers


def test_before_the_first_book_there_are_no_versions(bare_workshop):
    assert bare_workshop.get(VERSIONS).json == {"versions": []}
    assert bare_workshop.get(f"{VERSIONS}/1").status_code == 404


def test_an_old_version_is_read_as_it_was(workshop):
    workshop.change(BOOK_URL, dearer())
    old = workshop.get(f"{VERSIONS}/1")
    assert (old.json, old.headers["ETag"]) == (BOOK, '"price_book-1"')
    assert workshop.get(f"{VERSIONS}/2").json == dearer()


def test_what_a_version_changed_is_told_for_a_person(workshop):
    book = dearer()
    book["extras"].pop()
    workshop.change(BOOK_URL, book)
    told = workshop.get(f"{VERSIONS}/2/changes").json
    assert (told["version"], told["since"]) == (2, 1)
    [wage, extra] = told["changes"]
    assert wage == {
        "path": "labour.rate_per_hour",
        "before": "32.00",
        "after": "33.50",
    }
    assert (extra["path"], extra["after"]) == ("extras.sulphur_patina", None)


def test_the_first_version_changed_nothing(workshop):
    told = workshop.get(f"{VERSIONS}/1/changes").json
    assert told == {"version": 1, "since": None, "changes": []}


@pytest.mark.parametrize("number", ["0", "2", "-1", "x", "1.0", "9" * 12])
@pytest.mark.parametrize("rest", ["", "/changes"])
def test_a_version_that_is_not_there_is_not_found(workshop, number, rest):
    assert workshop.get(f"{VERSIONS}/{number}{rest}").status_code == 404
