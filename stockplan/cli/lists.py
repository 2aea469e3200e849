"""Lists of stock and jobs, as plain text and as JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.stock import StockItem
from stockplan.domain.units import money, size, square_metres
from stockplan.report.columns import in_columns
from stockplan.report.plan_file import job_record
from stockplan.report.words import counted, day, form_words


def stock_list(items: Sequence[StockItem]) -> str:
    """List stock items, with how many and how much."""
    headings = ("tag", "product", "batch", "lies as", "across × along, m", "m²", "bay", "cost per m²")
    rows = [
        (
            item.tag,
            item.product,
            item.batch or "unknown",
            form_words(item.form),
            size(item.width_mm, item.length_mm),
            square_metres(item.area_mm2),
            item.bay,
            money(item.cost_pence_per_m2),
        )
        for item in items
    ]
    total = square_metres(sum(item.area_mm2 for item in items))
    summary = f"{counted(len(items), 'item')}, {total} m²"
    if not items:
        return summary
    return f"{in_columns(headings, rows, right=('across × along, m', 'm²', 'cost per m²'))}\n\n{summary}"


def stock_json(items: Sequence[StockItem]) -> str:
    """Print stock items as JSON: sizes in whole millimetres, money with two decimals."""
    document = {
        "format": "stockplan-stock",
        "version": 1,
        "items": [
            {
                "tag": item.tag,
                "product": item.product,
                "batch": item.batch,
                "form": item.form.value,
                "width_mm": item.width_mm,
                "length_mm": item.length_mm,
                "bay": item.bay,
                "cost_per_m2": item.cost_pence_per_m2 / 100,
            }
            for item in items
        ],
    }
    return json.dumps(document, ensure_ascii=False, indent=1)


def job_list(jobs: Sequence[Job]) -> str:
    """List jobs in the order they are laid."""
    headings = ("lay on", "", "job", "site", "product", "pieces", "m²", "batch", "pile towards")
    rows = [
        (
            job.lay_on.isoformat(),
            day(job.lay_on).split()[0],
            job.code,
            job.site,
            job.product,
            str(job.piece_count) if job.strips else "not yet",
            square_metres(job.area_mm2) if job.strips else "",
            "one batch" if job.batch_rule is BatchRule.ONE else "any batches",
            job.pile_towards,
        )
        for job in jobs
    ]
    total = square_metres(sum(job.area_mm2 for job in jobs))
    pieces = counted(sum(job.piece_count for job in jobs), "piece")
    summary = f"{counted(len(jobs), 'job')}, {pieces}, {total} m²"
    if not jobs:
        return summary
    return f"{in_columns(headings, rows, right=('pieces', 'm²'))}\n\n{summary}"


def jobs_json(jobs: Sequence[Job]) -> str:
    """Print jobs as JSON: sizes in whole millimetres."""
    document = {
        "format": "stockplan-jobs",
        "version": 1,
        "jobs": [job_record(job) for job in jobs],
    }
    return json.dumps(document, ensure_ascii=False, indent=1)
