"""Writes anew what is generated: the output in README.md, docs/rulebook.md. Run: python -m tests.renew"""

from __future__ import annotations

import io
import re
from pathlib import Path

from advisor import check
from advisor.knowledge import knowledge
from advisor.render.rules import rulebook_markdown
from advisor.render.terminal import print_report
from advisor.rulebook import rulebook

ROOT = Path(__file__).resolve().parents[1]
README, RULEBOOK = ROOT / "README.md", ROOT / "docs" / "rulebook.md"
README_WIDTH = 100
_BLOCK = re.compile(r"(<!-- output of: advisor check (\S+) -->\n```text\n).*?(```\n<!-- end of output -->)", re.DOTALL)


def readme_text() -> str:
    """README.md with the output of its example made anew, up to the numbers worked out."""

    def output(match: re.Match[str]) -> str:
        stream = io.StringIO()
        print_report(check(ROOT / match.group(2)), stream, width=README_WIDTH)
        shown = stream.getvalue().split("\nUsual cautions\n")[0].rstrip() + "\n"
        return match.group(1) + shown + match.group(3)

    return _BLOCK.sub(output, README.read_text(encoding="utf-8"))


def rulebook_text() -> str:
    """docs/rulebook.md, from the data."""
    return rulebook_markdown(rulebook(), knowledge())


if __name__ == "__main__":
    README.write_text(readme_text(), encoding="utf-8")
    RULEBOOK.write_text(rulebook_text(), encoding="utf-8")
