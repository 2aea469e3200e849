#!/usr/bin/env python3
"""Run the demo and put what it prints and draws into README.md and demo_data/: the screen, shortened, and two drawings.

    .ci/refresh_readme.py [STOCKPLAN]     default: the stockplan command beside this Python

The screen is the fenced block under the line `<!-- screen -->`; a line `…` stands where lines were left out.
"""

import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
DRAWINGS = ("plan-K24.svg", "plan-lawns-J209.svg")
PARTS = (  # each begins with a line that begins so, and goes on until a line that matches so
    ("Plan for", "K30:"),
    ("To order", "Cuts in "),
    ("Cuts in K24", "$"),
    ("R-401:", r"\S"),
    ("Why from these batches", " J225"),
    ("Short:", "Money by source"),
    ("Totals", "Before anyone"),
)


def shortened(printed: str) -> str:
    """Keep the parts, without blanks at the ends of lines."""
    lines = [line.rstrip() for line in printed.splitlines()]
    kept = []
    for begins, ends in PARTS:
        start = next((number for number, line in enumerate(lines) if line.startswith(begins)), None)
        if start is None:
            sys.exit(f"the demo prints no line that begins with {begins!r}; mend PARTS")
        rest = lines[start + 1 :]
        length = next((number for number, line in enumerate(rest) if re.match(ends, line)), len(rest))
        kept.append("\n".join(lines[start : start + 1 + length]).strip("\n"))
    return "\n…\n".join(kept)


def main() -> None:
    """Run the demo, and write both."""
    program = sys.argv[1] if len(sys.argv) > 1 else str(Path(sys.executable).parent / "stockplan")
    with tempfile.TemporaryDirectory() as folder:
        run = subprocess.run([program, "demo", folder], capture_output=True, text=True, check=True)
        drawings = {name: (Path(folder) / name).read_text(encoding="utf-8") for name in DRAWINGS}
    text = README.read_text(encoding="utf-8")
    block = re.compile(r"(^<!-- screen -->\n```text\n).*?(^```$)", re.DOTALL | re.MULTILINE)
    screen = shortened(run.stdout)
    changed, count = block.subn(lambda found: f"{found[1]}{screen}\n{found[2]}", text)
    if count != 1:
        sys.exit("README.md must have one block under <!-- screen -->")
    README.write_text(changed, encoding="utf-8")
    for name, drawing in drawings.items():
        (ROOT / "demo_data" / name).write_text(drawing, encoding="utf-8")


if __name__ == "__main__":
    main()
