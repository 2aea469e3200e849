"""Ways to break what is cut from what and where: coverage, sizes, places, area, through-cuts, batches."""

from __future__ import annotations

from dataclasses import replace

from breaking import put
from mutations import Mutations, a_piece, a_source, breaker, one, swap

from stockplan.domain.check import Rule
from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import PlannedLeftover, PlanStatus, Shortfall
from stockplan.domain.stock import StockForm

MUTATIONS: Mutations = []
breaks = breaker(MUTATIONS)


# --- coverage


@breaks(Rule.COVERAGE)
def piece_dropped(case, pick):
    return swap(case, a_piece(case, pick))


@breaks(Rule.COVERAGE)
def piece_cut_twice(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, piece, replace(piece))


@breaks(Rule.COVERAGE)
def piece_misnumbered(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, number=one(pick, [0, -1, 1000])))


@breaks(Rule.COVERAGE)
def piece_for_nobody(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, job="J999"))


@breaks(Rule.COVERAGE)
def piece_of_no_such_strip(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, strip="?"))


@breaks(Rule.COVERAGE)
def cut_strip_reported_short(case, pick):
    planned = one(pick, list(case.plan.products))
    piece = next(iter(planned.cuts[0].pieces()))
    short = (*planned.short, Shortfall(piece.job, piece.strip, 1, "mistake"))
    return swap(case, planned, replace(planned, short=short, status=PlanStatus.SHORT))


@breaks(Rule.COVERAGE)
def shortfall_forgotten(case, pick):
    short = list(case.plan.short())
    return swap(case, one(pick, short)) if short else None


@breaks(Rule.COVERAGE)
def shortfall_miscounted(case, pick):
    short = [shortfall for shortfall in case.plan.short() if shortfall.count > 1]
    return swap(case, short[0], replace(short[0], count=one(pick, [0, 1, 3]))) if short else None


@breaks(Rule.COVERAGE)
def product_not_planned(case, pick):
    return swap(case, one(pick, list(case.plan.products)))


@breaks(Rule.COVERAGE)
def product_planned_twice(case, pick):
    planned = one(pick, list(case.plan.products))
    return swap(case, planned, planned, replace(planned))


@breaks(Rule.COVERAGE)
def product_nobody_wants(case, pick):
    planned = case.plan.products[-1]
    return swap(case, planned, planned, replace(planned, product="Z99", orders=(), cuts=(), leftovers=(), short=()))


@breaks(Rule.COVERAGE)
def job_asked_for_more(case, pick):
    piece = a_piece(case, pick)
    job = next(job for job in case.request.jobs if job.code == piece.job)
    strips = (replace(job.strips[0], count=job.strips[0].count + 1), *job.strips[1:])
    return replace(case, request=put(case.request, job, replace(job, strips=strips)))


# --- size and direction


@breaks(Rule.SIZE)
def piece_turned(case, pick):
    piece = a_piece(case, pick)
    if piece.width_mm == piece.length_mm:
        return None
    return swap(case, piece, replace(piece, width_mm=piece.length_mm, length_mm=piece.width_mm))


@breaks(Rule.SIZE)
def piece_resized(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, length_mm=piece.length_mm + one(pick, [-1, 1, 700])))


# --- inside and not overlapping


@breaks(Rule.PLACEMENT)
def piece_moved_along(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, along_mm=piece.along_mm + one(pick, [-500, -1, 1, 500])))


@breaks(Rule.PLACEMENT)
def piece_moved_across(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, across_mm=piece.across_mm + one(pick, [-500, -1, 1, 500])))


@breaks(Rule.PLACEMENT)
def leftover_moved(case, pick):
    left = list(case.plan.leftovers())
    if not left:
        return None
    chosen = one(pick, left)
    return swap(case, chosen, replace(chosen, along_mm=chosen.along_mm + one(pick, [-1, 1])))


@breaks(Rule.PLACEMENT)
def leftover_listed_twice(case, pick):
    left = list(case.plan.leftovers())
    chosen = one(pick, left) if left else None
    return swap(case, chosen, chosen, replace(chosen)) if chosen else None


@breaks(Rule.PLACEMENT)
def source_misdescribed(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, length_mm=cuts.length_mm + one(pick, [-1, 1])))


