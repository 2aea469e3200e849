"""Lists of jobs, as plain text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence

from stockplan.cli.saying import room
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.units import square_metres
from stockplan.report.columns import in_columns
from stockplan.report.json_text import json_document
from stockplan.report.plan_file import job_record
from stockplan.report.words import counted, day


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
    return f"{in_columns(headings, rows, ('pieces', 'm²'), room())}\n\n{summary}"


def jobs_json(jobs: Sequence[Job]) -> str:
    """Print jobs as JSON, ending with a newline: sizes in whole millimetres."""
    document = {
        "format": "stockplan-jobs",
        "version": 1,
        "jobs": [job_record(job) for job in jobs],
    }
    return json_document(document)
