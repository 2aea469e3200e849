"""What is told of a quote: its layout, seams and waste are those of the very plan that its cost is of."""

from __future__ import annotations

from dataclasses import replace

from small_problems import cut_lengths, item, job, problem, sound_plan

from stockplan.actions.quote_parts import told
from stockplan.cutting.strips import job_layouts
from stockplan.cutting.strips_cut import Grass
from stockplan.domain.lawn import Lawn, Point
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.quote_bracket import bracket
from stockplan.domain.request import SearchLimits
from stockplan.domain.settings import read_settings


def test_a_lawn_that_is_cheaper_laid_otherwise_than_planned_is_told_as_it_is_then_laid() -> None:
    """Laid one way it fits an idle offcut, 0.30 m too wide; planned is the other way, of bought grass."""
    lawn = Lawn("lawn", (Point(0, 0), Point(2000, 0), Point(2000, 3000), Point(0, 3000)))
    laid = replace(job("J1", ""), lawns=(lawn,))
    grass = Grass((4000,), ((2400, 3200), (4000, 15000)), 1250)
    ways = {way.strips[0].width_mm: way for way in job_layouts(laid, grass, LayoutSettings())}
    bought, fits = ways[3100], ways[2100]
    request = problem([replace(laid, layouts=(bought,))], [item("K", "2400x3200")], [cut_lengths("4000x15000", 5000)])
    (plan,) = sound_plan(request, SearchLimits(seconds=20, work=60)).products

    known = replace(laid, layouts=(bought, fits))
    request = replace(request, jobs=(known,))
    found = bracket(request, known, plan, None)
    assert [take.source.key for take in found.takes] == ["K"]
    assert found.layout is fits

    quote = told(request, known, read_settings({}), plan, None, found)
    assert quote.annex.strips == fits.strips
    assert [source for source, _, _ in quote.sources] == ["K"]
    assert quote.binned_mm2 == 300 * 3200
