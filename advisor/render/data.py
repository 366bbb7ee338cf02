"""A report as plain data, the way the published JSON Schema describes it."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from advisor.findings import Finding, Question, Report, WayOut
from advisor.measure import Measure


def report_data(report: Report) -> dict[str, Any]:
    """The report as what JSON can hold. An unknown value is null, with low and high where bounded."""
    data = {
        "title": report.title,
        "verdict": report.verdict,
        "findings": [finding_data(finding) for finding in report.findings],
        "way_out": None if report.way_out is None else _way_out(report.way_out),
        "questions": [_question(question) for question in report.questions],
        "measures": {key: measure_data(measure) for key, measure in report.measures.items()},
        "cautions": list(report.cautions),
        "pointers": list(report.pointers),
        "rulebook": {
            "version": report.rulebook_version,
            "rules": report.rulebook_rules,
            "digest": report.rulebook_digest,
        },
    }
    if report.from_shelf:
        data["from_shelf"] = [asdict(taken) for taken in report.from_shelf]
    return data


def report_json(report: Report) -> str:
    """The report as JSON text."""
    return json.dumps(report_data(report), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def finding_data(finding: Finding) -> dict[str, Any]:
    """A finding as plain data; a remedy's `changes` map paths to new values, null takes an entry out."""
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
        else {
            "changes": dict(finding.remedy.changes),
            "verified": finding.remedy.verified,
            "notes": dict(finding.remedy.notes),
        },
        "sources": [{"basis": source.basis, "text": source.text} for source in finding.sources],
    }


def _way_out(way_out: WayOut) -> dict[str, Any]:
    left = [{"rule": s.rule, "subject": s.subject, "title": s.title, "why": s.why} for s in way_out.left]
    return {
        "changes": dict(way_out.changes),
        "verdict": way_out.verdict,
        "notes": dict(way_out.notes),
        "left": left,
    }


def _question(question: Question) -> dict[str, Any]:
    return {
        "field": question.field,
        "ask": question.ask,
        "settles": list(question.settles),
        "effect": question.effect,
    }


def measure_data(measure: Measure) -> dict[str, Any]:
    """A measure as plain data; an unknown value is null."""
    interval = measure.interval
    return {
        "value": interval.low if measure.known and interval.exact else None,
        "low": interval.low if measure.known else None,
        "high": interval.high if measure.known else None,
        "unit": measure.unit,
        "how": measure.how,
        "source": measure.source,
    }
