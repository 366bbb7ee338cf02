"""The command `advisor`. Everything it does is a function of the Python interface."""

from __future__ import annotations

import argparse
import io
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from advisor import __version__
from advisor.errors import AdvisorError
from advisor.output import OutputError, check_places, write_new

if TYPE_CHECKING:
    from advisor.checking import Checker
    from advisor.findings import Report
    from advisor.plan import Plan
    from advisor.shelf import Shelf

FAILED = 2
_PLAN_FILE = "plan file (.toml or .json); - reads standard input"
_OUTPUT = "write to a file instead of the terminal; - is standard output"
_FORM_OF = {".json": "json", ".jsonl": "jsonl", ".csv": "csv", ".html": "html", ".htm": "html", ".md": "markdown"}
NARROWEST, WIDEST = 20, 1000  # columns of a terminal; a report loses words below, and takes minutes to pad far above


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit status (0 ready, 1 change first, 3 cannot tell, 2 bad input or failure)."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal that knows no degree sign still gets the answer
    columns = os.environ.get("COLUMNS", "")
    if not (columns.isdecimal() and NARROWEST <= int(columns[:9]) <= WIDEST):
        os.environ.pop("COLUMNS", None)
    try:
        try:
            options = _parser().parse_args(arguments)
        except SystemExit:  # --help and --version
            sys.stdout.flush()
            raise
        if "forms" in options:
            options.format = _form(options)
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
    text = " ".join("".join(c if c.isprintable() else " " for c in str(error)).split())
    return (
        text
        if isinstance(error, AdvisorError)
        else f"the program failed, so there is no verdict: {type(error).__name__}: {text}"
    )


class _Version(argparse.Action):
    """Shows the version of the program and of the rulebook it reads."""

    def __init__(self, option_strings: Sequence[str], dest: str, help: str | None = None) -> None:
        super().__init__(option_strings, dest, nargs=0, help=help)

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from advisor.rulebook import rulebook

        try:
            book = rulebook()
        except AdvisorError as error:
            parser.exit(FAILED, f"advisor {__version__}: {_one_line(error)}\n")
        print(f"advisor {__version__}\nrulebook {book.version}, {len(book.rules)} rules, {book.digest}")
        parser.exit(0)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="advisor",
        description="A rules-based safety and suitability advisor for small-lot textile dyeing.",
        epilog="Exit status: 0 ready (cautions allowed), 1 something must change first, 3 cannot tell, 2 bad input or "
        "failure. example: advisor check examples/act-two-ribbon.toml",
    )
    parser.add_argument("--version", action=_Version, help="show the version, and that and the digest of the rulebook")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    check = commands.add_parser(
        "check",
        help="pre-flight check of one bath",
        description="Check the plan of one bath before you light the hob.",
        epilog="example: advisor check examples/act-two-ribbon.toml",
    )
    check.add_argument("plan", metavar="PLAN", help=_PLAN_FILE)
    _format_option(check, "terminal", "json", "markdown", "html")
    check.add_argument(
        "--amend", metavar="FILE", type=_file, help="write the corrected plan, a note beside each change"
    )
    check.add_argument("--explain", action="store_true", help="add chains of reasons, sources and every caution")
    _shelf_option(check)
    _common(check, _check)

    compare = commands.add_parser(
        "compare",
        help="two plans side by side",
        description="Check two plans and show verdicts, measures that differ, and findings gained and lost.",
        epilog="Exit status: that of the second plan, as for check. example: advisor compare monday.toml tuesday.toml",
    )
    compare.add_argument("first", metavar="A", help=_PLAN_FILE)
    compare.add_argument("second", metavar="B", help=_PLAN_FILE)
    _format_option(compare, "terminal", "json")
    _shelf_option(compare)
    _common(compare, _compare)

    limits = commands.add_parser(
        "limits",
        help="how far each number of a plan may go",
        description="For each number that the plan states exactly: the range over which the verdict stays, and what "
        "comes beyond. One number is changed at a time; where the verdict turns is found by bisection on the rules.",
        epilog="Exit status: that of the plan, as for check. example: advisor limits examples/act-two-ribbon.toml",
    )
    limits.add_argument("plan", metavar="PLAN", help=_PLAN_FILE)
    _format_option(limits, "terminal", "json")
    _shelf_option(limits)
    _common(limits, _limits)

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
    _format_option(rules, "terminal", "json", "markdown")
    _common(rules, _rules)

    facts = commands.add_parser(
        "facts",
        help="read the knowledge tables",
        description="List a table of rules/knowledge with its sources, or show one entry whole.",
        epilog="example: advisor facts substances 'citric acid'",
    )
    facts.add_argument(
        "table", metavar="TABLE", help="fibres, dye-classes, substances ...; `advisor facts list` names all"
    )
    facts.add_argument("entry", metavar="ENTRY", nargs="?", help="show only this entry, by id or accepted word")
    facts.add_argument("--search", metavar="TEXT", default="", help="only entries with this text")
    _format_option(facts, "terminal", "json")
    _common(facts, _facts, own_rules=False)

    _screen_parser(commands)
    _plan_parser(commands)

    handout = commands.add_parser(
        "handout",
        help="teaching-safety handout for a class",
        description="Check a session and write the handout for exactly these baths, learners and room: one file that needs no "
        "network and prints on A4 and US Letter. For a PDF, open the page and print it to a file.",
        epilog="Exit status as for check, of the whole session; a session that is not ready makes a handout that says so. "
        "example: advisor handout examples/sessions/wardrobe-evening.toml --output handout.html",
    )
    handout.add_argument("session", metavar="SESSION", help="session file (.toml or .json); - reads standard input")
    _format_option(handout, "html", "markdown")
    handout.add_argument("--large-print", action="store_true", help="letters of 18 points")
    _common(handout, _handout)

    completion = commands.add_parser(
        "completion",
        help="completion of words for a shell",
        description="Print a script that lets a shell complete the words of this command: bash and zsh read it with "
        'eval "$(advisor completion bash)", fish with advisor completion fish | source.',
        epilog="example: advisor completion bash",
    )
    completion.add_argument("shell", choices=("bash", "zsh", "fish"))
    completion.set_defaults(run=_completion)

    schema = commands.add_parser(
        "schema",
        help="JSON Schema of a file format",
        description="Print the JSON Schema of a format.",
        epilog="example: advisor schema plan",
    )
    schema.add_argument("what", choices=("plan", "session", "shelf", "report"))
    schema.set_defaults(run=_schema)
    return parser


