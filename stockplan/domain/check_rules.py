"""Rules about what is served: coverage, size, batch, product, window."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from stockplan.domain.check_facts import Facts, Rule, Violation, piece_name
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import ProductPlan, SourceCuts
from stockplan.domain.units import size


def coverage(facts: Facts) -> Iterator[Violation]:
    """Every copy still to be cut is cut once or reported short, a job is short wholly, and nothing else is cut."""
    placed = Counter((piece.job, piece.strip, piece.number) for piece in facts.plan.pieces())
    short: Counter[tuple[str, str]] = Counter()
    for shortfall in facts.plan.short():
        short[shortfall.job, shortfall.strip] += shortfall.count
    short_jobs = {job for job, _ in short}
    for job in facts.request.jobs:
        yield from _job_coverage(job, placed, short if job.code in short_jobs else None, facts.cut)
    yield from _unasked(facts)
    yield from _product_plans(facts)


def _job_coverage(
    job: Job,
    placed: Counter[tuple[str, str, int]],
    short: Counter[tuple[str, str]] | None,
    cut: Counter[tuple[str, str]],
) -> Iterator[Violation]:
    for strip in job.strips:
        where = f"{job.code} {strip.label}"
        done = cut[job.code, strip.label]
        for number in range(done + 1, strip.count + 1):
            times = placed[job.code, strip.label, number]
            if short is not None and times:
                yield Violation(Rule.COVERAGE, "is cut, but the job is reported short", f"{where} no. {number}")
            elif short is None and times != 1:
                found = f"is cut {times} times" if times else "is neither cut nor reported short"
                yield Violation(Rule.COVERAGE, f"{found}; would be cut once", f"{where} no. {number}")
        if short is not None and short[job.code, strip.label] != strip.count - done:
            found = f"{short[job.code, strip.label]} reported short"
            yield Violation(Rule.COVERAGE, f"{found}; a job is short wholly, {strip.count - done} here", where)


def _unasked(facts: Facts) -> Iterator[Violation]:
    counts = {(job.code, strip.label): strip.count for job in facts.request.jobs for strip in job.strips}
    for piece in facts.plan.pieces():
        count = counts.get((piece.job, piece.strip))
        if piece.job not in facts.jobs:
            yield Violation(Rule.COVERAGE, "no such job was asked for", piece_name(piece))
        elif count is None:
            yield Violation(Rule.COVERAGE, "the job has no such strip", piece_name(piece))
        elif not 1 <= piece.number <= count:
            yield Violation(Rule.COVERAGE, f"copies are numbered 1 to {count}", piece_name(piece))
    for shortfall in facts.plan.short():
        where = f"{shortfall.job} {shortfall.strip}"
        if (shortfall.job, shortfall.strip) not in counts:
            yield Violation(Rule.COVERAGE, "reported short, but no such job and strip was asked for", where)
        if shortfall.count < 1:
            yield Violation(Rule.COVERAGE, f"{shortfall.count} copies short; would be at least 1", where)


def _product_plans(facts: Facts) -> Iterator[Violation]:
    planned = [product.product for product in facts.plan.products]
    wanted = {job.product for job in facts.request.jobs}
    for code in sorted(wanted | set(planned)):
        if code not in wanted:
            yield Violation(Rule.COVERAGE, "is planned, but no job asks for it", code)
        elif planned.count(code) != 1:
            yield Violation(Rule.COVERAGE, f"has jobs and {planned.count(code)} plans; would have one", code)
    if planned != sorted(planned):
        yield Violation(Rule.COVERAGE, "products are not in order of code", ", ".join(planned))


def size_and_direction(facts: Facts) -> Iterator[Violation]:
    """Every piece has its strip's width and length, and is not turned."""
    for piece in facts.plan.pieces():
        job = facts.jobs.get(piece.job)
        for strip in job.strips if job else ():
            if strip.label != piece.strip or (piece.width_mm, piece.length_mm) == (strip.width_mm, strip.length_mm):
                continue
            found, right = size(piece.width_mm, piece.length_mm), size(strip.width_mm, strip.length_mm)
            turned = (piece.width_mm, piece.length_mm) == (strip.length_mm, strip.width_mm)
            message = f"is turned: {found}; would be {right}" if turned else f"is {found}; would be {right}"
            yield Violation(Rule.SIZE, message, piece_name(piece))


