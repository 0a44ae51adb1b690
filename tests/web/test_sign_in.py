"""Sessions, signing in, and forms that are not ours, clause by clause."""

from __future__ import annotations

import hashlib
import re
import shutil
from urllib.parse import parse_qs, urlsplit

import pytest

from api.app import PAGES
from api.ports import AuditFilter
from api.services import passphrase
from tests.web.desk import Desk

PASSPHRASE = "fold forge bore 71 bands"
AFAR = {"REMOTE_ADDR": "203.0.113.9"}
SIGN_IN, STYLE = "/bench/sign-in", "/bench/style"
GOOD = {"name": "A ring", "price": "12.50"}


class FarDesk(Desk):
    """A browser on another machine, over HTTPS."""

    def __post_init__(self):
        super().__post_init__()
        self.base_url = "https://rings.example"
        self.client.environ_base |= AFAR

    def sign_in(self, given=PASSPHRASE, **more):
        return self.post(SIGN_IN, {"passphrase": given}, **more)

    def cookie(self):
        """What the browser is known by."""
        for name in ("__Host-fineweight", "fineweight"):
            found = self.client.get_cookie(name, "rings.example")
            if found:
                return found.value
        return None


@pytest.fixture(autouse=True)
def quick_hash(monkeypatch):
    """A passphrase is worked on as briefly as can be."""
    monkeypatch.setattr(passphrase, "_N", 2)


@pytest.fixture
def file(filled_file, tmp_path):
    copy = tmp_path / "far.sqlite3"
    shutil.copy(filled_file, copy)
    return copy


@pytest.fixture
def far(desk_on, file, clock):
    """A browser afar, before a workshop with a passphrase."""
    desk = desk_on(file, clock=clock)
    desk.services.sessions.set_passphrase(PASSPHRASE)
    return FarDesk(desk.app, desk.services)


def other(far):
    """Another browser before the same workshop."""
    return FarDesk(far.app, far.services)


def test_on_this_machine_nobody_signs_in(desk):
    answer = desk.get(STYLE)
    assert answer.status_code == 200
    [cookie] = answer.headers.getlist("Set-Cookie")
    assert cookie.startswith("fineweight=")
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    assert "Path=/" in cookie
    assert "Secure" not in cookie
    assert not desk.get(STYLE).headers.getlist("Set-Cookie")


def test_elsewhere_one_is_led_to_sign_in_and_back(far):
    answer = far.get(f"{STYLE}?done=tried")
    assert answer.status_code == 303
    asked = urlsplit(answer.headers["Location"])
    assert asked.path == SIGN_IN
    assert parse_qs(asked.query) == {"next": [f"{STYLE}?done=tried"]}
    answer = far.post(answer.headers["Location"], {"passphrase": PASSPHRASE})
    assert answer.headers["Location"] == f"{STYLE}?done=tried"
    assert far.get(STYLE).status_code == 200


def test_the_cookie_of_https_is_bound_to_the_host(far):
    [cookie] = far.sign_in().headers.getlist("Set-Cookie")
    assert cookie.startswith("__Host-fineweight=")
    for part in ("Secure", "HttpOnly", "SameSite=Lax", "Path=/"):
        assert part in cookie
    assert "Domain" not in cookie


def test_signing_in_gives_a_new_id_and_the_old_one_opens_nothing(far):
    far.get(SIGN_IN)
    before = far.cookie()
    far.sign_in()
    after = far.cookie()
    assert before != after
    far.client.set_cookie("__Host-fineweight", before, domain="rings.example")
    assert far.get(STYLE).status_code == 303


def test_only_a_digest_is_kept(far, file):
    far.sign_in()
    # What was written last is in a file beside the database.
    kept = b"".join(one.read_bytes() for one in file.parent.glob(f"{file.name}*"))
    assert hashlib.sha256(far.cookie().encode()).hexdigest().encode() in kept
    assert far.cookie().encode() not in kept
    assert PASSPHRASE.encode() not in kept


