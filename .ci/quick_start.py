"""Print the two shell lines of a README's section "Quick start"; fail where it does not hold exactly two."""

from __future__ import annotations

import re
import sys
from pathlib import Path


def lines(text: str) -> list[str]:
    """Shell lines of the quick start: the first installs and shows a result, the second runs the tests."""
    section = re.search(r"^#+ *quick start\b[^\n]*\n(.*?)(?=^#+ |\Z)", text, re.MULTILINE | re.DOTALL | re.IGNORECASE)
    if section is None:
        msg = "there is no section 'Quick start'"
        raise ValueError(msg)
    blocks = [block.strip() for block in re.findall(r"^```sh\n(.*?)^```", section.group(1), re.MULTILINE | re.DOTALL)]
    if len(blocks) != 2 or any("\n" in block for block in blocks):
        msg = f"the section 'Quick start' must hold two sh blocks of one line each; found {blocks}"
        raise ValueError(msg)
    return blocks


if __name__ == "__main__":
    try:
        sys.stdout.write("\n".join(lines(Path(sys.argv[1]).read_text(encoding="utf-8"))) + "\n")
    except ValueError as error:
        sys.exit(f"{sys.argv[1]}: {error}")