def _screen_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    screen = commands.add_parser(
        "screen",
        help="will it take dye: labels, or a whole list of goods",
        description="Say of goods, before money is spent, whether they take dye, which dye, how much of them, and what to ask. "
        "Without a dye class the answer is that of the best dye; pigment, a film on the surface, never counts as the best. "
        "Cells of a CSV output that a spreadsheet would run as a formula get an apostrophe in front; plain numbers stay.",
        epilog="Exit status: 0 every item has an answer, 1 an item must not be handled, 3 an item cannot be told, 2 bad input "
        "(with --list: no row could be read, or any bad row with --strict). "
        "example: advisor screen '80% nylon, 20% elastane' --dye-class 'acid levelling'",
    )
    screen.add_argument("labels", metavar="LABEL", nargs="*", help="text of a composition label")
    screen.add_argument(
        "--list", metavar="FILE", dest="list_file", help="a CSV or TSV list of goods; - reads standard input"
    )
    screen.add_argument(
        "--dye-class", metavar="CLASS", default="", help="answer for this dye class or family of classes"
    )
    screen.add_argument("--use", metavar="TEXT", default="", help="what the goods are for; goes into the trial plan")
    screen.add_argument("--colour", metavar="COLOUR", default="", help="undyed, or the colour the goods have")
    screen.add_argument(
        "--column", metavar="ROLE=HEADER", action="append", default=[],
        help="which column of the list is the name, fibres, dye_class, use or colour",
    )  # fmt: skip
    _format_option(screen, "terminal", "json", "csv", "jsonl", "html")
    screen.add_argument("--strict", action="store_true", help="stop at the first bad row of a list")
    screen.add_argument(
        "--match", action="store_true", help="say which items will differ when dyed in one bath, and why"
    )
    screen.add_argument(
        "--identify", action="store_true", help="add home trials for unknown fibres, with their cautions"
    )
    screen.add_argument(
        "--trial", metavar="FILE", type=_file, help="write a plan of the swatch trial of one label, for advisor check"
    )
    screen.add_argument("--output", metavar="FILE", type=_output_file, help=_OUTPUT)
    screen.add_argument("--force", action="store_true", help="let --output and --trial replace an existing file")
    screen.set_defaults(run=_screen)


