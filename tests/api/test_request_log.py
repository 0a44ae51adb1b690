"""Log lines: one for each request, whatever is in the request."""

from __future__ import annotations

import json
import logging

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from api.app import create_app
from api.request_log import log_failure
from tests.http.fakes import SETTINGS, FakeServices

FORGED = '{"event": "request", "method": "GET", "path": "/livez", "status": 200}'
TRICKS = {
    "line feed": "\n",
    "carriage return": "\r",
    "escape": "\x1b[1A\x1b[2K",
    "delete": "\x7f",
    "next line": "\x85",
    "control sequence": "\x9b2J",
    "turn round": "\u202e",
    "line separator": "\u2028",
    "paragraph separator": "\u2029",
    "quotes": '", "status": 200, "path": "',
    "a backslash": "\\",
}
anything = st.text(st.characters(exclude_categories=("Cs",)), max_size=40)


@pytest.fixture(scope="module")
def app():
    return create_app(SETTINGS, FakeServices(), pages=())


class Lines(logging.Handler):
    """Keeps what the log of requests says."""

    def __init__(self):
        super().__init__()
        self.said = []

    def emit(self, record):
        self.said.append(record.getMessage())


@pytest.fixture
def lines():
    kept, log = Lines(), logging.getLogger("api.requests")
    before = log.level
    log.addHandler(kept)
    log.setLevel(logging.INFO)
    yield kept.said
    log.setLevel(before)
    log.removeHandler(kept)


def asked(app, path, method="GET"):
    environ = {"PATH_INFO": path.encode().decode("latin-1"), "REQUEST_METHOD": method}
    return app.test_client().open("/", environ_overrides=environ)


def the_one(lines):
    """The only line that was said, which is one and shows nothing but itself."""
    [line] = lines
    lines.clear()
    assert line.isascii()
    assert line.isprintable()
    return json.loads(line)


@pytest.mark.parametrize("trick", TRICKS.values(), ids=TRICKS)
def test_a_path_is_told_as_it_was_and_forges_nothing(app, lines, trick):
    path = f"/v1/a{trick}{FORGED}"
    answer = asked(app, path)
    told = the_one(lines)
    assert told["path"] == path
    assert told["status"] == answer.status_code == 404


@pytest.mark.parametrize("trick", TRICKS.values(), ids=TRICKS)
def test_a_method_forges_nothing(app, lines, trick):
    method = f"GET{trick}{FORGED}"
    answer = asked(app, "/livez", method)
    told = the_one(lines)
    assert told["method"] == method.upper()
    assert told["status"] == answer.status_code == 405


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(path=anything, header=anything.map(lambda text: text.replace("\n", "")))
def test_any_request_is_one_line(app, lines, path, header):
    environ = {
        "PATH_INFO": f"/{path}".encode().decode("latin-1"),
        "HTTP_TRACEPARENT": header,
        "HTTP_AUTHORIZATION": header,
        "QUERY_STRING": "",
    }
    answer = app.test_client().open("/", environ_overrides=environ)
    told = the_one(lines)
    assert told["event"] == "request"
    assert told["status"] == answer.status_code
    assert told["request"] == answer.headers["X-Request-Id"]
    assert len(told["request"]) == 32


@pytest.mark.parametrize("trick", TRICKS.values(), ids=TRICKS)
def test_the_text_of_a_fault_forges_nothing(app, lines, trick):
    with app.test_request_context("/livez"):
        log_failure(LookupError(f"a{trick}{FORGED}"))
    told = the_one(lines)
    assert told["event"] == "failure"
    assert f"a{trick}{FORGED}" in told["trace"]


TOKEN = "Zm9yIHRoZSBjdXN0b21lcidzIGV5ZXM_"


@pytest.mark.parametrize(
    ("path", "shown"),
    [
        (f"/quotes/{TOKEN}", "/quotes/…"),
        (f"/x/quotes/{TOKEN}", "/x/quotes/…"),
        (f"/x/quotes/{TOKEN}/print", "/x/quotes/…"),
        (f"/x/v1/quotes/{TOKEN}", "/x/v1/quotes/…"),
        (f"/v1/x/quotes/{TOKEN}", "/v1/x/quotes/…"),
        (f"/v1/quotes/x/quotes/{TOKEN}", "/v1/quotes/x/quotes/…"),
        (f"/x//quotes//{TOKEN}", "/x//quotes/…"),
        (f"/Quotes/{TOKEN}", "/Quotes/…"),
        (f"/quotes%2F{TOKEN}", "/quotes%2F…"),
        (f"/x\n/quotes/\n{TOKEN}", "/x\n/quotes/…"),
        (f"/{'x' * 190}/quotes/{TOKEN}", f"/{'x' * 190}/quotes/…"),
    ],
)
def test_the_address_of_a_sheet_is_never_told(app, lines, path, shown):
    asked(app, path)
    assert json.loads(lines[-1])["path"] == shown
    assert TOKEN not in "".join(lines)


@pytest.mark.parametrize("path", ["/v1/quotes/zQ0r9sHq3mX1vT7cLd5w2A/sheet", "/quotes"])
def test_other_paths_of_quotes_are_told(app, lines, path):
    asked(app, path)
    assert the_one(lines)["path"] == path
