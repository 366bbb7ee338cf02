"""The command `advisor`. Everything it does is a function of the Python interface."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from advisor import __version__

if TYPE_CHECKING:
    from advisor.checking import Checker

FAILED = 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit status (0 ready, 1 change first, 3 cannot tell, 2 bad input or failure)."""
    options = _parser().parse_args(arguments)
    try:
        status: int = options.run(options)
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED
    except KeyboardInterrupt:
        print("advisor: stopped", file=sys.stderr)
        return FAILED
    except Exception as error:
        print(f"advisor: {_one_line(error)}", file=sys.stderr)
        return FAILED


def _one_line(error: Exception) -> str:
    from advisor.plan import clean

    text = " ".join(clean(str(error).replace("\n", " ")).split())
    from advisor.checking import CheckFailure
    from advisor.plan import InputError

    known = isinstance(error, (InputError, CheckFailure, OutputError))
    return text if known else f"the program failed, so there is no verdict: {type(error).__name__}: {text}"


class OutputError(Exception):
    """The output could not be written."""


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="advisor",
        description="A rules-based safety and suitability advisor for small-lot textile dyeing.",
        epilog="Exit status: 0 ready (cautions allowed), 1 something must change first, 3 cannot tell, 2 bad input or failure.",
    )
    parser.add_argument("--version", action="version", version=f"advisor {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    check = commands.add_parser(
        "check",
        help="pre-flight check of one bath",
        description="Check the plan of one bath before you light the hob.",
        epilog="example: advisor check examples/act-two-ribbon.toml",
    )
    check.add_argument("plan", metavar="PLAN", help="plan file (.toml or .json)")
    check.add_argument("--format", choices=("terminal", "json"), default="terminal", help="default: terminal")
    check.add_argument("--explain", action="store_true", help="add chains of reasons, sources and every caution")
    _common(check, _check)

    rules = commands.add_parser(
        "rules",
        help="read the rulebook",
        description="List the rules, or show one whole: reason, conditions in words, what to do, sources, cases.",
        epilog="example: advisor rules --topic food-vessel",
    )
    rules.add_argument("rule", metavar="RULE-ID", nargs="?", help="show this rule whole")
    rules.add_argument("--topic", help="only this topic")
    rules.add_argument("--signal", choices=("DANGER", "WARNING", "CAUTION", "NOTICE"), help="only this signal word")
    rules.add_argument("--effect", choices=("stop", "change", "caution"), help="only this effect")
    rules.add_argument("--substance", help="only rules that look at, or speak of, this substance")
    rules.add_argument("--fibre", help="only rules that look at, or speak of, this fibre")
    rules.add_argument("--search", metavar="TEXT", default="", help="only rules with this text")
    rules.add_argument("--format", choices=("terminal", "json", "markdown"), default="terminal", help="default: terminal")
    _common(rules, _rules)

    facts = commands.add_parser(
        "facts",
        help="read the knowledge tables",
        description="List a table of rules/knowledge with its sources, or show one entry whole.",
        epilog="example: advisor facts substances 'citric acid'",
    )
    facts.add_argument("table", metavar="TABLE", help="fibres, dye-classes, substances ...; `advisor facts list` names all")
    facts.add_argument("entry", metavar="ENTRY", nargs="?", help="show only this entry, by id or accepted word")
    facts.add_argument("--search", metavar="TEXT", default="", help="only entries with this text")
    facts.add_argument("--format", choices=("terminal", "json"), default="terminal", help="default: terminal")
    _common(facts, _facts)

    schema = commands.add_parser("schema", help="JSON Schema of a file format", description="Print the JSON Schema of a format.")
    schema.add_argument("what", choices=("plan", "report"))
    schema.set_defaults(run=_schema)
    return parser


def _common(parser: argparse.ArgumentParser, run: Callable[[argparse.Namespace], int]) -> None:
    parser.add_argument("--output", metavar="FILE", type=Path, help="write to a file instead of the terminal")
    parser.add_argument("--force", action="store_true", help="let --output replace an existing file")
    parser.add_argument("--rules", metavar="DIR", type=Path, action="append", default=[], help="add a folder of your own rules")
    parser.set_defaults(run=run)


def _checker(options: argparse.Namespace) -> Checker:
    from advisor.checking import CheckFailure, checker, make_checker
    from advisor.rulebook import RuleError, make_rulebook

    if not options.rules:
        return checker()
    try:
        return make_checker(make_rulebook(*options.rules))
    except RuleError as error:
        raise CheckFailure(str(error)) from error


