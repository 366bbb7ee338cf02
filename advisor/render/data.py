"""A report as plain data, the way the published JSON Schema describes it."""

from __future__ import annotations

import json
from typing import Any

from advisor.findings import Finding, Measure, Question, Report


def report_data(report: Report) -> dict[str, Any]:
    """The report as what JSON can hold. An unknown value is null, with low and high where bounded."""
    return {
        "title": report.title,
        "verdict": report.verdict,
        "findings": [_finding(finding) for finding in report.findings],
        "questions": [_question(question) for question in report.questions],
        "measures": {key: _measure(measure) for key, measure in report.measures.items()},
        "cautions": list(report.cautions),
        "pointers": list(report.pointers),
        "rulebook": {
            "version": report.rulebook_version,
            "rules": report.rulebook_rules,
            "digest": report.rulebook_digest,
        },
    }


def report_json(report: Report) -> str:
    """The report as JSON text."""
    return json.dumps(report_data(report), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "topic": finding.topic,
        "signal": finding.signal,
        "effect": finding.effect,
        "subject": finding.subject,
        "title": finding.title,
        "message": finding.message,
        "reason": finding.reason,
        "because": list(finding.because),
        "do": list(finding.do),
        "remedy": None
        if finding.remedy is None
        else {"changes": dict(finding.remedy.changes), "verified": finding.remedy.verified},
        "sources": [{"basis": source.basis, "text": source.text} for source in finding.sources],
    }


def _question(question: Question) -> dict[str, Any]:
    return {
        "field": question.field,
        "ask": question.ask,
        "settles": list(question.settles),
        "effect": question.effect,
    }


def _measure(measure: Measure) -> dict[str, Any]:
    interval = measure.interval
    return {
        "value": interval.low if measure.known and interval.exact else None,
        "low": interval.low if measure.known else None,
        "high": interval.high if measure.known else None,
        "unit": measure.unit,
        "how": measure.how,
        "source": measure.source,
    }
