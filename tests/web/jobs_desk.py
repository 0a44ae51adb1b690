"""A workshop whose bench is driven through its pages, without a browser."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from decimal import Decimal
from html import unescape

from api.services.jobs.terms import AttemptAsk, JobAsk
from api.services.quotes.terms import LineAsk, QuoteTerms
from pricing.ring_size import ring_size
from pricing.wish import Wish
from tests.browser.bench_site import COIN
from tests.browser.quotes import Clock

JOBS = "/bench/jobs"


@dataclass
class JobsDesk:
    """A desk, its clock, and shortcuts to what a test begins with."""

    desk: object
    clock: object

    @property
    def bench(self):
        return self.desk.services.bench

    def promised(self, *wishes):
        """A quote that is open."""
        asks = [LineAsk(coin=COIN, wish=wish) for wish in wishes or (ring(),)]
        return self.desk.services.quotes.create(asks, QuoteTerms())

    def sold(self, *wishes):
        """A quote that was accepted."""
        quote = self.promised(*wishes)
        return self.desk.services.quotes.accept(quote.id, expected=None)

    def opened(self, *wishes, **more):
        return self.bench.jobs.open(JobAsk(quote=self.sold(*wishes).id, **more))

    def pair(self):
        """A job of two lines."""
        return self.opened(ring(), ring("iso", "58"))

    def coin(self, job, outcome="good", **told):
        """A coin written down, under its number."""
        told["minutes"] = {k: Decimal(v) for k, v in told.get("minutes", {}).items()}
        ask = AttemptAsk(outcome=outcome, **told)
        return self.bench.attempts.add(job.id, ask)[1]

    def coins(self, job):
        return self.bench.jobs.log(job).attempts

    def now(self, job):
        return self.bench.jobs.get(job.id)

    def page(self, job, more=""):
        """The text of a page of a job, without its marks."""
        answer = self.desk.get(f"{JOBS}/{job.id}{more}")
        assert answer.status_code == 200, answer.status_code
        return plain(answer.text)

    def press(self, job, deed, line=None, **more):
        """The answer to a button of the job's page."""
        path = f"{JOBS}/{job.id}" + ("" if line is None else f"?line={line}")
        return self.desk.post(path, {"_do": deed} | more)

    def send(self, job, more, values=()):
        return self.desk.post(f"{JOBS}/{job.id}{more}", values)


def ring(system="us", size="10", **more):
    return Wish(size=ring_size(system, size), **more)


def plain(page):
    """A page as it is read: no marks, one blank between words."""
    sheet = page.partition('<main id="sheet"')[2]
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", sheet)).split())


def went(answer):
    """Where an answer leads, the ids left out."""
    assert answer.status_code == 303, plain(answer.text)
    return re.sub(r"[\w-]{22}", "JOB", answer.headers["Location"])


def standing(desk_on, filled_file, tmp_path):
    """The bench of a filled workshop, and its clock."""
    copy = tmp_path / "fineweight.sqlite3"
    shutil.copy(filled_file, copy)
    clock = Clock()
    return JobsDesk(desk_on(copy, clock=clock), clock)
