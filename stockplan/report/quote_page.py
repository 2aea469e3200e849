"""A quote as one page of HTML: the annex a customer gets, and the page the firm keeps.

The customer's page is made from an `Annex`, which holds no cost. The firm's page has the figures before it.
"""

from __future__ import annotations

import re
from html import escape

from stockplan.domain.quote import Annex, Quote
from stockplan.domain.units import metres, size, square_metres
from stockplan.report.quote_text import PRIVATE, cost_sentence, figures, rule_words, waste_words
from stockplan.report.words import counted, day, printable

_STYLE = """
@page { size: A4; margin: 15mm }
body { font: 11pt/1.4 sans-serif; color: #1a1a1a; max-width: 180mm; margin: 0 auto; padding: 6mm }
h1 { font-size: 17pt; margin: 0 0 4mm } h2 { font-size: 12pt; margin: 6mm 0 2mm }
table { border-collapse: collapse; margin-bottom: 4mm }
th, td { text-align: left; padding: 1mm 5mm 1mm 0; border-bottom: 0.3mm solid #999 }
td.figure, th.figure { text-align: right; font-variant-numeric: tabular-nums }
svg { max-width: 100%; height: auto; break-inside: avoid }
.private { border: 0.6mm solid #1a1a1a; padding: 2mm 3mm; font-weight: bold }
"""
PILE = "The pile leans one way over everything seen together, and no piece is turned against it."
BATCH = "All pieces come from one dye batch, so that the green is the same all over."


def customer_page(annex: Annex) -> str:
    """Print the annex for a customer: sizes, areas, seams and drawing, and no cost.

    Parameters
    ----------
    annex
        What a customer may see.
    """
    return _page(f"Annex to quote {annex.quote}", _annex(annex))


def firm_page(quote: Quote, currency: str) -> str:
    """Print the page the firm keeps: the annex with every cost before it.

    Parameters
    ----------
    quote
        The quote.
    currency
        ISO 4217 code.
    """
    rows = "".join(
        f"<tr><td>{_text(name)}</td><td class=figure>{_text(value)}</td></tr>" for name, value in figures(quote)
    )
    body = [
        f"<p class=private>{_text(PRIVATE)}</p>",
        f"<p>{_text(cost_sentence(quote, currency))}</p>",
        f"<p>Rule of thumb: {_text(rule_words(quote))}; {_text(quote.weighing.sentence)}.</p>",
        f"<table><tr><th></th><th class=figure>{_text(currency)}</th></tr>{rows}</table>",
        f"<p>Waste: {_text(waste_words(quote))}.</p>",
    ]
    if quote.needs:
        needs = "".join(f"<tr><td>{_text(name)}</td><td>{_text(words)}</td></tr>" for name, words in quote.needs)
        body.append(f"<h2>Beside grass</h2><table>{needs}</table>")
    return _page(f"Quote {quote.annex.quote}", "".join(body) + _annex(quote.annex))


def _annex(annex: Annex) -> str:
    rows = "".join(
        f"<tr><td>{_text(strip.label)}</td><td class=figure>{_text(size(strip.width_mm, strip.length_mm))}</td>"
        f"<td class=figure>{strip.count}</td></tr>"
        for strip in annex.strips
    )
    facts = [
        ("Site", annex.site),
        ("Grass", ", ".join(part for part in (annex.product, annex.description) if part)),
        ("Laid", f"{day(annex.lay_on)} {annex.lay_on.year}"),
        ("Lawn", "" if annex.lawn_mm2 is None else f"{square_metres(annex.lawn_mm2)} m²"),
        ("Grass as cut", f"{square_metres(annex.grass_mm2)} m²"),
        ("Seams", _seams(annex)),
    ]
    listed = "".join(f"<tr><th>{_text(name)}</th><td>{_text(value)}</td></tr>" for name, value in facts if value)
    drawings = "".join(_inline(drawing) for drawing in annex.drawings)
    return (
        f"<table>{listed}</table><h2>Pieces, in metres, across × along the pile</h2>"
        f"<table><tr><th>Piece</th><th class=figure>Size</th><th class=figure>How many</th></tr>{rows}</table>"
        f"<p>{PILE}{f' {BATCH}' if annex.one_batch else ''}</p>{drawings}"
        f"<p>Made on {_text(annex.made_on.isoformat())}.</p>"
    )


def _seams(annex: Annex) -> str:
    if annex.seams is None:
        return ""
    if annex.seams.count == 0:
        return "none"
    return f"{counted(annex.seams.count, 'seam')}, {metres(annex.seams.along_mm + annex.seams.across_mm)} m together"


def _inline(svg: str) -> str:
    return re.sub(r"^<\?xml[^>]*\?>\s*", "", svg)


def _page(title: str, body: str) -> str:
    return (
        f"<!doctype html>\n<html lang=en><head><meta charset=utf-8><title>{_text(title)}</title>"
        f"<style>{_STYLE}</style></head><body><h1>{_text(title)}</h1>{body}</body></html>\n"
    )


def _text(words: str) -> str:
    return escape(printable(words))
