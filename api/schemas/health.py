"""Whether the service lives and can do its work."""

from __future__ import annotations

from api.schemas.document import Document
from api.schemas.fields import Choice


class HealthDocument(Document):
    """The status code is the contract; this repeats it for people."""

    status = Choice(["ok"], required=True, metadata={"description": "Always ok."})
