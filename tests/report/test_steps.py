"""The yard hand's steps against cuts drawn by hand."""

import io
from dataclasses import replace

import sample_plans
from builders import JOB
from rich.console import Console
from sample_plans import Source, cut, item

from stockplan.domain.jobs import Strip
from stockplan.domain.plan import Piece
from stockplan.domain.stock import StockForm
from stockplan.report.steps import Step, cutting_steps
from stockplan.report.terminal import render_plan
from stockplan.report.words import PieceLabels, printable

# R-014, 4.00 × 17.00, cut end on the left:
#
#   0        5.20              10.40        13.40     17.00
#   +--------+--------+---------+------------+---------+
#   |        | B (1)  |  B (2)  | B | bin 0.30|         |
#   |   A    +--------+---+-----+------------+  tail   |
#   |        |  J102 A    |keep | C  bin 0.05|         |
#   |        |            |     +------------+         |
#   |        |            |     | keep 1.10  |         |
#   +--------+------------+-----+------------+---------+


def test_steps_of_one_part_roll():
    request, plan = sample_plans.one_source()
    steps = cutting_steps(plan.products[0].cuts[0], plan.products[0].leftovers, PieceLabels(request.jobs))
    assert steps == [
        Step("crosscut 5.20 from the cut end", ("J101 A  4.00 × 5.20",)),
        Step("crosscut 5.20 from the cut end (10.40 from the start); rip 2.10 | 1.90 from the left", ()),
        Step("lane 1: crosscut 2.60 | 2.60", ("J101 B (1)  2.10 × 2.60", "J101 B (2)  2.10 × 2.60")),
        Step("lane 2: crosscut 3.90", ("J102 A  1.90 × 3.90", "keep as offcut 1.90 × 1.30")),
        Step(
            "crosscut 3.00 from the cut end (13.40 from the start); rip 1.50 | 1.40 | 1.10 from the left",
            ("keep as offcut 1.10 × 3.00",),
        ),
        Step("lane 1: trim to 1.20 across", ("J102 B  1.20 × 3.00", "bin 0.30 × 3.00")),
        Step("lane 2: crosscut 2.95", ("J102 C  1.40 × 2.95", "bin 1.40 × 0.05")),
        Step("leave the rest", ("keep as part roll 4.00 × 3.60",)),
    ]


def test_a_source_used_to_its_end_needs_no_last_crosscut():
    offcut = item("O-1", StockForm.OFFCUT, 2000, 5000)
    drops = [(3000, [(2000, [("J1", "A", 1, 2000, 3000)])]), (2000, [(2000, [("J1", "B", 1, 2000, 2000)])])]
    cuts, leftovers = cut(Source(offcut, 4000), drops)
    assert [step.do for step in cutting_steps(cuts, leftovers, PieceLabels(()))] == [
        "crosscut 3.00 from the cut end",
        "take the last 2.00 whole",
    ]


def test_a_source_used_whole_is_not_cut():
    offcut = item("O-1", StockForm.OFFCUT, 2000, 3000)
    cuts, leftovers = cut(Source(offcut, 4000), [(3000, [(2000, [("J1", "A", 1, 2000, 3000)])])])
    assert cutting_steps(cuts, leftovers, PieceLabels(())) == [Step("take it whole", ("J1 A  2.00 × 3.00",))]


def test_a_trim_of_some_pieces_of_a_lane_names_them():
    roll = item("P-1", StockForm.PART_ROLL, 4000, 6000)
    lane = (2400, [("J1", "A", 1, 2400, 2000), ("J2", "B", 1, 2300, 1500), ("J3", "C", 1, 2350, 1000)])
    alike = (1600, [("J4", "A", 1, 1500, 2500), ("J5", "A", 1, 1500, 2000)])
    cuts, leftovers = cut(Source(roll, 4000), [(4500, [lane, alike])])
    do = [step.do for step in cutting_steps(cuts, leftovers, PieceLabels(()))]
    assert do[1] == "lane 1: crosscut 2.00 | 1.50 | 1.00, trim J2 B to 2.30 and J3 C to 2.35 across"
    assert do[2] == "lane 2: crosscut 2.50 | 2.00, trim to 1.50 across"


def test_every_piece_and_leftover_comes_out_of_some_step():
    request, plan = sample_plans.many_sources(40, seed=3)
    product = plan.products[0]
    labels = PieceLabels(request.jobs)
    for cuts in product.cuts:
        gives = [line for step in cutting_steps(cuts, product.leftovers, labels) for line in step.gives]
        leftovers = [left for left in product.leftovers if left.source == cuts.source]
        assert len(gives) == len(list(cuts.pieces())) + len(leftovers)


def test_figures_after_names_written_from_right_to_left_keep_their_order():
    """Across comes before along on every screen: a mark stands between the last such letter and the figures."""
    names = {
        ("שיחה", "פס"): "שיחה פס\u200e",
        ("شارع", "B"): "شارع B",
        ("J1", "עץ 2"): "J1 עץ 2\u200e",
        ("J1", "A"): "J1 A",
    }
    for (job, strip), told in names.items():
        for count, number in ((1, ""), (2, " (1)")):
            labels = PieceLabels((replace(JOB, code=job, strips=(Strip(strip, 1250, 3300, count),)),))
            assert labels.of(Piece(job, strip, 1, "R-1", "B7", 0, 0, 1250, 3300)) == told + number
            assert printable(told) == told
    assert printable("\u202e\u200f") == "??"


def test_from_where_left_is_seen_is_said_above_the_cuts_of_each_product_of_a_printed_plan():
    output = io.StringIO()
    render_plan(Console(file=output, width=80), *sample_plans.mixed())
    heading = "(metres, across × along the pile; nothing is turned)\n"
    assert output.getvalue().count(f"{heading}Left: as you stand at the cut end and look along the pile.\n") == 2
