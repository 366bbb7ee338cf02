"""The JSON Schema of the file formats (draft 2020-12)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from advisor.plan import Plan
from advisor.plan_values import MOST_ENTRIES, UNKNOWN
from advisor.rulebook import EFFECTS, SIGNALS, load_topics
from advisor.session import MOST_STATIONS, Session
from advisor.shelf import ShelfFile

DRAFT = "https://json-schema.org/draft/2020-12/schema"
_UNKNOWN = {"const": UNKNOWN}


def plan_schema() -> dict[str, Any]:
    """The schema of a plan file. Whatever is left out, or written as "unknown", is unknown."""
    return _as_said(Plan.model_json_schema(by_alias=True))


def _as_said(schema: dict[str, Any]) -> dict[str, Any]:
    for fields in (schema["properties"], *(part["properties"] for part in schema["$defs"].values())):
        for name, field in fields.items():
            fields[name] = _said(field)
    return {"$schema": DRAFT, **schema}


def _said(field: dict[str, Any]) -> dict[str, Any]:
    """What may be written for a field: no made-up title, no default but "unknown", null only for what was left out."""
    if "$ref" in field:
        return {"anyOf": [{"$ref": field["$ref"]}, _UNKNOWN]}
    said = {key: value for key, value in field.items() if key not in ("title", "default")}
    if {"type": "null"} in said.get("anyOf", ()):
        lists = [{**kind, "maxItems": MOST_ENTRIES} for kind in said["anyOf"] if kind != {"type": "null"}]
        said["anyOf"] = [*lists, _UNKNOWN]
    elif said.get("type") == "array":
        said["maxItems"] = MOST_ENTRIES
    return said


def session_schema() -> dict[str, Any]:
    """The schema of a session file. Whatever is left out, or written as "unknown", is unknown."""
    schema = _as_said(Session.model_json_schema(by_alias=True))
    schema["properties"]["stations"]["maxItems"] = MOST_STATIONS
    return schema


def shelf_schema() -> dict[str, Any]:
    """The schema of a shelf file."""
    schema = ShelfFile.model_json_schema(by_alias=True)
    for part in schema["$defs"].values():
        for name, field in part["properties"].items():
            part["properties"][name] = _said(field)
    return {"$schema": DRAFT, **schema}


def report_schema() -> dict[str, Any]:
    """The schema of a report."""
    text = {"type": "string"}
    texts = {"type": "array", "items": text}
    number = {"type": ["number", "null"]}
    topic = {"type": "string", "enum": list(load_topics())}
    effect = {"type": "string", "enum": list(EFFECTS)}
    verdict = {"enum": ["do not start", "change first", "cannot tell", "ready with cautions", "ready"]}
    changes = {"type": "object", "description": "dotted path -> new value; null takes the entry or key out"}
    notes = {
        "type": "object",
        "description": "dotted path -> why it is changed, and what somebody must do to make it true",
        "additionalProperties": text,
    }
    return {
        "$schema": DRAFT,
        "title": "Report",
        **_table(
            title=text,
            verdict=verdict,
            findings=_list(
                rule=text,
                topic=topic,
                signal={"enum": list(SIGNALS), "description": "ANSI Z535: what may happen if it is ignored"},
                effect=effect,
                subject=text,
                title=text,
                message=text,
                reason=text,
                because=texts,
                do=texts,
                remedy={
                    "anyOf": [
                        {"type": "null"},
                        _table(changes=changes, verified={"const": True}, notes=notes),
                    ]
                },
                sources=_list(basis={"enum": ["published", "from memory", "common practice"]}, text=text),
            ),
            way_out={
                "description": "the least set of changes found for the whole plan; null where nothing must change",
                "anyOf": [
                    {"type": "null"},
                    _table(
                        changes=changes,
                        verdict=verdict,
                        notes=notes,
                        left=_list(rule=text, subject=text, title=text, why=text),
                    ),
                ],
            },
            questions=_list(field=text, ask=text, settles={"type": "array", "items": topic}, effect=effect),
            measures={
                "type": "object",
                "additionalProperties": _table(value=number, low=number, high=number, unit=text, how=text, source=text),
            },
            cautions=texts,
            pointers=texts,
            rulebook=_table(version=text, rules={"type": "integer"}, digest=text),
            optional={
                "from_shelf": {
                    "description": "what the plan leaves out and its shelf gives; only there when something is",
                    **_list(field=text, value=text, entry=text, file=text),
                },
            },
        ),
    }


def _table(*, optional: Mapping[str, Any] | None = None, **fields: Any) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {**fields, **(optional or {})},
        "required": list(fields),
        "additionalProperties": False,
    }


def _list(**fields: Any) -> dict[str, Any]:
    return {"type": "array", "items": _table(**fields)}