def _plan_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    plan = commands.add_parser(
        "plan",
        help="write a plan by answering questions",
        description="Ask, one question at a time, what matters most for the verdict, and write a plan file. Each answer is "
        "checked and saved at once; a file that is there already is gone on with. Answers may come from a pipe, one a line.",
        epilog="Exit status: that of the check at the end; 2 after Ctrl-C, with all answers saved. "
        "example: advisor plan scarf.toml --shelf shelf.toml",
    )
    plan.add_argument(
        "plan", metavar="FILE", nargs="?", type=_file, help="plan file (.toml or .json); default: named after the bath"
    )
    plan.add_argument("--force", action="store_true", help="start anew in the place of an existing FILE")
    _shelf_option(plan)
    plan.add_argument(
        "--rules", metavar="DIR", type=Path, action="append", default=[], help="add a folder of your own rules"
    )
    plan.set_defaults(run=_plan)


def _shelf_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--shelf", metavar="FILE", type=_file, help="take what plans leave to the shelf from this file")


def _file(text: str) -> Path:
    if text == "-":
        raise argparse.ArgumentTypeError("'-' is no file here; accepted: the name of a file, ./- for one named so")
    return Path(text)


def _output_file(text: str) -> Path | None:
    return None if text == "-" else Path(text)


def _format_option(parser: argparse.ArgumentParser, *forms: str) -> None:
    parser.add_argument("--format", choices=forms, help=f"default: as the name of FILE ends, else {forms[0]}")
    parser.set_defaults(forms=forms)


def _form(options: argparse.Namespace) -> str:
    """The format asked for: by --format, else by the end of the name of the output file, else the first there is."""
    forms: tuple[str, ...] = options.forms
    meant = _FORM_OF.get(options.output.suffix.lower(), "") if options.output is not None else ""
    return options.format or (meant if meant in forms else forms[0])


def _needs_form(options: argparse.Namespace, option: str, *forms: str) -> None:
    """Refuses an option that was given but changes nothing in the format at hand."""
    from advisor.plan import InputError

    if getattr(options, option.strip("-").replace("-", "_")) and options.format not in forms:
        message = f"changes nothing in the format {options.format}; accepted with: {', '.join(forms)}"
        raise InputError(message, file=option)


def _common(
    parser: argparse.ArgumentParser, run: Callable[[argparse.Namespace], int], *, own_rules: bool = True
) -> None:
    parser.add_argument("--output", metavar="FILE", type=_output_file, help=_OUTPUT)
    parser.add_argument("--force", action="store_true", help="let --output and --amend replace an existing file")
    if own_rules:
        parser.add_argument(
            "--rules", metavar="DIR", type=Path, action="append", default=[], help="add a folder of your own rules"
        )
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


def _shelf(options: argparse.Namespace) -> Shelf | None:
    from advisor.shelf import load_shelf

    return None if options.shelf is None else load_shelf(options.shelf)


def _plan(options: argparse.Namespace) -> int:
    from advisor.dialogue import STOPPED, hold
    from advisor.render.terminal import print_report

    held = hold(options.plan, _checker(options), force=options.force, shelf=_shelf(options), shelf_file=options.shelf)
    if held is None:
        return STOPPED
    print_report(held[1], sys.stdout)
    return held[1].exit_status


def _check(options: argparse.Namespace) -> int:
    from advisor.plan import STDIN, InputError, load_plan

    _needs_form(options, "--explain", "terminal")
    if options.plan == STDIN and options.amend is not None:
        raise InputError("needs a plan file to amend, and standard input is none", file="--amend")
    check_places(options.amend, options.output, force=options.force)
    plan = load_plan(options.plan, shelf=_shelf(options))
    report = _checker(options).check(plan, remedies=True)
    if options.amend is not None:
        _amend(options, report)
    if options.format == "json":
        from advisor.render.data import report_json

        text = report_json(report)
    elif options.format in ("html", "markdown"):
        text = _as_page(report, plan, options.format)
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


