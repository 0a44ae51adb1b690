"""The walk of one visit through a declared page.

1. who comes, and whether they may (a page to sign in, or 403);
2. for a form: its size, what was typed, and that it is ours (403);
3. the view, which calls services; what they refuse is told in the form, with all
   that was typed, or on a page of its own;
4. the page drawn, or the way to the next one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from hashlib import sha256
from typing import Any

from flask import Flask, Response, abort, g, render_template, request

from api import errors
from api.errors import Refused
from api.idempotency import fingerprint
from api.ports import Answered, Once, ServiceError
from api.problems import BAD_REQUEST, REPEATED_PARAMETER
from api.request_log import request_id
from api.security import Scope
from api.services.actor import Actor, acting
from api.settings import Settings
from api.web import doorway, drawing, locales
from api.web.door import Door, TurnedAway, not_taken
from api.web.doorway import Visitor
from api.web.form_faults import faults_of
from api.web.pages import File, Page, Pages, PageView, Redirect, Result
from api.web.sent_form import Form
from api.web.visit import Visit
from pricing.errors import PricingError

VIA = "page"

_ONCE = "_once"
_LONGEST_MARK = 64
_SENT_BEFORE = (
    "This form was sent before, with other values, and that stands. Look at what was "
    "done then, and send this again if you mean it as well."
)
_NO_MARK = "This form came without its mark. Load the page again."


def register(
    app: Flask, pages: Sequence[Pages], services: Any, settings: Settings
) -> None:
    """Let ``app`` answer the pages of the bench from ``services``."""
    door = Door(services, settings)
    for each in pages:
        for number, view in enumerate(_views(each)):
            walk = _Walk(each, view, door)
            app.add_url_rule(
                view.rule, f"{each.name}.{number}", walk, methods=[view.method]
            )
    drawing.install(app)


def _views(pages: Pages) -> list[PageView]:
    """The views of some pages, with one for parts where no form is taken else."""
    posted = {view.rule for view in pages.views if view.method == "POST"}
    bare = [
        PageView(method="POST", rule=rule, view=_only_parts)
        for rule in pages.parts
        if rule not in posted
    ]
    return [*pages.views, *bare]


def _only_parts(_: Visit) -> Page:
    abort(405)


class _OnlyDrawn(Exception):
    """A view has done nothing but draw this page."""

    def __init__(self, page: Page) -> None:
        super().__init__()
        self.page = page


class _Walk:
    scope = Scope.BENCH

    def __init__(self, pages: Pages, declared: PageView, door: Door) -> None:
        self._pages = pages
        self._declared = declared
        self._door = door

    def __call__(self, **path: Any) -> Response:
        with self._door.services.snapshots.held():
            visitor = None
            try:
                visitor = self._door.visitor(open_to_all=self._declared.open)
                visit = self._visit(visitor, path)
                who = Actor(by=visitor.session, via=VIA, request=request_id())
                with acting(who):
                    result = self._result(visit, visitor)
            except TurnedAway as turned:
                result = turned.page
            return self._answer(result, visitor)

    def _visit(self, visitor: Visitor, path: Mapping[str, Any]) -> Visit:
        posted = request.method == "POST"
        g.visit = visit = Visit(
            services=self._door.services,
            path=path,
            query=_query(),
            form=self._form() if posted else Form(),
            locale=locales.locale_of(request.accept_languages.values()),
            csrf=visitor.csrf,
            token=visitor.token,
            here=visitor.here,
            inside=visitor.inside,
            signed_in=visitor.signed_in,
            plain=visitor.plain,
            part=request.headers.get("X-Part", "") if posted else "",
        )
        return visit

    def _form(self) -> Form:
        if self._declared.most_bytes is not None:
            request.max_content_length = self._declared.most_bytes
            request.max_form_memory_size = self._declared.most_bytes
        return Form.of(request.form)

    def _result(self, visit: Visit, visitor: Visitor) -> Result:
        if request.method != "POST":
            return self._declared.view(visit)
        if visitor.fresh or not doorway.is_ours(request, visitor.csrf):
            raise TurnedAway(not_taken(visit.form))
        try:
            return self._part(visit) if visit.part else self._done(visit)
        except (Refused, ServiceError, PricingError) as error:
            return self._again(visit, error)

    def _part(self, visit: Visit) -> Page:
        found = self._pages.parts.get(self._declared.rule, {}).get(visit.part)
        if found is None:
            abort(404)
        return Page(found.template, found.view(visit), part=visit.part)

    def _done(self, visit: Visit) -> Result:
        """What the form has done, once if that was declared."""
        if not self._declared.once:
            return self._declared.view(visit)
        mark = visit.form.text(_ONCE)
        if not 0 < len(mark) <= _LONGEST_MARK:
            raise Refused(BAD_REQUEST, _NO_MARK)
        asked = Once(
            credential=f"page {visit.csrf}",
            operation=f"{self._pages.name} {self._declared.rule}",
            key=mark,
            fingerprint=fingerprint("POST", request.path, _meant(visit)),
        )
        return self._once(visit, asked)

    def _once(self, visit: Visit, asked: Once) -> Result:
        drawn: list[Page] = []

        def work() -> Answered:
            drawn.clear()
            result = self._declared.view(visit)
            if isinstance(result, Redirect):
                return Answered(status=303, headers={"Location": result.location})
            if isinstance(result, Page):
                if not result.told_once:
                    raise _OnlyDrawn(result)
                drawn.append(result)  # once; later there is only the way back
            return Answered(status=303, headers={"Location": request.path})

        try:
            replay = visit.services.replays.answer(asked, work)
        except _OnlyDrawn as only:
            return only.page
        if replay.fingerprint != asked.fingerprint:
            raise Refused(BAD_REQUEST, _SENT_BEFORE)
        if drawn and not replay.again:
            return drawn[0]
        return Redirect(replay.answer.headers["Location"])

    def _again(self, visit: Visit, error: Exception) -> Result:
        """The form with what was typed and what is wrong with it."""
        kind, again = errors.kind_of(error), self._declared.again
        part = self._pages.parts.get(self._declared.rule, {}).get(visit.part)
        if kind is None or (part is None and again is None):
            raise error
        told = visit.again(faults_of(error, visit.form))
        if part is not None:
            return Page(part.template, status=kind.status, part=visit.part)
        result = again(told) if again else None
        if isinstance(result, Page):
            return replace(result, status=kind.status)
        raise error

    def _answer(self, result: Result, visitor: Visitor | None) -> Response:
        if isinstance(result, Redirect):
            answer = Response(status=303, headers={"Location": result.location})
        elif isinstance(result, File):
            answer = Response(result.body, content_type=result.media_type)
            saved = f'attachment; filename="{result.name}"'
            answer.headers["Content-Disposition"] = saved
        else:
            answer = Response(self._drawn(result), result.status, mimetype="text/html")
            answer.headers.update({"X-Part": result.part} if result.part else {})
            answer.headers.update(result.headers)
        token = _new_token(result, visitor)
        if token:
            doorway.remember(answer, token, request)
        return answer

    def _drawn(self, page: Page) -> str:
        visit: Visit | None = g.get("visit")
        said = self._pages.done.get(visit.query.get("done", "")) if visit else None
        return render_template(
            page.template, pages=self._pages, said=said, **page.values
        )


def _new_token(result: Result, visitor: Visitor | None) -> str:
    """What the browser is to be known by from here on; '' for what it was."""
    if isinstance(result, Redirect) and result.token:
        return result.token
    read = visitor is not None and request.method != "POST"
    return visitor.token if visitor and visitor.fresh and read else ""


def _meant(visit: Visit) -> dict[str, list[str]]:
    """What a form asks for, by which button and with which files."""
    ours = {_ONCE, doorway.TOKEN_FIELD}
    sent = {n: list(v) for n, v in visit.form.values.items() if n not in ours}
    for name in request.files:
        sent[name] = [*sent.get(name, ()), sha256(visit.upload(name)).hexdigest()]
    return sent


def _query() -> dict[str, str]:
    """The parameters in the address. Raises Refused."""
    given = request.args
    if any(len(values) > 1 for _, values in given.lists()):
        raise Refused(REPEATED_PARAMETER, REPEATED_PARAMETER.meaning)
    found: dict[str, str] = given.to_dict()
    if not all(value.isprintable() for value in found.values()):
        raise Refused(BAD_REQUEST, "The address holds characters that mean nothing.")
    return found
