"""Writes anew what is generated: counts of rows in rules/, output in README.md, docs/rulebook.md, docs/validation.md.

Run: python -m tests.renew, or python -m tests.renew counts for the counts alone.
"""

from __future__ import annotations

import io
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

from advisor import check
from advisor.cases import cases_of
from advisor.ending import END, ROWS, rows_in
from advisor.knowledge import knowledge
from advisor.reading import facts_data, tables
from advisor.render.rules import rulebook_markdown
from advisor.render.terminal import print_report
from advisor.rulebook import rulebook

ROOT = Path(__file__).resolve().parents[1]
README, RULEBOOK, VALIDATION = ROOT / "README.md", ROOT / "docs" / "rulebook.md", ROOT / "docs" / "validation.md"
_BASIS = re.compile(r"(<!-- basis -->\n).*?(<!-- end of basis -->)", re.DOTALL)
README_WIDTH = 100
_MARKER = re.compile(rf"^\[{END}\]\n(?:{ROWS} = \d*\n?)?\n*", re.MULTILINE)
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


def validation_text() -> str:
    """docs/validation.md with rules, cases, limits and the shares of basis counted anew."""
    k, words = knowledge(), ("published", "from memory", "common practice")
    rows = [(name, facts_data(name, k)["bases"]) for name in tables(k)]
    rows.append(("all", {word: sum(bases.get(word, 0) for _, bases in rows) for word in words}))
    lines = [
        "| table | published | from memory | common practice | published, share |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    for name, bases in rows:
        counts = [bases.get(word, 0) for word in words]
        lines.append(
            f"| {name} | {' | '.join(f'{count:,}' for count in counts)} | {counts[0] / (sum(counts) or 1):.0%} |"
        )
    made = "\n".join(lines) + "\n"
    text = _BASIS.sub(lambda found: found[1] + made + found[2], VALIDATION.read_text(encoding="utf-8"))
    for words in _counts():
        text, found = re.subn(re.sub(r"[\d,]*\d", r"[\\d,]*\\d", words), words, text)
        if found != 1:
            raise ValueError(
                f"docs/validation.md: {words!r}, with whatever numbers, stands there {found} times, not once"
            )
    return text


def _counts() -> Iterator[str]:
    """What docs/validation.md says with numbers that change with the rules."""
    rules = rulebook().rules
    yield f"{len(rules)} rules, {sum(len(list(cases_of(rule))) for rule in rules):,} cases"
    compared = [c.text for rule in rules for c in rule.conditions if not isinstance(c.operand, frozenset)]
    limits = set(re.findall(r"limit\.(\w+)", " ".join(compared)))
    others = len(set(knowledge().limits) - limits)
    yield f"{len(compared)} comparisons with {len(limits)} limits; {others} limits that no rule compares with"


def counted_files(rules: Path) -> Iterator[Path]:
    """The files under a folder of rules that end with the count of their rows."""
    yield from sorted((rules / "checks").glob("*.toml"))
    yield from sorted((rules / "knowledge").rglob("*.toml"))


def with_count(text: str) -> str:
    """The text of a table with its end marker made anew, as its last lines."""
    content = _MARKER.sub("", text).rstrip("\n")
    return f"{content}\n\n[{END}]\n{ROWS} = {rows_in(tomllib.loads(content))}\n"


def renew_counts(rules: Path) -> None:
    """Write the counts of all files under a folder of rules anew; files whose count is right are left alone."""
    for path in counted_files(rules):
        text = path.read_text(encoding="utf-8")
        if (new := with_count(text)) != text:
            path.write_text(new, encoding="utf-8")
            print(f"counted: {path.relative_to(rules)}")


if __name__ == "__main__":
    renew_counts(ROOT / "rules")
    if sys.argv[1:] == ["counts"]:
        sys.exit()
    README.write_text(readme_text(), encoding="utf-8")
    RULEBOOK.write_text(rulebook_text(), encoding="utf-8")
    VALIDATION.write_text(validation_text(), encoding="utf-8")
