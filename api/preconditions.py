"""Entity tags: which version a caller has read, and which one it changes.

References:
    [1] RFC 9110 §8.8.3, entity tags; §13.1.1, If-Match by strong comparison, so
        that a weak tag never matches; §13.1.2, If-None-Match by weak comparison.
    [2] RFC 6585 §3, 428 where a condition is required.
"""

from __future__ import annotations

import re

from api.errors import Refused
from api.problems import BAD_REQUEST, PRECONDITION_FAILED, PRECONDITION_REQUIRED

_TAG = r'(?:W/)?"[\x21\x23-\x7e]*"'
_TAGS = re.compile(rf"{_TAG}(?:[ \t]*,[ \t]*{_TAG})*+", re.ASCII)
_EACH = re.compile(_TAG, re.ASCII)


def tag(resource: str, revision: int) -> str:
    """The strong entity tag of one revision of a resource.

    >>> tag("price_book", 3)
    '"price_book-3"'
    """
    return f'"{resource}-{revision}"'


def _tags(header: str, name: str) -> list[str]:
    if not _TAGS.fullmatch(header.strip()):
        raise Refused(
            BAD_REQUEST,
            f'{name} has to hold an entity tag in double quotes, such as "coin-3".',
            errors=({"detail": "not a list of entity tags", "header": name},),
        )
    return _EACH.findall(header)


def check_match(header: str | None, *current: str) -> bool:
    """Let a change pass only for the version that is there now.

    Args:
        header: the If-Match header, None if there was none.
        current: the entity tags of what is there now; one of it in each of its
            states, where the same version looks different by the clock.

    Returns:
        Whether it names that version; False for ``*``, whatever there is.

    Raises:
        Refused: 428 without the header, 412 for another version, 400 for
            something that is no entity tag.
    """
    if header is None:
        raise Refused(PRECONDITION_REQUIRED, PRECONDITION_REQUIRED.meaning)
    if header.strip() == "*":
        return False
    if not set(current) & set(_tags(header, "If-Match")):
        raise Refused(
            PRECONDITION_FAILED,
            f"The current version is {current[0]}. {PRECONDITION_FAILED.meaning}",
        )
    return True


def unchanged(header: str | None, current: str) -> bool:
    """Whether the caller's copy, by its If-None-Match header, is the current one."""
    if header is None:
        return False
    if header.strip() == "*":
        return True
    tags = _tags(header, "If-None-Match")
    return current in [one.removeprefix("W/") for one in tags]
