"""Two plans side by side: verdicts, measures, findings gained and lost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from advisor.findings import Finding, Question, Report
from advisor.measure import Measure
from advisor.render.data import finding_data, measure_data


@dataclass(frozen=True)
class Comparison:
    """The first plan against the second. `gained` and `lost` are seen from the first."""

    first: Report
    second: Report
    gained: tuple[Finding, ...]
    lost: tuple[Finding, ...]
    kept: tuple[Finding, ...]
    asked: tuple[Question, ...]
    settled: tuple[Question, ...]

    def measures(self) -> list[tuple[str, Measure | None, Measure | None]]:
        """Each measure of either plan, in the order of the reports."""
        keys = dict.fromkeys((*self.first.measures, *self.second.measures))
        return [(key, self.first.measures.get(key), self.second.measures.get(key)) for key in keys]


def compared(first: Report, second: Report) -> Comparison:
    """Compare two reports. A finding is the same when rule and subject are."""
    before, after = ({(f.rule, f.subject): f for f in report.findings} for report in (first, second))
    asked, asks = ({q.field: q for q in report.questions} for report in (first, second))
    return Comparison(
        first=first,
        second=second,
        gained=tuple(f for key, f in after.items() if key not in before),
        lost=tuple(f for key, f in before.items() if key not in after),
        kept=tuple(f for key, f in after.items() if key in before),
        asked=tuple(q for field, q in asks.items() if field not in asked),
        settled=tuple(q for field, q in asked.items() if field not in asks),
    )


def same(one: Measure | None, other: Measure | None) -> bool:
    """Whether a measure has the same value in both plans."""
    if one is None or other is None:
        return one is other
    return (one.interval, one.known) == (other.interval, other.known)


def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """The comparison as plain data."""
    return {
        "first": _head(comparison.first),
        "second": _head(comparison.second),
        "measures": {
            key: {
                "first": None if one is None else measure_data(one),
                "second": None if other is None else measure_data(other),
                "same": same(one, other),
            }
            for key, one, other in comparison.measures()
        },
        "gained": [finding_data(finding) for finding in comparison.gained],
        "lost": [finding_data(finding) for finding in comparison.lost],
        "kept": [{"rule": finding.rule, "subject": finding.subject} for finding in comparison.kept],
        "asked": [question.field for question in comparison.asked],
        "settled": [question.field for question in comparison.settled],
    }


def _head(report: Report) -> dict[str, Any]:
    return {"title": report.title, "verdict": report.verdict}
