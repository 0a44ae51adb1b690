"""openapi.yaml is what the program says of itself, and a valid description."""

from __future__ import annotations

import yaml
from openapi_spec_validator import validate

from api.app import openapi_document, openapi_yaml
from tests.architecture.source import ROOT

FILE = ROOT / "openapi.yaml"


def test_the_file_is_what_the_program_writes():
    said = "run: fineweight openapi --output openapi.yaml"
    assert FILE.read_text("utf-8") == openapi_yaml(), said


def test_the_file_is_valid_openapi_3_1():
    document = yaml.safe_load(FILE.read_text("utf-8"))
    validate(document)
    assert document == openapi_document()