def _amend(options: argparse.Namespace, report: Report) -> None:
    from advisor.amend import amended
    from advisor.plan import read_text

    is_json = options.plan.lower().endswith(".json")
    text = amended(read_text(options.plan), report.way_out, is_json=is_json, file=options.plan)
    write_new(options.amend, text, force=options.force)
    made = 0 if report.way_out is None else len(report.way_out.changes)
    verdict = report.verdict if report.way_out is None else report.way_out.verdict
    changes = f"{made} change{'' if made == 1 else 's'}" if made else "no change"
    print(f"advisor: {options.amend}: written with {changes}; its verdict is: {verdict}", file=sys.stderr)
    if is_json and report.way_out is not None:  # which has no comments to say it in
        for path, note in report.way_out.notes.items():
            print(f"  {path}: {note}", file=sys.stderr)


def _compare(options: argparse.Namespace) -> int:
    from advisor.comparing import compared, comparison_data
    from advisor.plan import STDIN, InputError, load_plan
    from advisor.render.compare import print_comparison

    if options.first == options.second == STDIN:
        raise InputError("standard input holds one plan; accepted: a file for one of the two", file="compare")
    shelf = _shelf(options)
    first, second = (_checker(options).check(load_plan(path, shelf=shelf)) for path in (options.first, options.second))
    comparison = compared(first, second)
    if options.format == "json":
        _put(options, json.dumps(comparison_data(comparison), ensure_ascii=False, indent=1) + "\n")
    else:
        _put(options, _printed(lambda stream: print_comparison(comparison, stream)))
    return second.exit_status


def _limits(options: argparse.Namespace) -> int:
    from advisor.bounds import limits, limits_data
    from advisor.findings import EXIT_STATUS
    from advisor.plan import load_plan
    from advisor.render.compare import print_limits

    found = limits(_checker(options), load_plan(options.plan, shelf=_shelf(options)))
    if options.format == "json":
        _put(options, json.dumps(limits_data(found), ensure_ascii=False, indent=1) + "\n")
    else:
        _put(options, _printed(lambda stream: print_limits(found, stream)))
    return EXIT_STATUS[found.verdict]


def _as_page(report: Report, plan: Plan, form: str) -> str:
    from advisor.render.html import as_html
    from advisor.render.markdown import as_markdown
    from advisor.render.report import report_page

    page = report_page(report, plan)
    return as_html(page) if form == "html" else as_markdown(page)


def _handout(options: argparse.Namespace) -> int:
    from advisor.handouts import make_handout
    from advisor.session import load_session

    if str(options.output or "").lower().endswith(".pdf"):
        raise OutputError(f"{options.output}: no PDF is written here; write .html, open it, and print it to a PDF file")
    _needs_form(options, "--large-print", "html")
    handout = make_handout(load_session(options.session), _checker(options))
    text = handout.html(large_print=options.large_print) if options.format == "html" else handout.markdown()
    _put(options, text)
    if options.output is not None and not handout.report.ready:
        print(
            f"advisor: {options.output}: {handout.verdict}; the first page of this handout says NOT READY",
            file=sys.stderr,
        )
    return handout.exit_status


def _screen(options: argparse.Namespace) -> int:
    from advisor.plan import InputError
    from advisor.screening.command import Wanted, run
    from advisor.screening.lists import ROLES

    for option in ("--match", "--identify"):
        _needs_form(options, option, "terminal", "json", "html")
    for option, given in (("--column", options.column), ("--strict", options.strict)):
        if given and options.list_file is None:
            raise InputError("is for a list of goods; accepted with: --list FILE", file=option)
    columns = dict[str, str]()
    for text in options.column:
        role, _, header = text.partition("=")
        if role not in ROLES:
            wrong = f"{role!r} is no column role"
        elif not header.strip():
            wrong = f"{text!r} names no column"
        elif role in columns:
            wrong = f"{role!r} has two columns"
        else:
            columns[role] = header
            continue
        raise InputError(f"{wrong}; accepted: ROLE=HEADER with {', '.join(ROLES)}", file="--column")
    return run(
        Wanted(
            labels=options.labels,
            list_file=options.list_file,
            dye_class=options.dye_class,
            use=options.use,
            colour=options.colour,
            format=options.format,
            output=options.output,
            force=options.force,
            strict=options.strict,
            match=options.match,
            identify=options.identify,
            trial=options.trial,
            columns=columns,
        )
    )


