"""The drawings of a plan, written as files."""

from __future__ import annotations

from pathlib import Path

from stockplan.actions.files import drawing_names, lawn_drawing_names, write_text
from stockplan.actions.planning import ShownPlan
from stockplan.report.drawing import draw_product
from stockplan.report.lawn_drawing import draw_lawns


def write_drawings(shown: ShownPlan, path: Path) -> list[Path]:
    """Write one drawing a product and one a job with lawns, and return the files written, in order of code.

    Parameters
    ----------
    shown
        The plan.
    path
        See `drawing_names` and `lawn_drawing_names`.

    Raises
    ------
    StockplanError
        When a file cannot be written.
    """
    names = drawing_names(path, (product.product for product in shown.plan.products))
    for product in shown.plan.products:
        write_text(names[product.product], draw_product(shown.request, product, shown.number, shown.conditions))
    jobs = {job.code: job for job in shown.request.jobs if job.lawns}
    chosen = sorted((one for one in shown.plan.layouts() if one.job in jobs), key=lambda one: one.job)
    lawn_names = lawn_drawing_names(path, (one.job for one in chosen))
    pieces = list(shown.plan.pieces())
    narrow_mm, short = shown.request.layout_settings.warn_narrow_mm, {one.job for one in shown.plan.short()}
    for one in chosen:
        drawn = draw_lawns(jobs[one.job], one.layout, pieces, narrow_mm, is_short=one.job in short, number=shown.number)
        write_text(lawn_names[one.job], drawn)
    return [*names.values(), *lawn_names.values()]
