"""What the drawing library made, brought to what our pages allow.

Scripts, style attributes, hidden boxes for pointers and remarks of the library go;
names of our own, a title, a description and our one style sheet come.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Any
from zlib import crc32

_GONE = frozenset({"script", "style", "title", "desc", "defs"})
_UNSEEN = frozenset({"tooltip", "plot tooltip-overlay", "titles"})
_NUMBERED = re.compile(r"(?:^|.* )color-([0-9]+)\b.*")


@dataclass(frozen=True, slots=True)
class Caption:
    """What a picture says of itself to who cannot see it.

    Attributes:
        title: what it shows.
        description: what can be seen in it.
    """

    title: str
    description: str


@dataclass(frozen=True, slots=True)
class Finish:
    """How a picture is finished.

    Attributes:
        kind: class of the whole, for the style sheet.
        caption: what it says of itself.
        names: class of each series, in the order they were added.
        alone: whether its style sheet goes into it.
    """

    kind: str
    caption: Caption
    _: KW_ONLY
    names: Sequence[str]
    alone: bool = True

    def __call__(self, root: Any) -> Any:
        """The tree ``root`` as our pages allow it."""
        _clean(root, dict(enumerate(self.names)))
        self._name(root)
        if self.alone:
            style = root.makeelement("style", {})
            style.text = sheet()
            root.insert(2, style)
        return root

    def _name(self, root: Any) -> None:
        """Say what the picture shows, and point at where it is said."""
        said = {"title": self.caption.title, "desc": self.caption.description}
        mark = f"{crc32(repr(said).encode()):08x}"
        for place, (tag, text) in enumerate(said.items()):
            element = root.makeelement(tag, {"id": f"{tag}-{mark}"})
            element.text = text
            root.insert(place, element)
        root.attrib.pop("id", None)
        root.set("class", f"chart {self.kind}")
        root.set("role", "img")
        root.set("aria-labelledby", " ".join(f"{tag}-{mark}" for tag in said))


@cache
def sheet() -> str:
    """The style sheet that goes into each picture."""
    return (files("api.web") / "static" / "charts.css").read_text("utf-8")


@cache
def policy() -> str:
    """The Content-Security-Policy under which a picture may show its own style."""
    digest = b64encode(sha256(sheet().encode()).digest()).decode()
    return (
        f"default-src 'none'; style-src 'sha256-{digest}'; "
        "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
    )


def _clean(element: Any, names: Mapping[int, str]) -> None:
    for child in list(element):
        if _is_gone(child):
            element.remove(child)
            continue
        child.attrib.pop("style", None)
        _rename(child, names)
        _clean(child, names)


def _is_gone(child: Any) -> bool:
    if not isinstance(child.tag, str) or child.tag in _GONE:
        return True
    if child.get("class") in _UNSEEN:
        return True
    return child.tag == "rect" and 0.0 in {
        float(child.get("width", 0)), float(child.get("height", 0)),
    }  # fmt: skip


def _rename(child: Any, names: Mapping[int, str]) -> None:
    """Let a series, and its entry in the key, bear its name instead of its number."""
    numbered = _NUMBERED.fullmatch(child.get("class", ""))
    if numbered:
        kind = "series" if child.tag == "g" else "key"
        child.set("class", f"{kind} {names[int(numbered[1])]}")
