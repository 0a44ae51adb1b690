"""A workshop that logs its work, and what it writes down in tests."""

from __future__ import annotations

from decimal import Decimal

from api.app.bench import make_bench
from api.ports.jobs import LoggedCoins
from api.services.jobs.plan import read_plan
from api.services.jobs.terms import AttemptAsk, JobAsk, LogAsk
from pricing.margin_check.actual import JobMoney
from tests.services.promising import Promises, ask

HEADER = "job,outcome,stage,minutes:fold"


def attempt(outcome="good", **told):
    """An attempt; figures may be written as text."""
    masses = ("slug_g", "bored_g", "finished_g")
    exact = {
        name: Decimal(value) if name in masses else value
        for name, value in told.items()
        if name != "minutes"
    }
    minutes = {key: Decimal(value) for key, value in told.get("minutes", {}).items()}
    return AttemptAsk(outcome=outcome, minutes=minutes, **exact)


def coins(count=1, cost="17.20", **more):
    return LoggedCoins(count=count, unit_cost=Decimal(cost), **more)


def money(**known):
    return JobMoney(**{name: Decimal(value) for name, value in known.items()})


def log(*attempts, taken=(), at=None, **known):
    """All that is known of a job; no attempts leaves those that are there."""
    return LogAsk(
        money=money(**known),
        coins=tuple(taken),
        attempts=attempts or None,
        completed_at=at,
    )


def csv(*rows, header=HEADER):
    return "\n".join((header, *rows, "")).encode()


class Logbook(Promises):
    """The services of a workshop with a book, a spot price and a bench log."""

    def __init__(self, storage, clock):
        super().__init__(storage, clock)
        bench = make_bench(
            self.snapshots,
            clock,
            books=self.books,
            coins=self.coins,
            spots=self.spots,
            making=self.quotes.making,
        )
        self.jobs, self.attempts = bench.jobs, bench.attempts
        self.stopwatch, self.files = bench.stopwatch, bench.files

    def accepted(self, *asks, **terms):
        """A quote that was accepted."""
        made = self.create(*(asks or (ask(quantity=2),)), **terms)
        return self.quotes.accept(made.id, expected=None)

    def opened(self, *asks, **more):
        """A job of such a quote."""
        return self.jobs.open(JobAsk(quote=self.accepted(*asks).id, **more))

    def plan(self, job):
        return read_plan(job.plan)

    def log_of(self, job):
        return self.jobs.log(job)

    def told(self, about):
        """What the audit trail says of a kind of deed, oldest first."""
        return [after for _, _, _, after in self.entries(about)]