@pytest.mark.parametrize("minutes", [59, 61])
def test_a_session_that_idles_ends_after_an_hour(far, clock, minutes):
    far.sign_in()
    clock.advance(minutes=minutes)
    assert far.get(STYLE).status_code == (200 if minutes < 60 else 303)


def test_a_session_ends_after_twelve_hours_however_busy(far, clock):
    far.sign_in()
    for _ in range(23):
        clock.advance(minutes=30)
        assert far.get(STYLE).status_code == 200
    clock.advance(minutes=30)
    assert far.get(STYLE).status_code == 303


def test_signing_out_ends_the_session_on_the_server(far):
    far.sign_in()
    stolen = far.cookie()
    answer = far.post("/bench/sign-out")
    assert answer.headers["Location"] == f"{SIGN_IN}?done=out"
    assert "You are signed out." in far.get(answer.headers["Location"]).text
    thief = other(far)
    thief.client.set_cookie("__Host-fineweight", stolen, domain="rings.example")
    assert thief.get(STYLE).status_code == 303


def test_another_passphrase_ends_every_session(far):
    far.sign_in()
    far.services.sessions.set_passphrase("cone mandrel slug 4 reeded")
    assert far.get(STYLE).status_code == 303


@pytest.mark.parametrize("proof", ["", "old", "another's", "not ASCII"])
def test_a_form_without_its_own_proof_is_refused_and_shown_back(far, proof):
    far.get(SIGN_IN)
    proofs = {"": "", "old": far.marks(SIGN_IN)["_csrf"], "not ASCII": "é" * 64}
    far.sign_in()
    second = other(far)
    second.sign_in()
    proofs["another's"] = second.marks(STYLE)["_csrf"]
    answer = far.post(STYLE, GOOD | {"_csrf": proofs[proof]})
    assert answer.status_code == 403
    assert "A ring" in answer.text
    assert far.post(STYLE, GOOD).status_code == 303


def test_a_form_that_comes_without_any_session_is_refused(desk):
    answer = desk.client.post(STYLE, data=GOOD)
    assert answer.status_code == 403
    assert "A ring" in answer.text


def test_a_form_of_a_session_that_is_over_is_shown_back(far, clock):
    far.sign_in()
    marks = far.marks(STYLE)
    clock.advance(hours=2)
    answer = far.open(STYLE, method="POST", data=marks | GOOD)
    assert answer.status_code == 403
    assert "A ring" in answer.text
    assert "Your session is over." in answer.text
    assert f'href="{SIGN_IN}?next={STYLE}"' in answer.text


@pytest.mark.parametrize(
    ("sent", "page"),
    [
        (STYLE, STYLE),
        ("/bench/quotes/a%20b/accept", "/bench/quotes/a%20b/accept"),
        ("/bench/week/2026-W48/accept", "/bench/week/2026-W48"),
    ],
)
def test_a_form_that_is_not_taken_leads_back_to_its_page(desk, sent, page):
    answer = desk.client.post(sent, data=GOOD)
    assert answer.status_code == 403
    assert f'<a href="{page}">Load the page anew</a>' in answer.text


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Origin": "https://evil.example"}, 403),
        ({"Sec-Fetch-Site": "same-origin", "Origin": "null"}, 303),
        ({"Sec-Fetch-Site": "same-origin", "Origin": "http://localhost"}, 303),
    ],
)
def test_a_form_of_another_site_is_refused(desk, headers, status):
    answer = desk.post(STYLE, GOOD, headers=headers)
    assert answer.status_code == status


def test_five_wrong_ones_from_an_address_have_to_wait(far, clock):
    answers = [far.sign_in("wrong " * n) for n in range(1, 6)]
    assert {one.status_code for one in answers} == {422}
    late = far.sign_in()
    assert late.status_code == 429
    assert int(late.headers["Retry-After"]) == 900
    clock.advance(minutes=15, seconds=1)
    assert far.sign_in().status_code == 303


