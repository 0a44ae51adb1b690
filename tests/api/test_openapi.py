from __future__ import annotations

import pytest
import yaml
from openapi_spec_validator import validate

from api import openapi
from api.app import openapi_document
from api.endpoint import Reply, Routes
from api.schemas.fields import Document, Field, KeyText, StrictInteger, Text
from api.security import OPEN
from tests.http.fakes import probe


@pytest.fixture(scope="module")
def document():
    return openapi.document([probe])


def members(document, name):
    return document["components"]["schemas"][name]["properties"]


def test_numbers_are_described_as_text_with_a_pattern(document):
    assert members(document, "Ring")["price"] == {
        "type": "string",
        "format": "decimal",
        "pattern": r"^(?!0(\.0+)?$)(0|[1-9][0-9]{0,11})(\.[0-9]{1,4})?$",
        "x-range": "more than 0",
    }
    assert "number" not in str(document["components"]["schemas"]).split("'type': ")


def test_the_other_members_are_described(document):
    ring = members(document, "Ring")
    assert ring["quantity"] == {"type": "integer", "minimum": 1, "maximum": 1000}
    assert ring["engraved"] == {"type": "boolean"}
    assert ring["made_at"] == {"type": "string", "format": "date-time"}
    assert ring["finish"] == {"type": "string", "enum": ["matt", "bright"]}
    assert ring["note"] == {"type": "string", "maxLength": 200}
    assert ring["coin"] == {
        "type": "string",
        "pattern": KeyText.pattern,
        "x-form": KeyText.form,
    }
    assert ring["pieces"]["minItems"] == 0
    assert ring["pieces"]["maxItems"] == 5
    assert {"type": "null"} in ring["spare"]["anyOf"]


def test_unknown_members_are_described_as_refused(document):
    schemas = document["components"]["schemas"]
    assert all(one["additionalProperties"] is False for one in schemas.values())


def test_an_operation_says_its_scope_and_its_headers(document):
    change = document["paths"]["/v1/probe-rings/{key}"]["put"]
    assert change["security"] == [{"key": ["bench"]}]
    assert change["x-scope"] == "bench"
    assert change["operationId"] == "change_ring"
    names = [one["name"] for one in change["parameters"]]
    assert names == ["key", "If-Match"]
    assert change["parameters"][0]["example"] == "a_coin"
    failing = document["paths"]["/v1/probe-failures"]["get"]
    assert failing["security"] == []


def test_answers_and_refusals_are_described(document):
    read = document["paths"]["/v1/probe-rings/{key}"]["get"]
    assert {"200", "304", "401", "403", "404", "406", "422", "500"} <= set(
        read["responses"]
    )
    assert "ETag" in read["responses"]["200"]["headers"]
    change = document["paths"]["/v1/probe-rings/{key}"]["put"]
    assert "content" not in change["responses"]["204"]
    assert {"412", "428", "413", "415"} <= set(change["responses"])
    kinds = change["responses"]["422"]["content"]["application/problem+json"]
    assert "invalid-input" in kinds["examples"]


def test_the_yaml_text_is_the_same_document(document):
    text = openapi.to_yaml([probe])
    assert yaml.safe_load(text) == document
    assert "!!" not in text


def test_building_it_twice_gives_the_same(document):
    assert openapi.document([probe]) == document


class Short(Document):
    size = Text(most=5, required=True)


class Either(Field):
    """A name or a document."""

    def keywords(self):
        return {"anyOf": [{"type": "string"}, Short()]}


class Both(Document):
    either = Either(required=True)
    count = StrictInteger(least=0, most=1, allow_none=True)


def test_a_choice_between_a_name_and_a_document_is_described():
    routes = Routes("both", title="Both", about="")

    @routes.operation(
        "POST",
        "/v1/both",
        scope=OPEN,
        summary="Both",
        body=Both(),
        answers={200: None},
    )
    def take_both(_):
        return Reply()

    described = openapi.document([routes])
    validate(described)
    assert members(described, "Both")["either"]["anyOf"] == [
        {"type": "string"},
        {"$ref": "#/components/schemas/Short"},
    ]
    assert members(described, "Both")["count"]["type"] == ["integer", "null"]


@pytest.fixture(scope="module")
def whole():
    return openapi_document()


def test_what_has_to_be_named_once_says_so(whole):
    paths = whole["paths"]
    needed = {
        (path, parameter["name"]): parameter["required"]
        for path in paths
        for parameter in paths[path].get("post", {}).get("parameters", ())
        if parameter["in"] == "header" and path.startswith("/v1/quotes")
    }
    assert needed == {
        ("/v1/quotes", "Idempotency-Key"): True,
        ("/v1/quotes/{quote_id}/accept", "If-Match"): False,
        ("/v1/quotes/{quote_id}/accept", "Idempotency-Key"): False,
        ("/v1/quotes/{quote_id}/decline", "If-Match"): False,
        ("/v1/quotes/{quote_id}/decline", "Idempotency-Key"): False,
        ("/v1/quotes/{quote_id}/renew", "If-Match"): False,
        ("/v1/quotes/{quote_id}/renew", "Idempotency-Key"): True,
    }


def test_quotas_and_replays_are_told_in_the_headers_of_answers(whole):
    make = whole["paths"]["/v1/quotes"]["post"]
    told = make["responses"]["201"]["headers"]
    assert {"RateLimit", "RateLimit-Policy", "Idempotency-Replayed"} <= told.keys()
    assert {"Location", "ETag"} <= told.keys()
    refused = make["responses"]["429"]["headers"]
    assert {"RateLimit", "RateLimit-Policy", "Retry-After"} <= refused.keys()
    assert '"quotes";q=120;w=60' in refused["RateLimit-Policy"]["description"]
    assert "Retry-After" in make["responses"]["409"]["headers"]
    coins = whole["paths"]["/v1/coins"]["post"]["responses"]
    assert "429" not in coins
    assert "headers" not in coins["409"]


def test_a_body_that_may_be_left_out_says_so(whole):
    paths = whole["paths"]
    assert paths["/v1/quotes"]["post"]["requestBody"]["required"]
    accept = paths["/v1/quotes/{quote_id}/accept"]["post"]
    assert not accept["requestBody"]["required"]


def test_links_lead_from_what_was_made_to_what_can_be_done_with_it(whole):
    links = whole["paths"]["/v1/quotes"]["post"]["responses"]["201"]["links"]
    assert links["accept_quote"] == {
        "operationId": "accept_quote",
        "parameters": {
            "quote_id": "$response.body#/id",
            "header.If-Match": "$response.header.ETag",
        },
    }


def test_what_was_written_before_is_described_by_its_shape(whole):
    lines = whole["components"]["schemas"]["Quote"]["properties"]["lines"]
    assert lines["items"] == {"$ref": "#/components/schemas/Estimate"}
