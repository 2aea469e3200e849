#!/usr/bin/env python3
"""Print the command that README.md shows under a mark, so that what is documented is what is run.

A mark is the line `<!-- command: NAME -->` directly above a fenced block.
"""

import re
import sys
from pathlib import Path

README = Path(__file__).parent.parent / "README.md"


def main() -> None:
    """Print one command, or say what is wrong with the mark."""
    if len(sys.argv) != 2:
        sys.exit("usage: readme_command.py NAME")
    mark = re.escape(f"<!-- command: {sys.argv[1]} -->")
    blocks = re.findall(rf"^{mark}\n```\w*\n(.*?)\n```$", README.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE)
    if len(blocks) != 1:
        sys.exit(f"README.md has {len(blocks)} blocks marked {sys.argv[1]!r}; it must have one")
    print(blocks[0])


main()