def test_who_has_to_wait_has_to_after_a_restart_too(far, desk_on, file, clock):
    for _ in range(5):
        far.sign_in("wrong")
    again = desk_on(file, clock=clock)
    assert FarDesk(again.app, again.services).sign_in().status_code == 429


def test_twenty_wrong_ones_from_everywhere_have_to_wait(far):
    for n in range(20):
        far.client.environ_base["REMOTE_ADDR"] = f"203.0.113.{n // 5}"
        assert far.sign_in("wrong").status_code == 422
    far.client.environ_base["REMOTE_ADDR"] = "203.0.113.77"
    assert far.sign_in().status_code == 429


def test_addresses_of_one_ipv6_site_count_as_one(far):
    for n in range(5):
        far.client.environ_base["REMOTE_ADDR"] = f"2001:db8::{n}"
        far.sign_in("wrong")
    far.client.environ_base["REMOTE_ADDR"] = "2001:db8::99"
    assert far.sign_in().status_code == 429


def test_ipv4_addresses_written_as_ipv6_ones_are_each_one_of_their_own(far):
    for _ in range(5):
        far.client.environ_base["REMOTE_ADDR"] = "::ffff:203.0.113.8"
        far.sign_in("wrong")
    far.client.environ_base["REMOTE_ADDR"] = "203.0.113.8"
    assert far.sign_in().status_code == 429
    far.client.environ_base["REMOTE_ADDR"] = "::ffff:203.0.113.9"
    assert far.sign_in().status_code == 303


def test_a_right_one_does_not_count(far):
    for _ in range(7):
        assert far.sign_in().status_code == 303
        far.post("/bench/sign-out")


def test_every_wrong_one_is_answered_alike(far):
    wrong = ["x", "", PASSPHRASE.upper(), "é" * 300]
    texts = {re.sub('value="[^"]*"', "", far.sign_in(one).text) for one in wrong}
    assert len(texts) == 1
    assert "This is not the passphrase." in texts.pop()


def test_a_passphrase_never_comes_back(far):
    assert "hunter" not in far.sign_in("hunter hunter hunter").text
    far.get(SIGN_IN)
    data = {"passphrase": "hunter hunter", "_csrf": "x"}
    refused = far.open(SIGN_IN, method="POST", data=data)
    assert refused.status_code == 403
    assert "hunter" not in refused.text


@pytest.mark.parametrize(
    "elsewhere",
    ["https://evil.example", "//evil.example", "/\\evil.example", "/docs", "/benchx",
     "/bench\r\nX: y", "/bench/sign-in?next=x"],
)  # fmt: skip
def test_signing_in_leads_nowhere_else(far, elsewhere):
    answer = far.post(SIGN_IN, {"passphrase": PASSPHRASE, "_next": elsewhere})
    assert answer.headers["Location"] == "/bench"


@pytest.mark.parametrize(
    "seen",
    [
        {"headers": {"Host": "rings.evil.example"}},
        {"headers": {"X-Forwarded-For": "203.0.113.9"}},
        {"headers": {"Forwarded": "for=203.0.113.9"}},
        {"headers": {"X-Forwarded-Proto": "http"}},
        {"headers": {"Via": "1.1 rings.example"}},
        {"environ_overrides": {"SERVER_PROTOCOL": "HTTP/1.0"}},
        {"environ_overrides": AFAR},
    ],
    ids=[
        "another name", "a proxy", "a proxy of today", "a scheme", "a gateway",
        "a proxy that tells nothing", "another machine",
    ],
)  # fmt: skip
def test_what_only_looks_like_this_machine_is_turned_away(desk, seen):
    answer = desk.client.get(STYLE, **seen)
    assert answer.status_code == 403
    assert "HTTPS" in answer.text
    assert "Set-Cookie" not in answer.headers


@pytest.mark.parametrize("host", ["localhost:8371", "127.0.0.1", "[::1]:80"])
def test_names_of_this_machine_are_known(desk, host):
    assert desk.client.get(STYLE, headers={"Host": host}).status_code == 200