def _check(options: argparse.Namespace) -> int:
    from advisor.plan import load_plan

    report = _checker(options).check(load_plan(options.plan))
    if options.format == "json":
        from advisor.render.data import report_json

        text = report_json(report)
    else:
        text = ""
    if options.output is not None:
        write_new(options.output, text or _as_text(report, options.explain), force=options.force)
    elif text:
        sys.stdout.write(text)
    else:
        from advisor.render.terminal import print_report

        print_report(report, sys.stdout, everything=options.explain)
    return report.exit_status


def _rules(options: argparse.Namespace) -> int:
    from advisor.knowledge import knowledge
    from advisor.plan import InputError
    from advisor.reading import Wanted, chosen, rules_data
    from advisor.render.rules import print_rule, print_rules, rulebook_markdown

    book = _checker(options).rulebook
    if options.topic and options.topic not in book.topics:
        raise InputError(f"{options.topic!r} is no topic; accepted: {', '.join(book.topics)}", file="--topic")
    wanted = Wanted(
        options.topic, options.signal, options.effect, options.substance, options.fibre, options.search
    )
    found = chosen(book, wanted)
    if options.rule is not None:
        found = [rule for rule in found if rule.id == options.rule]
        if not found:
            raise InputError(f"no rule {options.rule!r}{_nearest(options.rule, [r.id for r in book.rules])}", file="advisor rules")
    if options.format == "json":
        text = json.dumps(rules_data(book, found, knowledge()), ensure_ascii=False, indent=1) + "\n"
    elif options.format == "markdown":
        text = rulebook_markdown(book, knowledge())
    elif options.rule is not None:
        text = _printed(lambda stream: print_rule(found[0], knowledge(), stream))
    else:
        text = _printed(lambda stream: print_rules(found, book, stream))
    return _put(options, text)


def _facts(options: argparse.Namespace) -> int:
    from advisor.knowledge import knowledge
    from advisor.plan import InputError
    from advisor.reading import facts_data, tables
    from advisor.render.rules import print_table

    names = list(tables(knowledge()))
    if options.table == "list":
        return _put(options, "\n".join(names) + "\n")
    if options.table not in names:
        near = _nearest(options.table, names)
        raise InputError(f"no table {options.table!r}{near}; accepted: {', '.join(names)}", file="advisor facts")
    data = facts_data(options.table, knowledge(), row_id=options.entry, search=options.search)
    if options.entry is not None and not data["rows"]:
        words = [row.get("id", "") for row in facts_data(options.table, knowledge())["rows"]]
        raise InputError(f"no entry {options.entry!r}{_nearest(options.entry, words)}", file=f"advisor facts {options.table}")
    if options.format == "json":
        return _put(options, json.dumps(data, ensure_ascii=False, indent=1) + "\n")
    return _put(options, _printed(lambda stream: print_table(data, stream)))


def _nearest(word: str, words: Sequence[str]) -> str:
    import difflib

    near = difflib.get_close_matches(word, words, n=1, cutoff=0.6)
    return f"; did you mean {near[0]!r}?" if near else ""


def _printed(show: Callable[[TextIO], None]) -> str:
    import io

    stream = io.StringIO()
    show(stream)
    return stream.getvalue()


def _put(options: argparse.Namespace, text: str) -> int:
    if options.output is not None:
        write_new(options.output, text, force=options.force)
    else:
        sys.stdout.write(text)
    return 0


def _as_text(report: object, everything: bool) -> str:
    import io

    from advisor.findings import Report
    from advisor.render.terminal import print_report

    assert isinstance(report, Report)
    stream = io.StringIO()
    print_report(report, stream, width=80, everything=everything)
    return stream.getvalue()


def _schema(options: argparse.Namespace) -> int:
    from advisor.render.schema import plan_schema, report_schema

    print(json.dumps({"plan": plan_schema, "report": report_schema}[options.what](), indent=1))
    return 0


def write_new(path: Path, text: str, *, force: bool) -> None:
    """Write a file whole or not at all; an existing one only when `force` says so. Raises OutputError."""
    import tempfile

    if path.exists() and not force:
        raise OutputError(f"{path}: exists already; --force replaces it")
    try:
        with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=path.parent, delete=False, prefix=".advisor-") as stream:
            stream.write(text)
        os.replace(stream.name, path)
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror}") from error
