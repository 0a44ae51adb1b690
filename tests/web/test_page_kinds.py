"""What a page may declare, each tried on a page made for it."""

from __future__ import annotations

import io

import pytest

from api.errors import Refused, invalid
from api.ports import Conflict, PreconditionFailed
from api.problems import BAD_REQUEST
from api.web.bench import style
from api.web.bench.style import Sample
from api.web.pages import Page, Pages, Redirect
from pricing.errors import InvalidInput

HEARD = "bench/style_heard.html"
probe = Pages("probe", title="Probe")
RAISED = {
    "conflict": Conflict("it is there already"),
    "moved": PreconditionFailed("moved", current=3),
    "refused": Refused(BAD_REQUEST, "not like this"),
    "items": invalid(({"detail": "odd", "pointer": "#/lines/0/a~1b"},)),
    "pricing": InvalidInput("too much", path=("price",)),
    "fault": ZeroDivisionError("a secret"),
}


@probe.get("/bench/probe")
def read(_):
    return Page(HEARD)


@probe.post("/bench/probe", again=read)
def tried(visit):
    raise RAISED[visit.form.text("name")]


@probe.post("/bench/probe/bare")
def bare(visit):
    raise RAISED[visit.form.text("name")]


@probe.post("/bench/probe/astray", again=lambda _: Redirect("/bench"))
def astray(visit):
    raise RAISED["conflict"]


@probe.post("/bench/probe/shown", once=True)
def shown(visit):
    return Page(HEARD, told_once=True)


@probe.post("/bench/probe/looked", once=True)
def looked(visit):
    if visit.form.wants("keep"):
        return Redirect("/bench/probe")
    visit.services.keys.create("window", "Never kept")
    return Page(HEARD)


@probe.post("/bench/probe/file", once=True)
def file(visit):
    length = len(visit.upload("file"))
    return Redirect(f"/bench?length={length}")


@probe.post("/bench/probe/upload", most_bytes=200_000)
def upload(visit):
    assert visit.upload("other") == b""
    return Redirect(f"/bench?length={len(visit.upload('file'))}")


@probe.post("/bench/probe/document")
def document(visit):
    return Redirect(f"/bench?price={visit.document(Sample())['price']}")


@probe.live("/bench/probe/part", part="alone", template=HEARD)
def alone(_):
    return {}


@pytest.fixture
def tries(desk_on, tmp_path):
    return desk_on(tmp_path / "probe.sqlite3", pages=(probe, style.pages))


def send(desk, path, values=(), **more):
    return desk.post(path, values, drawn="/bench/style", **more)


@pytest.mark.parametrize(
    ("name", "status", "said"),
    [
        ("conflict", 409, "It is there already."),
        ("moved", 412, "Somebody changed this"),
        ("refused", 400, "Not like this."),
        ("items", 422, "Odd."),
        ("pricing", 422, "Too much."),
    ],
)
def test_what_is_refused_is_told_in_the_page_drawn_again(tries, name, status, said):
    answer = send(tries, "/bench/probe", {"name": name})
    assert answer.status_code == status
    assert said in answer.text


def test_a_fault_of_the_program_is_a_page_that_tells_nothing(tries):
    answer = send(tries, "/bench/probe", {"name": "fault"})
    assert answer.status_code == 500
    assert answer.mimetype == "text/html"
    assert "a secret" not in answer.text


@pytest.mark.parametrize("path", ["/bench/probe/bare", "/bench/probe/astray"])
def test_without_a_form_to_draw_again_it_is_a_page_of_its_own(tries, path):
    answer = send(tries, path, {"name": "conflict"})
    assert answer.status_code == 409
    assert "it is there already" in answer.text


def test_what_is_shown_once_leads_back_when_it_is_sent_again(tries):
    sent = tries.marks("/bench/style")
    first, again = (
        tries.open("/bench/probe/shown", method="POST", data=sent) for _ in range(2)
    )
    assert first.status_code == 200
    assert (again.status_code, again.location) == (303, "/bench/probe/shown")


def test_what_is_only_drawn_is_drawn_again_and_stands_in_the_way_of_nothing(tries):
    sent = tries.marks("/bench/style")
    for values in ({"name": "a"}, {"name": "a"}, {"name": "b"}):
        answer = tries.open("/bench/probe/looked", method="POST", data=sent | values)
        assert answer.status_code == 200
    assert not tries.services.keys.list()
    kept = sent | {"name": "b", "_do": "keep"}
    for _ in range(2):
        answer = tries.open("/bench/probe/looked", method="POST", data=kept)
        assert answer.location == "/bench/probe"


def test_another_file_under_the_same_mark_is_no_file_that_was_sent_before(tries):
    sent = tries.marks("/bench/style")

    def answer(data):
        values = sent | {"file": (io.BytesIO(data), "rings.csv")}
        return tries.open("/bench/probe/file", method="POST", data=values)

    assert [answer(b"sku").location for _ in range(2)] == ["/bench?length=3"] * 2
    other = answer(b"sku,price")
    assert other.status_code == 400
    assert "was sent before" in other.text


def test_a_file_may_be_larger_than_a_form_where_that_is_said(tries):
    file = (io.BytesIO(b"x" * 150_000), "rings.csv")
    answer = send(tries, "/bench/probe/upload", {"file": file})
    assert answer.location == "/bench?length=150000"
    file = (io.BytesIO(b"x" * 250_000), "rings.csv")
    assert send(tries, "/bench/probe/upload", {"file": file}).status_code == 413
    large = {"name": "x" * 150_000}
    assert send(tries, "/bench/probe/bare", large).status_code == 413


def test_a_form_can_be_had_as_the_document_of_the_wire(tries):
    answer = send(tries, "/bench/probe/document", {"price": "12,50"})
    assert answer.location == "/bench?price=12.50"
    refused = send(tries, "/bench/probe/document", {"price": "many"})
    assert refused.status_code == 422
    assert "cannot be read" in refused.text


def test_an_address_of_parts_alone_takes_no_form(tries):
    headers = {"X-Part": "alone"}
    answer = send(tries, "/bench/probe/part", headers=headers)
    assert answer.headers["X-Part"] == "alone"
    assert send(tries, "/bench/probe/part").status_code == 405


@pytest.mark.parametrize("address", ["https://evil.example", "//evil", "/a\nb", "a"])
def test_a_redirect_leads_nowhere_else(address):
    with pytest.raises(ValueError, match="is not the path of a page"):
        Redirect(address)