def test_over_plain_http_it_has_to_be_allowed_and_is_said(desk_on, file):
    desk = desk_on(file, plain_http=True)
    desk.services.sessions.set_passphrase(PASSPHRASE)
    far = FarDesk(desk.app, desk.services)
    far.base_url = "http://rings.example"
    assert "Not encrypted." in far.get(SIGN_IN).text
    assert far.sign_in().status_code == 303
    assert "Not encrypted." in far.get(STYLE).text


def test_it_can_be_asked_for_on_this_machine_too(desk_on, file):
    desk = desk_on(file, sign_in="always")
    assert desk.get(STYLE).status_code == 303
    assert "set it here" in desk.get(SIGN_IN).text
    new = {"passphrase": PASSPHRASE, "passphrase_again": PASSPHRASE}
    assert desk.post("/bench/passphrase", new).status_code == 303
    assert desk.post(SIGN_IN, {"passphrase": PASSPHRASE}).status_code == 303
    assert desk.get(STYLE).status_code == 200


def test_who_sets_another_passphrase_after_signing_in_is_led_to_give_it(desk_on, file):
    desk = desk_on(file, sign_in="always")
    desk.services.sessions.set_passphrase(PASSPHRASE)
    desk.post(SIGN_IN, {"passphrase": PASSPHRASE})
    another = "cone mandrel slug 4 reeded"
    new = {"passphrase": another, "passphrase_again": another}
    answer = desk.post("/bench/passphrase", new)
    assert answer.status_code == 303
    shown = desk.get(answer.headers["Location"])
    assert shown.status_code == 200
    assert "The passphrase is set." in shown.text


def test_a_session_of_this_machine_does_not_count_once_it_is_asked_for(desk_on, file):
    desk = desk_on(file)
    desk.get(STYLE)
    strict = desk_on(file, sign_in="always")
    strict.client.set_cookie("fineweight", desk.client.get_cookie("fineweight").value)
    assert strict.get(STYLE).status_code == 303


def test_from_afar_no_passphrase_can_be_set(far):
    far.services.sessions.clear_passphrase()
    assert "no passphrase is set" in far.get(SIGN_IN).text
    assert far.get("/bench/passphrase").status_code == 403
    new = {"passphrase": PASSPHRASE, "passphrase_again": PASSPHRASE}
    answer = far.post("/bench/passphrase", new, drawn=SIGN_IN)
    assert answer.status_code == 403
    assert not far.services.sessions.has_passphrase()


def test_two_different_ones_are_not_set(desk):
    new = {"passphrase": PASSPHRASE, "passphrase_again": f"{PASSPHRASE} "}
    answer = desk.post("/bench/passphrase", new)
    assert answer.status_code == 422
    assert "not the same" in answer.text
    assert PASSPHRASE not in answer.text


def test_who_came_and_went_is_in_the_audit_trail(far):
    far.sign_in("wrong")
    far.sign_in()
    far.post("/bench/sign-out")
    lines = far.services.audit.page(AuditFilter(), limit=4).entries
    actions = [line.action for line in lines]
    assert actions == [
        "session.ended", "session.begun", "session.refused", "passphrase.set",
    ]  # fmt: skip
    assert lines[0].by == lines[1].subject
    assert {line.via for line in lines[:3]} == {"page"}
    assert PASSPHRASE not in repr(lines)


def test_pages_from_afar_tell_nothing_without_a_session(far):
    declared = {view.rule for pages in PAGES for view in pages.views}
    for rule in far.app.url_map.iter_rules():
        if rule.rule not in declared:
            continue
        path = re.sub("<[^>]*>", "1", rule.rule)
        for method in rule.methods - {"OPTIONS"}:
            answer = other(far).open(path, method=method)
            open_ones = {SIGN_IN} if method in {"GET", "HEAD"} else set()
            expected = {200} if path in open_ones else {303, 403}
            assert answer.status_code in expected, (method, path)
