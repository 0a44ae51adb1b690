"""What services and schemas find wrong, told beside the fields of a form."""

from __future__ import annotations

from typing import Any
from urllib.parse import unquote

from api.errors import Refused
from api.ports import PreconditionFailed
from api.web.sent_form import Form, Path
from pricing.errors import PricingError

CHANGED = (
    "Somebody changed this since the page was loaded, and nothing was written. Below "
    "is what you typed; load the page anew to see how it is now."
)


def faults_of(error: Exception, form: Form) -> Form:
    """The form with what an error says is wrong with it."""
    return form.faulted(_found(error))


def _found(error: Exception) -> list[tuple[Path, str]]:
    if isinstance(error, PricingError):
        return [(fault.path, _sentence(fault.message)) for fault in error.faults]
    if isinstance(error, PreconditionFailed):
        return [((), CHANGED)]
    if isinstance(error, Refused):
        items = [(_path(item), _sentence(item["detail"])) for item in error.errors]
        return items or [((), _sentence(error.detail))]
    return [((), _sentence(str(error)))]


def _path(item: dict[str, str]) -> Path:
    """The member that a JSON Pointer leads to."""
    parts = item.get("pointer", item.get("parameter", "")).lstrip("#/").split("/")
    return tuple(_part(unquote(part)) for part in parts if part)


def _part(text: str) -> Any:
    plain = text.replace("~1", "/").replace("~0", "~")
    return int(plain) if plain.isdecimal() else plain


def _sentence(text: str) -> str:
    """A text of the wire as it stands in a form: with a capital and a full stop."""
    begun = text[:1].upper() + text[1:]
    return begun if begun.endswith((".", "?", "!")) else f"{begun}."
