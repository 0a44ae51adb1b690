"""A page as whoever reads it finds it: its title, heading, links and forms."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin

TYPED = {"text", "search", "number", "date", "datetime-local", "url", "password"}


@dataclass
class SentForm:
    """A form: where it goes, what it sends unseen, and what is typed into it.

    Attributes:
        enter: what the key Enter in one of its fields asks for: its first button does.
    """

    action: str
    method: str
    hidden: dict[str, str] = field(default_factory=dict)
    typed: list[str] = field(default_factory=list)
    enter: str | None = None


class ReadPage(HTMLParser):
    """What stands in a page of this address.

    Attributes:
        text: every word of it.
        links: addresses that it leads to, in full, as is ``loaded``.
        actions: method and address of each form and of each button that has its own.
    """

    def __init__(self, address, html):
        super().__init__()
        self.address = address
        self.title, self.text, self.lang, self.headings = "", "", "", 0
        self.ids, self.links, self.loaded = [], [], []
        self.forms, self.actions = [], []
        self._in_title = False
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        said = {name: value or "" for name, value in attrs}
        self._in_title = tag == "title"
        self.headings += tag == "h1"
        if "id" in said:
            self.ids.append(said["id"])
        if tag == "html":
            self.lang = said.get("lang", "")
        elif tag == "a" and "href" in said:
            self.links.append(urljoin(self.address, said["href"]))
        elif tag == "form":
            self._form(said)
        elif tag in {"input", "textarea", "select", "button"}:
            self._field(tag, said)
        if tag in {"script", "img", "link"} and {"src", "href"} & said.keys():
            where = said.get("src") or said.get("href", "")
            self.loaded.append(urljoin(self.address, where))

    def _form(self, said):
        action = urljoin(self.address, said.get("action", ""))
        method = said.get("method", "get").upper()
        self.forms.append(SentForm(action, method))
        self.actions.append((method, action))

    def _field(self, tag, said):
        if "formaction" in said:
            where = urljoin(self.address, said["formaction"])
            self.actions.append((said.get("formmethod", "post").upper(), where))
        if self.forms and tag == "button" and "form" not in said:
            form = self.forms[-1]
            form.enter = said.get("value", "") if form.enter is None else form.enter
        if not self.forms or "name" not in said:
            return
        kind = said.get("type", "text") if tag == "input" else tag
        if kind == "hidden":
            self.forms[-1].hidden[said["name"]] = said.get("value", "")
        elif kind in TYPED | {"textarea", "file"}:
            self.forms[-1].typed.append(said["name"])

    def handle_endtag(self, tag):
        self._in_title = self._in_title and tag != "title"

    def handle_data(self, data):
        self.text += data
        if self._in_title:
            self.title += data
