"""A quote as JSON: `quote.schema.json` beside this file states every key. Costs are inside; it is not for customers."""

from __future__ import annotations

from stockplan.domain.quote import Quote, Seams
from stockplan.domain.strip import Strip
from stockplan.domain.true_cost import Solved, TrueCost
from stockplan.report.json_text import amount, area, json_document
from stockplan.report.quote_text import cost_sentence

FORMAT = "stockplan-quote"
VERSION = 1

Record = dict[str, object]


def quote_to_json(quote: Quote, currency: str) -> str:
    """Print a quote as JSON, ending with a newline.

    Parameters
    ----------
    quote
        The quote.
    currency
        ISO 4217 code.
    """
    annex, rule = quote.annex, quote.rule
    return json_document(
        {
            "format": FORMAT,
            "version": VERSION,
            "currency": currency,
            "quote": annex.quote,
            "site": annex.site,
            "product": annex.product,
            "today": annex.made_on.isoformat(),
            "lay_on": annex.lay_on.isoformat(),
            "window": {"from": quote.first.isoformat(), "to": quote.last.isoformat(), "other_jobs": quote.others},
            "strips": [_strip(strip) for strip in annex.strips],
            "areas": {
                "lawn_m2": area(annex.lawn_mm2),
                "grass_m2": area(annex.grass_mm2),
                "binned_more_m2": area(quote.binned_mm2),
            },
            "true_cost": None if quote.cost is None else _true_cost(quote.cost),
            "with_job": _solved(quote.with_it),
            "without_job": _solved(quote.without),
            "bought_alone": amount(quote.alone_pence),
            "rule_of_thumb": {
                "area_m2": area(rule.area_mm2),
                "price_per_m2": amount(rule.price_pence_per_m2),
                "wastage_percent": rule.wastage_percent,
                "cost": amount(rule.pence),
            },
            "weighing": {"word": quote.weighing.word, "sentence": quote.weighing.sentence},
            "seams": None if annex.seams is None else _seams(annex.seams),
            "sources": [{"source": key, "batch": batch, "pieces": count} for key, batch, count in quote.sources],
            "orders": list(quote.orders),
            "take_off": [{"material": name, "needed": words} for name, words in quote.needs],
            "sentence": cost_sentence(quote, currency),
        }
    )


def _strip(strip: Strip) -> Record:
    return {
        "strip": strip.label,
        "width_mm": strip.width_mm,
        "length_mm": strip.length_mm,
        "count": strip.count,
    }


def _true_cost(cost: TrueCost) -> Record:
    return {
        "least": amount(cost.least),
        "likely": amount(cost.likely),
        "most": amount(cost.most),
        "exact": cost.exact,
    }


def _seams(seams: Seams) -> Record:
    return {"count": seams.count, "along_mm": seams.along_mm, "across_mm": seams.across_mm}


def _solved(known: Solved) -> Record:
    return {
        "cost": amount(known.cost_pence),
        "lower_bound": amount(known.bound_pence),
        "short": [{"job": job, "strip": strip, "count": count} for job, strip, count in sorted(known.short)],
    }
