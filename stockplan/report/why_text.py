"""Why something in a plan is as it is, in words and as JSON (`why.schema.json` states every key)."""

from __future__ import annotations

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import NEW_BATCH
from stockplan.domain.reasons import BatchReason, Otherwise, Why
from stockplan.domain.units import money
from stockplan.report.json_text import amount, json_document
from stockplan.report.reasons import batch_words, listed, sooner_records, sooner_words
from stockplan.report.words import day, printable

FOUND = "'At most' is what a plan that was found costs more; a longer look (--seconds) may find less."
BETTER = "One of these plans costs less than the plan itself, which can be bettered: plan again, for longer."


def why_text(why: Why, job: Job | None, plan: int) -> str:
    """Say why, a sentence and then a line for each way it might be.

    Parameters
    ----------
    why
        What was looked into.
    job
        The job it is about; None when it is about a source.
    plan
        The plan's number.
    """
    lines = [f"{_head(why, job)} in plan {plan}."]
    if why.short:
        lines.append(f"Why: {why.short}.")
        lines.append(f"Would mend it: {why.remedies}." if why.remedies else "What would mend it was not found in time.")
    elif why.otherwise:
        lines += _otherwise_lines(why, may_mix=job is not None and job.batch_rule is BatchRule.ANY)
    else:
        lines.append(f"Why: {_ground_words(why)}.")
    return "\n".join(printable(line) for line in lines)


def _head(why: Why, job: Job | None) -> str:
    if job is None:
        return f"{why.name} serves {listed(why.sources)}"
    laid = f"{why.name}, laid {day(job.lay_on)},"
    if why.short:
        return f"{laid} is left short"
    kind = "batch" if len(why.batches) == 1 else "batches"
    return f"{laid} is cut from {listed(why.sources)}, {kind} {listed(why.batches)},"


def _ground_words(why: Why) -> str:
    assert why.ground is not None
    return batch_words(BatchReason(why.name, why.batches, why.ground, lacking_mm=why.lacking_mm))


def _otherwise_lines(why: Why, *, may_mix: bool) -> list[str]:
    if not why.is_job:
        asked = "Without it, and what the whole plan of its grass then costs:"
    elif len(why.batches) > 1:
        asked = "All of it from one batch, and what the whole plan of its grass then costs:"
    elif may_mix:  # of several others together it may be had for less
        asked = "All of it from one other batch, and what the whole plan of its grass then costs:"
    else:
        asked = "From another batch, and what the whole plan of its grass then costs:"
    full = [one for one in why.otherwise if why.is_job and one.short]
    lines = [asked, *(f"  {_otherwise_words(one)}" for one in why.otherwise if one not in full)]
    for proven, words in ((False, "no room was found"), (True, "no room, proven")):
        if names := [_name(one) for one in full if one.proven is proven]:
            lines.append(f"  {', '.join(names)}: {words}")
    if any(one.most_pence is not None and not one.proven for one in why.otherwise):
        lines.append(FOUND)
    if any(one.most_pence is not None and one.most_pence < 0 for one in why.otherwise):
        lines.append(BETTER)
    return lines


def _name(one: Otherwise) -> str:
    return "new grass" if one.what == NEW_BATCH else one.what


def _otherwise_words(one: Otherwise) -> str:
    parts = []
    if one.short:
        proven = ", proven that no plan leaves less short" if one.proven else ""
        parts.append(f"{listed(one.short)} would be short{proven}")
    else:
        parts.append(_amount_words(one))
    parts += [f"{entry.job} from {listed(entry.sources)}" for entry in one.instead]
    if one.sooner:
        parts.append(sooner_words(one.sooner))
    return f"{_name(one)}: {'; '.join(parts)}"


def _amount_words(one: Otherwise) -> str:
    least, most = one.least_pence, one.most_pence
    assert most is not None
    if most < 0:
        return f"{money(-most)} less"
    if one.proven:
        return f"exactly {money(most)} more" if most else "no more, proven"
    if least is not None and least > 0:
        return f"at least {money(least)}, at most {money(most)} more"
    return f"at most {money(most)} more"


def why_to_json(why: Why, plan: int, currency: str) -> str:
    """The same as JSON.

    Parameters
    ----------
    why
        What was looked into.
    plan
        The plan's number.
    currency
        Of its amounts.
    """
    return json_document(
        {
            "format": "stockplan-why",
            "version": 1,
            "plan": plan,
            "currency": currency,
            "name": why.name,
            "product": why.product,
            "kind": "job" if why.is_job else "source",
            "sources" if why.is_job else "jobs": list(why.sources),
            "batches": list(why.batches),
            "ground": why.ground.value if why.ground else None,
            "short": why.short or None,
            "remedies": why.remedies or None,
            "otherwise": [_otherwise_record(one) for one in why.otherwise],
        }
    )


def _otherwise_record(one: Otherwise) -> dict[str, object]:
    return {
        "what": one.what,
        "short": list(one.short),
        "instead": [{"job": entry.job, "sources": list(entry.sources)} for entry in one.instead],
        "least_extra_cost": amount(one.least_pence),
        "most_extra_cost": amount(one.most_pence),
        "proven": one.proven,
        **sooner_records(one.sooner),
    }