def _rules(options: argparse.Namespace) -> int:
    from advisor.knowledge import knowledge
    from advisor.plan import InputError
    from advisor.reading import Wanted, chosen, nearest, rules_data, withdrawn_words
    from advisor.render.rules import print_rule, print_rules, rulebook_markdown

    book = _checker(options).rulebook
    if options.topic and options.topic not in book.topics:
        gone = withdrawn_words(options.topic, knowledge().withdrawn_topics)
        raise InputError(gone or f"{options.topic!r} is no topic; accepted: {', '.join(book.topics)}", file="--topic")
    wanted = Wanted(options.topic, options.signal, options.effect, options.substance, options.fibre, options.search)
    found = chosen(book, wanted)
    if options.rule is not None:
        ids = [rule.id for rule in book.rules]
        if options.rule not in ids:
            gone = withdrawn_words(options.rule, knowledge().withdrawn_rules)
            raise InputError(gone or f"no rule {options.rule!r}{nearest(options.rule, ids)}", file="advisor rules")
        found = [rule for rule in found if rule.id == options.rule]
        if not found:
            raise InputError(f"the rule {options.rule!r} is not among those of the other options", file="advisor rules")
    if options.format == "json":
        text = json.dumps(rules_data(book, found, knowledge()), ensure_ascii=False, indent=1) + "\n"
    elif options.format == "markdown":
        text = rulebook_markdown(book, knowledge(), found)
    elif options.rule is not None:
        text = _printed(lambda stream: print_rule(found[0], knowledge(), stream))
    else:
        text = _printed(lambda stream: print_rules(found, book, stream))
    return _put(options, text)


def _facts(options: argparse.Namespace) -> int:
    from advisor.knowledge import knowledge
    from advisor.plan import InputError
    from advisor.reading import entry_words, facts_data, nearest, tables
    from advisor.render.rules import print_table

    names = list(tables(knowledge()))
    if options.entry is not None and options.search:
        raise InputError("give an ENTRY, or --search TEXT, but not both", file="advisor facts")
    if options.table == "list":
        if options.entry is not None or options.search:
            raise InputError("takes no ENTRY and no --search", file="advisor facts list")
        return _put(options, json.dumps(names) + "\n" if options.format == "json" else "\n".join(names) + "\n")
    if options.table not in names:
        near = nearest(options.table, names)
        raise InputError(f"no table {options.table!r}{near}; accepted: {', '.join(names)}", file="advisor facts")
    data = facts_data(options.table, knowledge(), row_id=options.entry, search=options.search)
    if options.entry is not None and not data["rows"]:
        near = nearest(options.entry, entry_words(options.table, knowledge()))
        raise InputError(f"no entry {options.entry!r}{near}", file=f"advisor facts {options.table}")
    if options.format == "json":
        return _put(options, json.dumps(data, ensure_ascii=False, indent=1) + "\n")
    return _put(options, _printed(lambda stream: print_table(data, stream)))


def _printed(show: Callable[[TextIO], None]) -> str:
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
    from advisor.findings import Report
    from advisor.render.terminal import print_report

    assert isinstance(report, Report)
    stream = io.StringIO()
    print_report(report, stream, width=80, everything=everything)
    return stream.getvalue()


def _completion(options: argparse.Namespace) -> int:
    from advisor.completion import script

    print(script(options.shell, _parser()))
    return 0


def _schema(options: argparse.Namespace) -> int:
    from advisor.render.schema import plan_schema, report_schema, session_schema, shelf_schema

    schemas = {"plan": plan_schema, "session": session_schema, "shelf": shelf_schema, "report": report_schema}
    print(json.dumps(schemas[options.what](), indent=1))
    return 0
