"""Every documented example works: it is sent, and answered as described."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from unittest.mock import patch

import pytest

from api.app import RESOURCES
from api.endpoint import Operation
from api.ports import KeyRecord, SpotEntry, StoredKey
from api.security import Scope
from api.services.jobs.terms import AttemptAsk, JobAsk
from tests.contract.completed_jobs import job, lay, line, stage
from tests.http.workshop import BOOK, component, described, of_schema

OPERATIONS = [one for routes in RESOURCES for one in routes.operations]
WITH_VALUES = [one for one in OPERATIONS if one.path or one.query or one.body]


def address(operation: Operation) -> str:
    path = operation.rule
    for name, value in (operation.examples.path or {}).items():
        path = path.replace(f"<{name}>", value)
    return path


def set_feeds_up(workshop):
    """The feeds of the examples, and two prices that wait for a person."""
    [setting_up] = [one for one in OPERATIONS if one.name == "set_feed_up"]
    document, new = setting_up.examples.body, {"If-None-Match": "*"}
    for key in ("assay_office", "old_feed"):
        workshop.put(f"/v1/feeds/{key}", document, headers=new)
    workshop.put("/v1/feeds/assay_office/secrets", {"X-Api-Key": "…".encode().hex()})
    now = datetime.now(UTC)
    answer = {"silver": {"per_kilogram": "884.15"}, "at": now.isoformat()}
    workshop.post_office.letters[document["url"]] = json.dumps(answer).encode()
    workshop.post("/v1/spot-prices/fetch", {"feed": "old_feed"})  # lacks its secret
    for hours in (1, 2):
        held = SpotEntry(
            metal="XAG",
            price=Decimal(31),
            currency="EUR",
            as_of=now - timedelta(hours=hours),
            source="assay_office",
            status="held",
        )
        workshop.services.storage.write(lambda unit, one=held: unit.spots.add(one))
    workshop.post("/v1/spot-prices/fetch", {"feed": "assay_office"})


def make_a_quote(workshop):
    """The quote of the examples."""
    [making] = [one for one in OPERATIONS if one.name == "make_quote"]
    [reading] = [one for one in OPERATIONS if one.name == "read_quote"]
    name = reading.examples.path["quote_id"]
    with patch("api.services.quotes.quotes.new_id", lambda: name):
        workshop.once("/v1/quotes", making.examples.body)


def add_a_listing(workshop):
    """The listing of the examples."""
    [changing] = [one for one in OPERATIONS if one.name == "change_listing"]
    body = changing.examples.path | changing.examples.body
    assert workshop.post("/v1/listings", body).status_code == 201


def hold_a_price(workshop):
    """The held price of the examples."""
    [holding] = [one for one in OPERATIONS if one.name == "hold_window_price"]
    [reading] = [one for one in OPERATIONS if one.name == "read_window_hold"]
    name = reading.examples.path["quote_id"]
    with patch("api.services.window.holds.new_id", lambda: name):
        body = holding.examples.body
        answer = workshop.once("/v1/window/quotes", body, key="window")
    assert answer.status_code == 201, answer.text


def make_repricings(workshop):
    """The repricings of the examples: one that was applied, then a preview."""
    named = {one.name: one.examples.path for one in OPERATIONS}
    to_undo = named["undo_repricing"]["repricing_id"]
    preview = named["apply_repricing"]["repricing_id"]
    repricings = workshop.services.repricings
    with patch("api.services.repricings.preview.new_id", lambda: to_undo):
        repricings.apply(repricings.preview(Decimal(40)).id, expected=1)
    with patch("api.services.repricings.preview.new_id", lambda: preview):
        repricings.preview()


def make_a_hook(workshop):
    """The hook of the examples."""
    [making] = [one for one in OPERATIONS if one.name == "make_hook"]
    [reading] = [one for one in OPERATIONS if one.name == "read_hook"]
    name = reading.examples.path["hook_id"]
    with patch("api.services.hooks.hooks.new_id", lambda: name):
        assert workshop.post("/v1/hooks", making.examples.body).status_code == 201


def log_a_week(workshop):
    """A job of the week of the examples, with enough tries to learn from."""
    [accepting] = [one for one in OPERATIONS if one.name == "accept_proposals"]
    [path] = accepting.examples.body["paths"]
    slow = stage(path.split(".")[1], tried=12, minutes=150, planned_minutes=100)
    lay(workshop.services.storage, (job(), [line()], [slow]))


def open_jobs(workshop):
    """The jobs of the examples: to be opened, open, completed, with a stopwatch."""
    named = {one.name: one.examples for one in OPERATIONS}
    [making] = [one for one in OPERATIONS if one.name == "make_quote"]
    names = {
        named["open_job"].body["quote_id"]: None,
        "quote-of-a-job-in-examples": named["read_job"].path["job_id"],
        "quote-of-a-job-that-is-done": named["reopen_job"].path["job_id"],
        "quote-of-a-job-being-timed": named["stop_timer"].path["job_id"],
    }
    for quote_id, job_id in names.items():
        with patch("api.services.quotes.quotes.new_id", lambda: quote_id):  # noqa: B023
            workshop.post(
                "/v1/quotes",
                making.examples.body,
                headers={"Idempotency-Key": quote_id},
            )
        workshop.services.quotes.accept(quote_id, expected=None)
        if job_id:
            with patch("api.services.jobs.opening.new_id", lambda: job_id):  # noqa: B023
                workshop.services.bench.jobs.open(JobAsk(quote=quote_id))
    bench = workshop.services.bench
    bench.attempts.add(named["read_attempt"].path["job_id"], AttemptAsk(outcome="good"))
    bench.jobs.complete(named["reopen_job"].path["job_id"], expected=None)
    bench.stopwatch.start(named["stop_timer"].path["job_id"], "fold")


def needed_headers(workshop, operation):
    """What the operation has to be sent with."""
    headers = {}
    if operation.idempotency:
        headers["Idempotency-Key"] = "the-example"
    if operation.conditional:
        thing = address(operation)
        if operation.method == "POST":  # to a decision on the thing above
            thing = thing.rpartition("/")[0]
        headers["If-Match"] = workshop.get(thing).headers["ETag"]
    return headers


@pytest.fixture
def ready(workshop):
    """A workshop in which everything that the examples name is there."""
    wages = {"rate_per_hour": "33.50"}
    workshop.change("/v1/price-book", BOOK | {"labour": BOOK["labour"] | wages})
    own = {
        "key": "at_50s_own",
        "gross_mass_g": "20.00",
        "fineness_permille": "900",
        "diameter_mm": "34.00",
    }
    workshop.post("/v1/coins", own)
    set_feeds_up(workshop)
    make_a_quote(workshop)
    add_a_listing(workshop)
    hold_a_price(workshop)
    make_repricings(workshop)
    make_a_hook(workshop)
    log_a_week(workshop)
    open_jobs(workshop)
    [revoking] = [one for one in OPERATIONS if one.name == "revoke_key"]
    record = KeyRecord(
        id=revoking.examples.path["key_id"],
        scope="window",
        label="Old pages",
        created_at=datetime.now(UTC),
    )
    workshop.services.storage.write(
        lambda unit: unit.keys.add(StoredKey(record=record, digest=bytes(32)))
    )
    return workshop


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_an_example_is_answered_with_the_status_it_is_meant_for(ready, operation):
    key = None if operation.scope is Scope.OPEN else str(operation.scope)
    answer = ready.send(
        operation.method,
        address(operation),
        operation.examples.body,
        key=key,
        headers=needed_headers(ready, operation),
        query_string=operation.examples.query or {},
    )
    assert answer.status_code == next(iter(operation.answers)), answer.text
    for header in operation.answer_headers:
        assert header in answer.headers or header == "Link"


@pytest.mark.parametrize("operation", WITH_VALUES, ids=lambda one: one.name)
def test_whatever_takes_values_has_an_example(operation):
    examples = operation.examples
    if operation.body is not None and operation.body_needed:
        assert examples.body or not operation.body.fields
    needed = {
        name
        for schema in (operation.path, operation.query)
        for name, field in (schema.fields if schema else {}).items()
        if field.required
    }
    given = {**(examples.path or {}), **(examples.query or {})}
    assert needed <= set(given)
    assert given or operation.body


def test_the_description_shows_the_examples():
    body = described()["paths"]["/v1/estimates"]["post"]["requestBody"]
    shown = body["content"]["application/json"]
    of_schema(shown["schema"]).validate(shown["example"])


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_an_example_answer_fits_its_schema(operation):
    path = operation.rule.replace("<", "{").replace(">", "}")
    answers = described()["paths"][path][operation.method.lower()]["responses"]
    for answer in answers.values():
        for content in answer.get("content", {}).values():
            if "example" in content:
                of_schema(content["schema"]).validate(content["example"])


def test_every_kind_of_problem_has_an_example_that_fits():
    for example in described()["components"]["examples"].values():
        component("Problem").validate(example["value"])


def test_every_member_and_parameter_says_what_it_is():
    document = described()
    members = {
        f"{name}.{member}": shown
        for name, schema in document["components"]["schemas"].items()
        for member, shown in schema.get("properties", {}).items()
    }
    parameters = {
        f"{path} {parameter['name']}": parameter
        for path, item in document["paths"].items()
        for operation in item.values()
        for parameter in operation["parameters"]
    }
    silent = [
        name
        for name, shown in (members | parameters).items()
        if not shown.get("description")
    ]
    assert silent == []
