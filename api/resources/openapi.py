"""The machine-readable description of the API."""

from __future__ import annotations

from typing import Any

from flask import current_app
from marshmallow import INCLUDE

from api.endpoint import Call, Reply, Routes
from api.schemas.document import Document
from api.security import OPEN

routes = Routes("openapi", title="Description", about="The API describes itself.")


class OpenApiDocument(Document):
    """An OpenAPI 3.1 document."""

    class Meta:
        """What it holds is its own standard's matter."""

        unknown = INCLUDE

    def dump(self, obj: Any, **_: Any) -> Any:
        """The document as it is; nothing is added or left out."""
        return obj


@routes.operation(
    "GET",
    "/openapi.json",
    scope=OPEN,
    summary="This description, as OpenAPI 3.1",
    answers={200: OpenApiDocument()},
)
def read_openapi(_: Call) -> Reply:
    """Answer with the description that the pages under /docs are drawn from."""
    return Reply(
        current_app.extensions["description"].document,
        headers={"Cache-Control": "no-cache"},
    )