@breaks(Rule.PLACEMENT)
def idle_source_listed(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, drops=()))


@breaks(Rule.PLACEMENT)
def leftover_of_an_uncut_source(case, pick):
    idle = [item.tag for item in case.request.stock if item.tag not in {cuts.source for cuts in case.plan.cuts()}]
    if not idle:
        return None
    planned = case.plan.products[0]
    left = PlannedLeftover(idle[0], 0, 0, 100, 100, StockForm.OFFCUT, False, 0, "small")
    return swap(case, planned, replace(planned, leftovers=(*planned.leftovers, left)))


# --- area


@breaks(Rule.AREA)
def leftover_forgotten(case, pick):
    left = list(case.plan.leftovers())
    return swap(case, one(pick, left)) if left else None


@breaks(Rule.AREA)
def leftover_shrunk(case, pick):
    left = list(case.plan.leftovers())
    chosen = one(pick, left) if left else None
    return swap(case, chosen, replace(chosen, width_mm=chosen.width_mm - 1)) if chosen else None


@breaks(Rule.AREA)
def stock_used_left_out_of_the_total(case, pick):
    used = list(case.plan.stock_used())
    return swap(case, one(pick, used)) if used else None


# --- through-cuts


@breaks(Rule.THROUGH_CUTS)
def crosscuts_miscounted(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, crosscuts=cuts.crosscuts + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def rips_miscounted(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, rips=cuts.rips + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def drop_misplaced(case, pick):
    drop = one(pick, list(a_source(case, pick).drops))
    return swap(case, drop, replace(drop, along_mm=drop.along_mm + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def drop_lengthened(case, pick):
    drop = one(pick, list(a_source(case, pick).drops))
    return swap(case, drop, replace(drop, length_mm=drop.length_mm + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def lane_widened(case, pick):
    lane = one(pick, list(one(pick, list(a_source(case, pick).drops)).lanes))
    return swap(case, lane, replace(lane, width_mm=lane.width_mm + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def lane_misplaced(case, pick):
    lane = one(pick, list(one(pick, list(a_source(case, pick).drops)).lanes))
    return swap(case, lane, replace(lane, across_mm=lane.across_mm + one(pick, [-1, 1])))


@breaks(Rule.THROUGH_CUTS)
def empty_lane_added(case, pick):
    drop = one(pick, list(a_source(case, pick).drops))
    lane = replace(drop.lanes[-1], across_mm=drop.lanes[-1].across_mm + drop.lanes[-1].width_mm, width_mm=0, pieces=())
    return swap(case, drop, replace(drop, lanes=(*drop.lanes, lane)))


@breaks(Rule.THROUGH_CUTS)
def drops_in_another_order(case, pick):
    several = [cuts for cuts in case.plan.cuts() if len(cuts.drops) > 1]
    chosen = one(pick, several) if several else None
    return swap(case, chosen, replace(chosen, drops=chosen.drops[::-1])) if chosen else None


@breaks(Rule.THROUGH_CUTS)
def leftover_cut_up_for_nothing(case, pick):
    left = [leftover for leftover in case.plan.leftovers() if leftover.length_mm > 1]
    if not left:
        return None
    chosen = one(pick, left)
    half = chosen.length_mm // 2
    far = replace(chosen, along_mm=chosen.along_mm + half, length_mm=chosen.length_mm - half)
    return swap(case, chosen, replace(chosen, length_mm=half), far)


# --- batch


@breaks(Rule.BATCH)
def piece_in_another_batch(case, pick):
    piece = a_piece(case, pick)
    return swap(case, piece, replace(piece, batch="B77"))


@breaks(Rule.BATCH)
def source_in_another_batch(case, pick):
    cuts = a_source(case, pick)
    return swap(case, cuts, replace(cuts, batch="B77"))


@breaks(Rule.BATCH)
def any_batch_not_allowed_after_all(case, pick):
    batches: dict[str, set[str]] = {}
    for piece in case.plan.pieces():
        batches.setdefault(piece.job, set()).add(piece.batch)
    mixed = [job for job in case.request.jobs if len(batches.get(job.code, ())) > 1]
    if not mixed:
        return None
    job = one(pick, mixed)
    return replace(case, request=put(case.request, job, replace(job, batch_rule=BatchRule.ONE)))
