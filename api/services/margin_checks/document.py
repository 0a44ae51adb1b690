"""A margin check as it is told, to the bench alone."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from api.ports.margin_checks import CheckedJob, CoinSums, JobSums, Span, StageSums
from api.services.jobs.document import bridge, in_unit
from api.services.margin_checks.check import (
    Flag,
    JudgedStage,
    MarginCheck,
    hourly,
)
from api.services.margin_checks.flags import headline
from api.services.margin_checks.proposals import Accepted, Effect, Proposed
from pricing import money
from pricing.margin_check.evidence import Finding, TooFew
from pricing.margin_check.proposal import Proposal
from pricing.money import Currency

Document = dict[str, Any]


def check_document(check: MarginCheck) -> Document:
    """The whole of a check."""
    unit = check.currency
    return {
        "week": None if check.week is None else str(check.week),
        **_days(check.span),
        "timezone": check.timezone,
        "currency": unit.code,
        "headline": headline(check),
        "attention": check.attention,
        **_sums(check.sums, unit),
        "other_currencies": check.other_currencies,
        "flags": [_flag(each) for each in check.flags],
        "by_coin": [_coin(each, unit) for each in check.coins],
        "by_stage": [_stage(each, unit) for each in check.stages],
        "by_job": [_job(each, unit) for each in check.jobs],
        "jobs_left_out": check.jobs_left_out,
        "window": _days(check.window),
        "judged": [_judged(each) for each in check.judged],
        "proposals": [_proposal(each) for each in check.proposals],
        "open_promises": _promises(check),
        "trend": [_week(each, unit) for each in check.trend],
    }


def proposed_document(proposed: Proposed) -> Document:
    """What is proposed, and what it would do."""
    check, unit = proposed.check, proposed.check.currency
    return {
        "week": str(check.week),
        "currency": unit.code,
        "book_version": proposed.book_version,
        "window": _days(check.window),
        "proposals": [
            {
                **_proposal(each.proposal),
                "effects": [_effect(x, unit) for x in each.effects],
            }
            for each in proposed.proposals
        ],
        "together": [_effect(each, unit) for each in proposed.together],
    }


def accepted_document(accepted: Accepted) -> Document:
    """What was accepted, and the version of the price book that has it."""
    return {
        "book_version": accepted.book_version,
        "proposals": [_proposal(each) for each in accepted.proposals],
    }


def _days(span: Span) -> Document:
    return {"from": span.first, "to": span.last}


def _sums(sums: JobSums, unit: Currency) -> Document:
    earned = hourly(sums, unit)
    return {
        "jobs": sums.jobs,
        "pieces": sums.pieces,
        "coins": sums.coins_used,
        "under_floor": sums.under_floor,
        "planned": {
            "revenue": in_unit(sums.planned_revenue, unit),
            "cost": in_unit(sums.planned_cost, unit),
            "margin": in_unit(sums.planned_margin, unit),
            "minutes": sums.planned_minutes,
        },
        "realised": {
            "revenue": in_unit(sums.revenue, unit),
            "cost": in_unit(sums.cost, unit),
            "margin": in_unit(sums.margin, unit),
            "minutes": sums.minutes,
        },
        "bridge": bridge(sums.parts, unit),
        "labour": in_unit(sums.labour, unit),
        "hourly": None if earned is None else in_unit(earned, unit),
    }


def _flag(flag: Flag) -> Document:
    names = ("code", "subject", "title", "evidence", "n")
    return {name: getattr(flag, name) for name in names}


def _coin(sums: CoinSums, unit: Currency) -> Document:
    return {
        "coin": sums.coin or None,
        "coin_name": sums.coin_name,
        "pieces": sums.pieces,
        "coins_planned": sums.coins_planned,
        "coins": sums.coins_used,
        "planned_margin": in_unit(sums.planned_margin, unit),
        "margin": in_unit(sums.margin, unit),
        "bridge": bridge(sums.parts, unit),
    }


def _stage(sums: StageSums, unit: Currency) -> Document:
    names = ("stage", "title", "tried", "failed", "redone", "timed", "minutes")
    return {
        **{name: getattr(sums, name) for name in names},
        "planned_minutes": sums.planned_minutes,
        "labour_efficiency": in_unit(sums.labour_efficiency, unit),
    }


def _job(job: CheckedJob, unit: Currency) -> Document:
    names = ("id", "number", "title", "pieces", "minutes", "planned_minutes")
    return {
        **{name: getattr(job, name) for name in names},
        "completed_day": job.completed_day,
        "planned_margin": in_unit(job.planned_margin, unit),
        "margin": in_unit(job.margin, unit),
        "under_floor": job.under_floor,
        "cause": job.cause,
        "bridge": bridge(job.parts, unit),
        "assumed": job.assumed,
    }


def _judged(stage: JudgedStage) -> Document:
    found = stage.evidence
    return {
        "stage": found.key,
        "title": found.title,
        "tried": found.tried,
        "failed": found.failed,
        "counted": found.counted,
        "redone": found.redone,
        "timed": found.timed,
        "minutes": found.minutes,
        "planned_minutes": found.planned_minutes,
        "scrap_chance": stage.scrap_chance,
        "redo_chance": stage.redo_chance,
        "said": [_said(each) for each in stage.judgements],
    }


def _said(judgement: Finding | TooFew) -> Document:
    found = isinstance(judgement, Finding)
    interval = judgement.interval if isinstance(judgement, Finding) else (None, None)
    return {
        "kind": judgement.kind,
        "differs": found,
        "n": judgement.n,
        "low": _six(interval[0]),
        "high": _six(interval[1]),
        "words": judgement.words,
    }


def _six(value: Decimal | None) -> Decimal | None:
    return None if value is None else money.half_up(value, Decimal("0.000001"))


def _proposal(proposal: Proposal) -> Document:
    return {
        "path": proposal.dotted,
        "from": proposal.current,
        "to": proposal.proposed,
        "n": proposal.n,
        "how": proposal.how,
    }


def _effect(effect: Effect, unit: Currency) -> Document:
    amounts = ("cost", "price", "new_cost", "new_price")
    found = {name: getattr(effect, name) for name in amounts}
    return {
        "coin": effect.coin,
        "coin_name": effect.coin_name,
        "size": {"system": effect.size.system, "size": effect.size.given},
        "pieces": effect.pieces,
        **{
            name: None if value is None else in_unit(value, unit)
            for name, value in found.items()
        },
    }


def _promises(check: MarginCheck) -> Document:
    found = check.promises
    names = ("quotes", "accepted", "coins", "fine_ozt", "left_out")
    return {
        **{name: getattr(found, name) for name in names},
        "per_unit_of_spot": in_unit(found.per_unit_of_spot, check.currency),
    }


def _week(sums: JobSums, unit: Currency) -> Document:
    earned = hourly(sums, unit)
    return {
        "week": sums.week,
        "jobs": sums.jobs,
        "under_floor": sums.under_floor,
        "planned_margin": in_unit(sums.planned_margin, unit),
        "margin": in_unit(sums.margin, unit),
        "hourly": None if earned is None else in_unit(earned, unit),
    }
