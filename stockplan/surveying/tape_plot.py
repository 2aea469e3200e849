"""A plot of taped corners settled: one shape, or what keeps the tapes from giving one."""

from __future__ import annotations

from stockplan.domain.measured import TapeResult
from stockplan.domain.survey import SurveySettings
from stockplan.domain.units import metres
from stockplan.surveying.faults import FaultList
from stockplan.surveying.notes_forms import Plot
from stockplan.surveying.tape_shapes import Shape, Suspect, chosen, longest_ways_round, loose_corners, shapes, suspects
from stockplan.surveying.tapes import Adjusted, Tape

Settled = tuple[Adjusted, tuple[TapeResult, ...], tuple[str, ...]]


def settle(plot: Plot, line: int, settings: SurveySettings, faults: FaultList) -> Settled | None:
    """Find the one shape of a plot, with the residual of each tape and what a person should know.

    Parameters
    ----------
    plot, line
        Corners and tapes, and where the plot begins.
    settings
        Standard errors.
    faults
        Where to note what is wrong; then the answer is None.
    """
    count = len(plot.corners)
    if not _enough(plot, line, faults) or not _possible(plot, settings, faults):
        return None
    found = shapes(count, plot.tapes, settings, clockwise=plot.clockwise, inward=plot.inward)
    best = chosen(found, plot.inward)
    if not best:
        _note_no_shape(plot, found, line, faults)
        return None
    if len(best) > 1:
        ways = "; or ".join(_inward_words(plot, shape) for shape in best)
        right = "one more tape, or a line 'inward' and the corners that turn inward"
        faults.add("tapes that allow more than one shape", ways, right, line)
        return None
    adjusted = best[0].adjusted
    if not adjusted.fits:
        _note_misread(plot, adjusted, line, settings, faults)
        return None
    return adjusted, tape_results(plot, adjusted), _said(plot, found, best[0])


def tape_results(plot: Plot, adjusted: Adjusted) -> tuple[TapeResult, ...]:
    """Give the residual of each tape."""
    return tuple(
        TapeResult(
            plot.corners[tape.one],
            plot.corners[tape.other],
            round(tape.length_mm),
            float(residual),
            float(standardized) if redundancy > 0 else None,
            tape.line,
        )
        for tape, residual, standardized, redundancy in zip(
            plot.tapes, adjusted.residuals, adjusted.standardized, adjusted.redundancy, strict=True
        )
    )


def _enough(plot: Plot, line: int, faults: FaultList) -> bool:
    count, needed = len(plot.corners), 2 * len(plot.corners) - 3
    loose = loose_corners(count, plot.tapes)
    if not loose:
        return True
    names = ", ".join(plot.corners[corner] for corner in loose)
    right = (
        f"at least {needed} tapes for {count} corners: the sides, and diagonals until each corner hangs on two others"
    )
    faults.add("tapes that leave corners loose", f"{len(plot.tapes)} tapes; loose: {names}", right, line)
    return False


def _possible(plot: Plot, settings: SurveySettings, faults: FaultList) -> bool:
    for tape, way in longest_ways_round(len(plot.corners), plot.tapes, settings):
        found = f"{_name(plot, tape)} of {metres(round(tape.length_mm))} m"
        right = f"at most {metres(round(way))} m, the shortest way round by other tapes; one of them was misread"
        faults.add("a tape longer than the way round", found, right, tape.line)
    return not longest_ways_round(len(plot.corners), plot.tapes, settings)


def _note_no_shape(plot: Plot, found: list[Shape], line: int, faults: FaultList) -> None:
    if not found:
        way = "clockwise" if plot.clockwise else "anticlockwise"
        right = "corners in the order walked, and tapes that meet"
        faults.add("tapes that fit no outline", f"none that goes round {way} without crossing itself", right, line)
        return
    ways = "; or ".join(_inward_words(plot, shape) for shape in found[:4])
    said = ", ".join(plot.corners[corner] for corner in plot.inward or ()) or "none"
    faults.add("no shape that turns inward where it is said to", f"inward {said}", ways, line)


def _note_misread(plot: Plot, adjusted: Adjusted, line: int, settings: SurveySettings, faults: FaultList) -> None:
    pointed = suspects(len(plot.corners), plot.tapes, settings, adjusted, clockwise=plot.clockwise)
    if len(pointed) == 1:
        (suspect,) = pointed
        found = f"{_name(plot, suspect.tape)} of {metres(round(suspect.tape.length_mm))} m"
        right = f"about {_would_be(suspect)}, where all others agree; measure it again"
        faults.add("a tape that was misread", found, right, suspect.tape.line)
        return
    worst = max(tape_results(plot, adjusted), key=lambda result: abs(result.residual_mm))
    found = f"{worst.name} off by {metres(abs(round(worst.residual_mm)))} m, and others with it"
    if not pointed:
        right = "tapes that agree; more than one seems misread: measure again, the worst first"
    else:
        ways = "; or ".join(f"{_name(plot, one.tape)} were it {_would_be(one)}" for one in pointed)
        right = f"one tape measured again, which one they cannot tell: {ways}"
    faults.add("tapes that do not agree", found, right, line)


def _would_be(suspect: Suspect) -> str:
    return f"{metres(10 * round(suspect.would_be_mm / 10))} m"


def _said(plot: Plot, found: list[Shape], best: Shape) -> tuple[str, ...]:
    said = []
    if plot.inward is None:
        for other in found:
            if other is not best and other.adjusted.fits:
                said.append(
                    f"The tapes also fit a shape with {_inward_words(plot, other)}; "
                    f"taken was the one with {_inward_words(plot, best)}. One more tape would tell."
                )
    unchecked = [plot.tapes[number] for number, share in enumerate(best.adjusted.redundancy) if share == 0]
    if unchecked:
        every = len(unchecked) == len(plot.tapes)
        names = "no tape" if every else "not " + ", ".join(_name(plot, tape) for tape in unchecked)
        said.append(f"Checked by the others: {names}. A further diagonal would check {'all' if every else 'more'}.")
    return tuple(said)


def _inward_words(plot: Plot, shape: Shape) -> str:
    if not shape.inward:
        return "no corner turned inward"
    return "turned inward " + ", ".join(plot.corners[corner] for corner in shape.inward)


def _name(plot: Plot, tape: Tape) -> str:
    return f"{plot.corners[tape.one]}–{plot.corners[tape.other]}"
