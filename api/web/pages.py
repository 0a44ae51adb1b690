"""Declaring the pages of the bench.

A page module makes one ``Pages`` and declares its views on it, as a resource
declares operations. A view takes a `Visit`, calls services, and gives a `Page`, a
`Redirect` or a `File`; it never commits. Every page needs a session of the bench.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import KW_ONLY, dataclass, field
from typing import Any

from api.web.visit import Visit

_NOTHING: Mapping[str, Any] = {}


@dataclass(frozen=True, slots=True)
class Page:
    """What is drawn: a template under ``templates`` and what it is drawn with.

    Attributes:
        part: id of the part that this is, where it is no whole page.
        told_once: whether it tells, this once, what was done, as a key that was made.
        headers: further headers, such as Retry-After.
    """

    template: str
    values: Mapping[str, Any] = field(default_factory=lambda: _NOTHING)
    _: KW_ONLY
    status: int = 200
    part: str = ""
    told_once: bool = False
    headers: Mapping[str, str] = field(default_factory=lambda: _NOTHING)


@dataclass(frozen=True, slots=True)
class Redirect:
    """Where to go on after something was done, always on these pages.

    Attributes:
        address: path of a page, with a query or without.
        done: name of what is said there, of the ``done`` of that page's ``Pages``.
        token: what the browser is known by from here on; '' for what it was.

    Raises:
        ValueError: the address is not one of ours.
    """

    address: str
    _: KW_ONLY
    done: str = ""
    token: str = ""

    def __post_init__(self) -> None:
        """Lead nowhere but to a path of ours."""
        if not is_own(self.address):
            raise ValueError(f"'{self.address}' is not the path of a page")

    @property
    def location(self) -> str:
        """The address, with what is to be said there."""
        mark = "&" if "?" in self.address else "?"
        return f"{self.address}{mark}done={self.done}" if self.done else self.address


@dataclass(frozen=True, slots=True, kw_only=True)
class File:
    """What is saved as a file and not shown.

    Attributes:
        name: what it is called there, of plain ASCII letters.
        media_type: with its charset, where it is text.
    """

    name: str
    body: bytes
    media_type: str


def table_file(name: str, table: str) -> File:
    """A table of a CSV file, for whoever opens it with a spreadsheet.

    Several of those take a file for UTF-8 only if it begins with the mark for it; else
    they show other letters than a to z as something else. What is read in here may
    begin with it, and what programs are answered does not.
    """
    media_type = "text/csv; charset=utf-8; header=present"
    return File(name=name, body=table.encode("utf-8-sig"), media_type=media_type)


def is_own(address: str) -> bool:
    r"""Whether an address is a path here, however a browser reads it.

    >>> [is_own(one) for one in ("/bench", "//evil.example", "/\\evil", "https:x")]
    [True, False, False, False]
    """
    return (
        address.startswith("/")
        and not address.startswith(("//", "/\\"))
        and address.isascii()
        and address.isprintable()
        and "\\" not in address
    )


Result = Page | Redirect | File
"""What a visit ends in."""
View = Callable[[Visit], Result]
PartView = Callable[[Visit], Mapping[str, Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class LivePart:
    """A part of a page that is drawn anew while one types.

    Attributes:
        template: of the part alone; the page includes it.
        view: works out what it is drawn with, from the form as it stands.
    """

    template: str
    view: PartView


@dataclass(frozen=True, slots=True, kw_only=True)
class PageView:
    """One method of one page, declared whole.

    Attributes:
        again: view that draws the form anew with what was typed, where the values
            that were sent cannot be used.
        once: whether sending the form twice has its effect once.
        most_bytes: largest form that is taken [B]; None is the usual limit.
        open: whether a visitor need not have signed in.
    """

    method: str
    rule: str
    view: View
    again: View | None = None
    once: bool = False
    most_bytes: int | None = None
    open: bool = False


class Pages:
    """The pages of one part of the bench.

    Args:
        name: unique, a Python name.
        title: of the part, as the navigation shows it.
        tab: name of the entry of the navigation it belongs to; '' for none.
        done: what can be said after something was done, by a short name.
    """

    def __init__(
        self,
        name: str,
        *,
        title: str,
        tab: str = "",
        done: Mapping[str, str] | None = None,
    ) -> None:
        self.name = name
        self.title = title
        self.tab = tab
        self.done = dict(done or {})
        self.views: list[PageView] = []
        self.parts: dict[str, dict[str, LivePart]] = {}

    def get(self, rule: str, *, open: bool = False) -> Callable[[View], View]:  # noqa: A002 - as a scope is called
        """Declare the decorated view as a page that is read."""

        def declare(view: View) -> View:
            self.views.append(PageView(method="GET", rule=rule, view=view, open=open))
            return view

        return declare

    def post(
        self,
        rule: str,
        *,
        again: View | None = None,
        once: bool = False,
        most_bytes: int | None = None,
        open: bool = False,  # noqa: A002 - as a scope is called
    ) -> Callable[[View], View]:
        """Declare the decorated view as what takes a form sent to ``rule``.

        With ``once`` the form has to hold `parts.once`, and what the view does is
        one transaction; it must not be one that services cut into many. A view that
        gives a `Page` has done nothing, unless that is ``told_once``: the same form
        may then be sent again, or another in its place.
        """

        def declare(view: View) -> View:
            declared = PageView(
                method="POST",
                rule=rule,
                view=view,
                again=again,
                once=once,
                most_bytes=most_bytes,
                open=open,
            )
            self.views.append(declared)
            return view

        return declare

    def live(
        self, rule: str, *, part: str, template: str
    ) -> Callable[[PartView], PartView]:
        """Declare the decorated view as the one that draws a part while one types.

        It gets the form as it stands, changes nothing, and gives what the template
        is drawn with. Where the form cannot be used, the template is drawn without,
        and ``form.faults`` say why.
        """

        def declare(view: PartView) -> PartView:
            found = self.parts.setdefault(rule, {})
            found[part] = LivePart(template=template, view=view)
            return view

        return declare