def batch(facts: Facts) -> Iterator[Violation]:
    """Pieces carry their source's batch, and a job that wants one batch gets one."""
    dyes: dict[str, dict[tuple[str, str], str]] = {}
    for cuts in facts.plan.cuts():
        source = facts.sources.get(cuts.source)
        if source is None:
            continue
        if cuts.batch != source.batch:
            yield Violation(Rule.BATCH, f"is shown as batch {cuts.batch!r}; is {source.batch!r}", cuts.source)
        for piece in cuts.pieces():
            dyes.setdefault(piece.job, {})[source.dye] = f"{source.batch} ({cuts.source})"
            if piece.batch != source.batch:
                message = f"is shown as batch {piece.batch!r}; its source is {source.batch!r}"
                yield Violation(Rule.BATCH, message, piece_name(piece))
    for code, found in dyes.items():
        job = facts.jobs.get(code)
        if job is not None and job.batch_rule is BatchRule.ONE and len(found) > 1:
            batches = ", ".join(sorted(found.values()))
            yield Violation(Rule.BATCH, f"wants one batch; its pieces come from {batches}", code)


def product(facts: Facts) -> Iterator[Violation]:
    """Every source exists, is cut once, and it and all it serves are of the one product they are planned under."""
    for key, times in Counter(cuts.source for cuts in facts.plan.cuts()).items():
        if times > 1:
            yield Violation(Rule.PRODUCT, f"is cut {times} times over; each source is cut once", key)
    for planned in facts.plan.products:
        for cuts in planned.cuts:
            yield from _source_product(facts, planned, cuts)
        yield from _listed_product(facts, planned)


def _source_product(facts: Facts, planned: ProductPlan, cuts: SourceCuts) -> Iterator[Violation]:
    source = facts.sources.get(cuts.source)
    if source is None:
        yield Violation(Rule.PRODUCT, "is neither in stock nor ordered", cuts.source)
    for code in {cuts.product, source.product if source else cuts.product} - {planned.product}:
        yield Violation(Rule.PRODUCT, f"is {code}, cut in the plan for {planned.product}", cuts.source)
    for piece in cuts.pieces():
        if piece.source != cuts.source:
            yield Violation(Rule.PRODUCT, f"is shown among the cuts of {cuts.source}", piece_name(piece))
        job = facts.jobs.get(piece.job)
        if job is not None and source is not None and job.product != source.product:
            yield Violation(Rule.PRODUCT, f"job wants {job.product}; source is {source.product}", piece_name(piece))


def _listed_product(facts: Facts, planned: ProductPlan) -> Iterator[Violation]:
    listed = [(order.key, order.product) for order in planned.orders]
    for shortfall in planned.short:
        job = facts.jobs.get(shortfall.job)
        listed.append((f"{shortfall.job} {shortfall.strip}", job.product if job else planned.product))
    for where, code in listed:
        if code != planned.product:
            yield Violation(Rule.PRODUCT, f"is {code}, listed in the plan for {planned.product}", where)
    keys = [leftover.source for leftover in planned.leftovers] + [used.source for used in planned.stock_used]
    for key in dict.fromkeys(keys):
        source = facts.sources.get(key)
        if source is None:
            yield Violation(Rule.PRODUCT, "is neither in stock nor ordered", key)
        elif source.product != planned.product:
            yield Violation(Rule.PRODUCT, f"is {source.product}, listed in the plan for {planned.product}", key)


def window(facts: Facts) -> Iterator[Violation]:
    """The plan is for the window and the day it was asked for, and every job is laid inside the window."""
    plan, request = facts.plan, facts.request
    if plan.window != request.window:
        found, right = plan.window, request.window
        message = f"covers {found.first} to {found.last}; would be {right.first} to {right.last}"
        yield Violation(Rule.WINDOW, message, "plan")
    if plan.today != request.today:
        yield Violation(Rule.WINDOW, f"is made on {plan.today}; would be {request.today}", "plan")
    if plan.currency != request.currency:
        yield Violation(Rule.WINDOW, f"is in {plan.currency}; would be {request.currency}", "plan")
    for job in request.jobs:
        if job.lay_on not in request.window:
            yield Violation(Rule.WINDOW, f"is laid on {job.lay_on}, outside the window", job.code)
