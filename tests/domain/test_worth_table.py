"""The README's table of what leftovers are worth, against the rule."""

from __future__ import annotations

from pathlib import Path

from stockplan.domain.worth import Leftover, UnitCost, leftover_worth

README = Path(__file__).parents[2] / "README.md"


def test_the_table_in_the_readme_follows_the_rule() -> None:
    lines = README.read_text("utf-8").partition("### What a leftover is worth")[2].partition("\n### ")[0].splitlines()
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if line.startswith("|")]
    lengths = [int(1000 * float(cell.split()[0])) for cell in rows[0][1:]]
    assert lengths == [1000, 2000, 3000, 6000]
    assert len(rows) == 7
    for name, *cells in rows[2:]:
        width = 4000 if name == "full" else int(1000 * float(name.split()[0]))
        for length, cell in zip(lengths, cells, strict=True):
            share = leftover_worth(Leftover(width, length, False, 4000), UnitCost(1_000_000, width * length)) / 10_000
            assert abs(share - float(cell)) <= 0.5, (name, length)
