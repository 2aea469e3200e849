"""Beyond what a size or an amount is a slip, wherever it is typed: in a sheet, after a command, on a count sheet."""

from __future__ import annotations

MOST_WIDTH_MM = 6_000  # looms are 4 m or 5 m wide; beyond 6 m a unit was mistaken
MOST_LENGTH_MM = 200_000  # twice the longest roll that plant in a yard can handle; beyond it a unit was mistaken
LEAST_STRIP_MM = 100  # narrower than any closing strip that is laid (common practice); below it a unit was mistaken
MOST_PRICE_PENCE = 100_000_000  # a million for one roll, for one running metre or for a small job is a slip
