"""Jobs with lawns get their layouts; those that cannot be laid out are named with the reason."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from stockplan.actions import laying_out
from stockplan.actions.laying_out import lay_out
from stockplan.domain.jobs import BatchRule, Job, Window
from stockplan.domain.lawn import EdgeNote, Lawn, Point
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.pile import PileKind, PileWish
from stockplan.domain.request import PlanRequest, Progress
from stockplan.domain.stock import Product, StockForm, StockItem

DAY = date(2026, 11, 30)
LAWN = Lawn("back", (Point(0, 0), Point(5000, 0), Point(5000, 4000), Point(0, 4000)))
JOB = Job("J1", "Larch Row", "G30", DAY, "", BatchRule.ONE, (), (LAWN,))
ROLL = StockItem("R1", "G30", "B1", StockForm.ROLL, 4000, 25000, "north", 1000)
REQUEST = PlanRequest(Window(DAY, DAY), DAY, (Product("G30", "", 2500),), (), (ROLL,), ())


def test_lawns_are_laid_out() -> None:
    found = lay_out([JOB], REQUEST, LayoutSettings())
    (job,) = found.jobs
    assert (job.code, bool(job.layouts), found.left, found.notes()) == ("J1", True, (), ())


def test_what_cannot_be_laid_out_is_told() -> None:
    jobs = [
        replace(JOB, code="J2", lawns=()),
        replace(JOB, code="J3", pile=PileWish(PileKind.TOWARDS, "shed")),
        replace(JOB, code="J4", product="G40"),
    ]
    found = lay_out(jobs, REQUEST, LayoutSettings())
    assert found.jobs == ()
    assert [job.code for job, _ in found.left] == ["J2", "J3", "J4"]
    assert "no edge is called 'shed'" in found.notes()[0]
    assert found.notes()[1] == "J4 is not planned: G40 neither lies in the yard nor is on offer"
    strict = LayoutSettings(least_narrow_mm=3990, warn_narrow_mm=3990)
    assert lay_out([JOB], REQUEST, strict).notes() == (
        "J1 is not planned: no way of laying its lawns keeps the firm's rules; see: stockplan settings",
    )


def test_sides_where_no_seam_may_lie_are_named_where_no_layout_keeps_off_them() -> None:
    off = tuple(EdgeNote(number, name, True) for number, name in enumerate(("house", "", "house", "")))
    walled = replace(JOB, lawns=(replace(LAWN, notes=off),))
    (told,) = lay_out([walled], REQUEST, LayoutSettings()).notes()
    assert "keeps the firm's rules with no seam at house, side 2 of lawn back, side 4 of lawn back; see" in told


def test_progress_is_told_once_it_takes_long(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[Progress] = []
    lay_out([JOB], REQUEST, LayoutSettings(), told.append)
    assert told == []
    monkeypatch.setattr(laying_out, "QUIET_SECONDS", -1.0)
    lay_out([JOB], REQUEST, LayoutSettings(), told.append)
    assert [one.phase for one in told] == ["laying out lawns, job 1 of 1"]
