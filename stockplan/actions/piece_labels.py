"""What labels say of pieces: all that a plan cuts, or single ones by what they are called."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from stockplan.domain.came_off import piece_words
from stockplan.domain.lifting import weight_kg
from stockplan.domain.plan import Piece, Plan
from stockplan.domain.stock import StockItem
from stockplan.report.label_facts import LabelFacts

if TYPE_CHECKING:
    from stockplan.store.rows import Rows

NOT_KNOWN = "not yet known"


def code_of(piece: Piece) -> str:
    """What a piece is called on its label."""
    return piece_words((piece.job, piece.strip, piece.number))


def weight_of(width_mm: int, length_mm: int, weight_g_m2: int | None) -> int | None:
    """What grass weighs, kg; None where it is not on record what its product weighs."""
    return None if weight_g_m2 is None else weight_kg(width_mm, length_mm, weight_g_m2)


def planned_pieces(
    plan: Plan,
    sources: Mapping[str, StockItem],
    names: Mapping[str, str],
    weights: Mapping[str, int],
    without: frozenset[Piece],
) -> Iterator[LabelFacts]:
    """Give what the labels of a plan's pieces say.

    Parameters
    ----------
    plan
        The plan.
    sources
        What its sources are, by the plan's name of each; an order that has not come is not among them.
    names
        Tags and keys by which people know its sources.
    weights
        Of products, g/m².
    without
        Pieces that get none.
    """
    for product in plan.products:
        for cuts in product.cuts:
            item = sources.get(cuts.source)
            off, batch = names.get(cuts.source, cuts.source), item.batch_key if item else NOT_KNOWN
            for piece in cuts.pieces():
                if piece not in without:
                    yield _label(piece, off, product.product, batch, weights)


def pieces_named(rows: Rows, code: str, weights: Mapping[str, int]) -> list[LabelFacts]:
    """Give what the labels of all pieces of one name say, those cut first; none where nothing sound is called so.

    What is cut in place of a spoiled piece may bear its name, and so may what another plan is to cut for a job.

    Parameters
    ----------
    rows
        Where to look.
    code
        As on the label, such as J224/A/2.
    weights
        Of products, g/m².
    """
    if code.count("/") < 2:
        return []
    return [*_cut(rows, code, weights), *_to_cut(rows, code, weights)]


def _cut(rows: Rows, code: str, weights: Mapping[str, int]) -> Iterator[LabelFacts]:
    from stockplan.store.yard_rows import read_cut_so_far  # noqa: PLC0415

    parts = code.split("/")
    jobs = ["/".join(parts[:end]) for end in range(1, len(parts) - 1)]  # a job's name may have slashes, too
    for (job, strip), pieces in read_cut_so_far(rows, jobs).items():
        for one in pieces:
            if piece_words((job, strip, one.number)) == code:
                yield LabelFacts(
                    code=code,
                    what=f"piece off {one.source}",
                    product=one.product,
                    batch=one.batch,
                    width_mm=one.width_mm,
                    length_mm=one.length_mm,
                    weight_kg=weight_of(one.width_mm, one.length_mm, weights.get(one.product)),
                    job=job,
                )


def _to_cut(rows: Rows, code: str, weights: Mapping[str, int]) -> Iterator[LabelFacts]:
    from stockplan.actions.in_force import read_books  # noqa: PLC0415 - reading plans is slow to import
    from stockplan.store.yard_rows import read_stock  # noqa: PLC0415

    books = read_books(rows)
    for one in books.standing(read_stock(rows, books.reserved)):
        batch = one.item.batch_key if one.item.arrives_on is None else NOT_KNOWN
        for piece in one.cuts.pieces():
            if code_of(piece) == code:
                yield _label(piece, one.item.tag, one.item.product, batch, weights)


def _label(piece: Piece, off: str, product: str, batch: str, weights: Mapping[str, int]) -> LabelFacts:
    return LabelFacts(
        code=code_of(piece),
        what=f"piece off {off}",
        product=product,
        batch=batch,
        width_mm=piece.width_mm,
        length_mm=piece.length_mm,
        weight_kg=weight_of(piece.width_mm, piece.length_mm, weights.get(product)),
        job=piece.job,
    )
