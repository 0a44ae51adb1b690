"""The problem document every refusal is answered with (RFC 9457)."""

from __future__ import annotations

from typing import ClassVar

from api.schemas.document import Document, ListOf, Part
from api.schemas.fields import StrictInteger, Text


class ProblemItem(Document):
    """One fault, and where it is: a pointer, parameter, header, or row of a file."""

    detail = Text(most=2000, required=True, metadata={"description": "What is wrong."})
    pointer = Text(
        most=2000,
        metadata={"description": "JSON Pointer to the member of the body (RFC 6901)."},
    )
    parameter = Text(most=2000, metadata={"description": "Name of the parameter."})
    header = Text(most=200, metadata={"description": "Name of the header."})
    row = StrictInteger(
        least=1,
        most=10_000_000,
        metadata={"description": "Row of a CSV file; the header is row 1."},
    )
    column = Text(most=200, metadata={"description": "Heading of the column."})


class ChangedListing(Document):
    """A listing that has changed, or the one band of it that begins at a size."""

    class Meta(Document.Meta):
        """``from`` is a word of the language, and cannot be written below."""

        include: ClassVar = {
            "from": Text(
                most=5,
                metadata={"description": "Smallest size of the band [US number]."},
            )
        }

    sku = Text(most=64, required=True, metadata={"description": "Its sku."})


class ProblemDocument(Document):
    """Why a request was refused; what a kind of problem adds stands beside it."""

    type = Text(
        most=200,
        required=True,
        metadata={"description": "Page of this kind of problem."},
    )
    title = Text(
        most=200, required=True, metadata={"description": "Name of this kind."}
    )
    status = StrictInteger(
        least=400,
        most=599,
        required=True,
        metadata={"description": "The HTTP status, again."},
    )
    detail = Text(
        most=4000,
        required=True,
        metadata={"description": "What is wrong this time, and what to do."},
    )
    instance = Text(
        most=200, required=True, metadata={"description": "The id of the request."}
    )
    errors = ListOf(
        Part(ProblemItem), most=5000, metadata={"description": "Every fault found."}
    )
    errors_left_out = StrictInteger(
        least=1,
        most=100_000,
        metadata={"description": "How many more there are than are listed."},
    )
    reason = Text(most=200, metadata={"description": "Limit that is not kept."})
    rule = Text(most=200, metadata={"description": "Pricing rule that is not met."})
    nearest_size_us = Text(
        most=40, metadata={"description": "Nearest makeable size [US number]."}
    )
    nearest_hole_mm = Text(
        most=40, metadata={"description": "Nearest makeable hole [mm]."}
    )
    listings = ListOf(
        Part(ChangedListing),
        most=100,
        metadata={"description": "Listings that have changed, or bands of them."},
    )
    violated_policies = ListOf(
        Text(most=40),
        most=5,
        data_key="violated-policies",
        metadata={"description": "Names of the quotas that are used up."},
    )
