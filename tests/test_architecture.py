"""The house itself: imports go one way, no number of the trade in Python, docs that lead somewhere, recipes that work."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "advisor"
MODULES = sorted(PACKAGE.rglob("*.py"))
Child = Callable[..., subprocess.CompletedProcess[str]]


def name_of(path: Path) -> str:
    """The name of a module below the package: "measures.heat", "measures" for its __init__, "" for the package."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


@lru_cache
def tree_of(path: Path) -> ast.Module:
    """A module, parsed."""
    return ast.parse(path.read_text(encoding="utf-8"))


modules = pytest.mark.parametrize("path", MODULES, ids=lambda path: name_of(path) or "advisor")


# --- imports go one way -------------------------------------------------------------------------------------------

# Each stage may import from itself and from those before it, never from those after.
STAGES: dict[str, tuple[str, ...]] = {
    "ground": (
        "errors", "ending", "toml_file", "paths", "store", "factors", "interval", "output", "encoding", "rows", "knowledge", "physics",
        "chemistry", "contents", "wording", "fact_types", "fact", "measure", "quantities", "composition", "label_words", "label_text",
        "label_items", "label_pieces", "label_shares", "label_reader", "labels",
    ),
    "plan": ("plan_values", "plan", "planfile", "shelf", "session", "asking"),
    "measures": ("measures",),
    "facts": ("facts",),
    "rules": ("rulebook", "compiler", "engine", "evaluator"),
    "findings": ("findings",),
    "answers": (
        "reminders", "checking", "session_check", "remedies", "cases", "bounds", "reading", "completion", "amend",
        "screening",
    ),
    "report": ("render", "comparing", "handouts", "dialogue", "screening.command"),
    "command": ("cli", "__main__"),
}  # fmt: skip
ORDER = {name: number for number, stage in enumerate(STAGES) for name in STAGES[stage]}


def stage(module: str) -> int:
    """The number of a module's stage: its own, or that of the package it lies in."""
    while module not in ORDER:
        module, dot, _ = module.rpartition(".")
        assert dot, "a module without a stage: put it into STAGES"
    return ORDER[module]


def imported(path: Path) -> Iterator[tuple[str, int]]:
    """What a module imports when it runs: names below the package ("" for itself), or other packages' with a "/"."""
    typing_only = {
        id(inner)
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree_of(path)):
        if id(node) in typing_only:
            continue
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: import by the full name"
            module = node.module or ""
            names = [f"{module}.{a.name}" if (PACKAGE / f"{a.name}.py").exists() and module == "advisor" else module
                     for a in node.names]  # fmt: skip
        else:
            continue
        for name in names:
            ours = name == "advisor" or name.startswith("advisor.")
            yield (name.removeprefix("advisor").removeprefix(".") if ours else f"/{name}"), node.lineno


@modules
def test_imports_go_one_way(path: Path) -> None:
    """plan, measures, facts, rules, findings, report: nothing looks back."""
    own = name_of(path)
    if own == "":  # the interface of the package calls what it offers
        return
    for name, line in imported(path):
        if name and not name.startswith("/"):
            assert stage(name) <= stage(own), f"{own}, line {line}: imports {name}, which comes after it"


def test_the_stages_name_modules_that_are_there() -> None:
    found = {name_of(path) for path in MODULES}
    assert set(ORDER) <= found, set(ORDER) - found
    assert list(STAGES)[1:6] == ["plan", "measures", "facts", "rules", "findings"]


def test_only_the_engine_touches_the_engines_package() -> None:
    touching = {name_of(path) for path in MODULES for name, _ in imported(path) if "durable" in name}
    assert touching == {"engine"}


def test_nothing_imports_the_command() -> None:
    importing = {name_of(path) for path in MODULES for name, _ in imported(path) if name == "cli"}
    assert importing == {"__main__"}


def test_the_package_itself_loads_nothing_heavy(child: Child) -> None:
    heavy = "'pint', 'rich', 'pydantic', 'durable_rules_engine', 'advisor.plan'"
    done = child("-c", f"import advisor, sys; print([name for name in ({heavy}) if name in sys.modules])")
    assert done.stdout.strip() == "[]", done.stdout + done.stderr


def test_nothing_is_evaluated_or_started() -> None:
    """No text of a user or rule can become code, a command or a connection."""
    banned_calls = {"eval", "exec", "compile", "__import__", "system", "popen"}
    banned_modules = {"subprocess", "socket", "urllib", "http", "ftplib", "ctypes", "marshal", "shelve"}
    for path in MODULES:
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.Call):
                called = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
                base = node.func.value if isinstance(node.func, ast.Attribute) else None
                is_regex = isinstance(base, ast.Name) and base.id == "re"
                assert called not in banned_calls or is_regex, f"{path.name}:{node.lineno}: {called}"
        loaded = {name.removeprefix("/").partition(".")[0] for name, _ in imported(path) if name.startswith("/")}
        assert not loaded & banned_modules, f"{path.name}: {loaded & banned_modules}"
        assert "pickle" not in loaded or name_of(path) == "store"


# --- no number of the trade in Python --------------------------------------------------------------------------------

PLAIN = {0, 1, 2, 10, 60, 100, 1000}  # nothing, one, half and double, decimal places, minutes, per cent, per mille
# arguments that say how something is shown, kept or looked up
SHOWN = {"maxsize", "cutoff", "n", "indent", "width", "hang", "max_width", "level", "digits", "mode", "max_length"}
HELPERS = {"round", "ljust", "rjust", "Heading", "range", "Padding", "shown"}
# Named constants and bare numbers, file by file, and why each is no knowledge of the trade.
ALLOWED: dict[str, dict[str | float, str]] = {
    "asking": {"_MOST_UNITS": "how many units a question names"},
    "bounds": {
        "STEPS": "search", "GROWTH": "search", "CLOSE": "where a bisection stops", "_CLOSE_DEGREES": "the same",
        "FALLBACK_DIGITS": "digits shown", "MOST_DIGITS": "digits shown",
    },
    "chemistry": {
        "_KELVIN": "zero of the Celsius scale, by definition", "_ROOM": "25 degC, where constants are tabulated",
        "_GAS_CONSTANT": "CODATA", "_ROUNDS": "solver", "_THICKEST": "solver: an end of the search",
        "_LOWEST_PH": "solver: the ends of the search", "_LEAST_STEP": "solver", "_TRACE": "solver: stands for nothing", 
        "_CLOSE_PH": "solver",
        "_CLOSE_SHARE": "solver", "_ROOT_PH": "solver", 1e6: "largest alkalinity taken", 1.5: "power in the formula of"
        " Debye and Hückel", 7.0: "solver: start", 1e-300: "never divide by nothing", 0.02: "solver: width",
        1e-9: "solver: flat",
    },
    "cli": {"NARROWEST": "columns of a terminal, least and most"},
    "compiler": {
        "RULES_PER_BUCKET": "engine", "MOST_BUCKETS": "engine", "MOST_CHILDREN": "engine", "MOST_VARIANTS": "engine",
        "MOST_PATTERNS": "engine", "MOST_JOINS": "engine", "MOST_FIELDS": "engine", 2166136261: "FNV-1a",
        16777619: "FNV-1a", 127: "signed bytes",
    },
    "dialogue": {"_WIDTHS": "columns of a terminal", "_MOST_TOPICS": "how many topics a question names", 3: "exit status"},
    "encoding": {"_LONGEST_WORD": "engine", 63: "bits"},
    "facts.dyes": {"MOST_RATIO": "upper end of what nothing is known of"},
    "findings": {"EXIT_STATUS": "exit status"},
    "interval": {"SIGNIFICANT_DIGITS": "rounding", 1e300: "beyond any number that means something"},
    "label_items": {"NUMBERED": "ranks", 3: "rank", 4: "rank", 5: "rank", 8: "rank", 9: "rank"},
    "label_text": {"LIKELY_SLIP": "likeness of words"},
    "label_words": {"_REPAIRABLE": "letters", "_LONGEST_REPAIR": "letters"},
    "labels": {"MAX_LENGTH": "letters"},
    "measures.acidity": {3: "charges of the aluminium ion", "GUARD": "width of the solver's answer",
                         "AT_ROOM": "where constants are tabulated"},
    "measures.air": {"_SECONDS_PER_HOUR": "by definition", "_PER_MILLION": "by definition", 4: "area of a circle"},
    "measures.dose": {"MOST_SHARE": "upper end of what nothing is known of", "LEAST_MAXIMUM": "lower end of the same"},
    "measures.exhaustion": {1e9: "upper end of a quotient"},
    "measures.goods": {"LEAST": "lower end of what nothing is known of"},
    "measures.heat": {"_LOG_STEP": "numerical integration"},
    "measures.liquor": {"ANY_PH": "the ends of the scale"},
    "measures.rinse": {"_SLACK": "rounding"},
    "measures.vessel": {"LEAST": "lower end of what nothing is known of", 1e6: "upper end of a count"},
    "physics": {},
    "plan": {"LARGEST_FILE": "bytes"},
    "plan_values": {"LONGEST_TEXT": "letters", "MOST_ENTRIES": "entries"},
    "quantities": {
        "MAX_LENGTH": "letters", "_MAX_DIGITS": "digits", "_MAX_EXPONENT": "digits", "_HOUR": "seconds, by definition",
        "_SHOWN_DIGITS": "digits shown",
    },
    "remedies.amounts": {"DIGITS": "digits shown", 20: "a question put to the unit reader"},
    "remedies.assist_ways": {7: "neutral pH, by definition"},
    "remedies.dose_ways": {0.5: "search: how far along what a spoon may hold"},
    "remedies.dosing": {"FACTORS": "search", 0.5: "search: how far into an open range"},
    "remedies.dye_class_ways": {"MOST_CLASSES": "search", "USUALLY": "search: how far into an open range"},
    "remedies.proof": {"MOST_TRIALS": "search"},
    "remedies.search": {
        "TRIES": "search", "BEAM": "search", "LOOK_FURTHER": "search", "MOST_KEPT": "search",
        "TRIES_FOR_CAUTION": "search",
    },
    "remedies.water_and_pot_ways": {1e-9: "rounding", 1e6: "upper end of a count"},
    "render.blocks": {3: "level of a heading"},
    "render.handout": {"_COLUMNS": "columns of a table"},
    "render.markdown": {3: "level of a heading"},
    "render.pictograms": {"_SCALE": "drawing"},
    "render.screen_terminal": {"_MOST_ROWS": "shown", "_MOST_TOLD": "shown", "_MOST_CLASSES": "shown",
                               "_LONGEST": "letters", 80: "columns of a terminal"},
    "render.terminal": {"_MOST_QUESTIONS": "shown", "_MOST_CAUTIONS": "shown", 7: "columns"},
    "rows": {100.1: "just above 100 %, so that a band takes it in"},
    "screening": {"CANNOT_TELL": "exit status"},
    "screening.command": {"_STEP": "rows between two moves of the bar"},
    "screening.item": {"_SHOWN": "letters", "MOST_LABELS": "memory"},
    "screening.lists": {
        "BLOCK": "bytes", "LONGEST_LINE": "letters", "MOST_LINES": "lines", "MOST_CELLS": "cells", "_SHOWN": "letters",
        "_MOST_NO_TEXT": "share of bytes that are no text", 
    },
    "screening.match": {"_MOST_GROUPS": "shown", "_MOST_NAMES": "shown"},
    "session": {"MOST_PEOPLE": "largest count taken", "OLDEST": "largest age taken", "MOST_STATIONS": "entries"},
    "shelf": {"MOST_ON_SHELF": "entries"},
    "store": {"_SEAL_BYTES": "bytes"},
}  # fmt: skip


def bare_numbers(path: Path) -> Iterator[tuple[int, float, str]]:
    """Line, value and name of the constant (or "") of each number that stands in code and is not plain."""
    source = path.read_text(encoding="utf-8").splitlines()
    free: set[int] = set()
    named: dict[int, str] = {}
    for node in ast.walk(tree_of(path)):
        parts: list[ast.AST] = []
        if isinstance(node, ast.Subscript):
            parts = [node.slice]
        elif isinstance(node, ast.Call):
            called = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            parts = [keyword.value for keyword in node.keywords if keyword.arg in SHOWN]
            parts += node.args if called in HELPERS else []
        elif isinstance(node, ast.Compare) and "Name(id='len'" in ast.dump(node):
            parts = [node]
        elif isinstance(node, (ast.Assign, ast.AnnAssign)):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names = [n.id for t in targets for n in ast.walk(t) if isinstance(n, ast.Name) and n.id.isupper()]
            if names and node in tree_of(path).body:
                named |= {id(inner): names[0] for inner in ast.walk(node)}
        free |= {id(inner) for part in parts for inner in ast.walk(part)}
    for node in ast.walk(tree_of(path)):
        if (
            not isinstance(node, ast.Constant)
            or isinstance(node.value, bool)
            or not isinstance(node.value, (int, float))
        ):
            continue
        written = source[node.lineno - 1][node.col_offset : node.col_offset + 2]
        if node.value not in PLAIN and id(node) not in free and written not in ("0o", "0x"):
            yield node.lineno, node.value, named.get(id(node), "")


@modules
def test_no_number_of_the_trade_in_python(path: Path) -> None:
    """Doses, temperatures, pH windows and limits live under rules/, with unit and source."""
    allowed = ALLOWED.get(name_of(path), {})
    for line, value, name in bare_numbers(path):
        assert (name or value) in allowed, (
            f"{path.name}, line {line}: {name or value} is neither plain nor in the allow-list of this test;"
            " a number of the trade belongs under rules/knowledge, with unit, source and basis"
        )


def test_the_allow_list_holds_nothing_that_is_gone() -> None:
    found = {name_of(path): {name or value for _, value, name in bare_numbers(path)} for path in MODULES}
    gone = {module: set(names) - found.get(module, set()) for module, names in ALLOWED.items()}
    assert not {module: names for module, names in gone.items() if names}


def test_the_lint_finds_a_planted_number(tmp_path: Path) -> None:
    planted = tmp_path / "planted.py"
    planted.write_text(
        "LIMIT = 85.0\ndef f(t: float) -> bool:\n    return t > 37.5 or round(t, 7) > 60\n", encoding="utf-8"
    )
    assert [(value, name) for _, value, name in bare_numbers(planted)] == [(85.0, "LIMIT"), (37.5, "")]


# --- docstrings and docs -----------------------------------------------------------------------------------------------


def undocumented(body: list[ast.stmt], inside: str = "") -> Iterator[str]:
    """Public classes, functions and methods without a docstring."""
    for node in body:
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            if ast.get_docstring(node) is None:
                yield inside + node.name
            if isinstance(node, ast.ClassDef):
                yield from undocumented(node.body, f"{node.name}.")


@modules
def test_everything_public_says_what_it_is(path: Path) -> None:
    assert ast.get_docstring(tree_of(path)) is not None or not tree_of(path).body, "the module has no docstring"
    assert not [*undocumented(tree_of(path).body)]


@modules
def test_functions_that_raise_our_errors_say_so(path: Path) -> None:
    """A public function that raises one of our errors itself names it, or the class it belongs to, in its docstring."""
    for node in tree_of(path).body:
        if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
            continue
        raised = {  # classes only: a function that makes an error says at its own place which
            inner.exc.func.id
            for inner in ast.walk(node)
            if isinstance(inner, ast.Raise) and isinstance(inner.exc, ast.Call) and isinstance(inner.exc.func, ast.Name)
        }
        told = ast.get_docstring(node) or ""
        for error in (name for name in raised if name[0].isupper()):
            family = {"ListError": "InputError"}.get(error, error)
            assert error in told or family in told, f"{path.name}: {node.name} raises {error} and does not say so"


# Where quantities are reckoned, a docstring says their units and what is raised.
RECKONING = [
    *(PACKAGE / f"{name}.py" for name in ("chemistry", "physics", "interval", "quantities", "composition")),
    *sorted((PACKAGE / "measures").glob("*.py")),
]
_QUANTITY = re.compile(r"\b(float|Interval|Finite|Doses)\b")
_UNIT = re.compile(
    r"(?<![\w.'])(?:g|kg|mg|L|mL|mol|mmol|meq|degC|degF|K|Pa|kPa|ppm|W|J|m|min|h|pH|seconds|minutes|hours|units?"
    r"|ratios?|fractions?|shares?)(?![\w'])|%"
)


def public(body: list[ast.stmt], inside: str = "") -> Iterator[tuple[str, ast.FunctionDef | ast.ClassDef]]:
    """Public classes, functions and methods, with their names."""
    for node in body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            yield inside + node.name, node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body, f"{node.name}.")


def own_parts(node: ast.FunctionDef | ast.ClassDef) -> tuple[list[ast.expr], list[ast.stmt]]:
    """What a function, or a class in its fields, is annotated with; and the code a caller runs by its name."""
    if isinstance(node, ast.FunctionDef):
        arguments = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
        return [a for a in (*(arg.annotation for arg in arguments), node.returns) if a is not None], node.body
    fields = [item.annotation for item in node.body if isinstance(item, ast.AnnAssign)]
    run = [item for item in node.body if isinstance(item, ast.FunctionDef) and item.name.startswith("__")]
    return fields, [*run]


def untold(tree: ast.Module) -> Iterator[str]:
    """Public names of a module whose docstring keeps back a unit, or that something is raised."""
    for name, node in public(tree.body):
        told = ast.get_docstring(node) or ""
        annotations, code = own_parts(node)
        if any(_QUANTITY.search(ast.unparse(annotation)) for annotation in annotations) and not _UNIT.search(told):
            yield f"{name}: no unit, and no ratio, fraction or share"
        if any(isinstance(inner, ast.Raise) for part in code for inner in ast.walk(part)) and not re.search(
            r"\braises\b", told, re.IGNORECASE
        ):
            yield f"{name}: does not say what it raises"


@pytest.mark.parametrize("path", RECKONING, ids=name_of)
def test_where_quantities_are_reckoned_docstrings_say_units_and_errors(path: Path) -> None:
    assert not [*untold(tree_of(path))]


def test_a_docstring_without_unit_or_error_is_noticed() -> None:
    made_up = ast.parse(
        "def bare(a: Interval) -> int:\n  'The amount of it.'\n"
        "def told(a: Interval, b: float) -> float:\n  'The amount in g/L.'\n"
        "def words(a: str) -> str:\n  'Words.'\n"
        "def breaks(a: str) -> str:\n  'Words.'\n  raise ValueError\n"
        "def warns(a: str) -> str:\n  'Words. Raises ValueError.'\n  raise ValueError\n"
        "def _own(a: float) -> float:\n  return a\n"
        "class Pot:\n  'A pot.'\n  size: Interval\n  def fill(self) -> float:\n    'How much.'\n"
        "  def __post_init__(self) -> None:\n    raise ValueError\n"
        "class Cup:\n  'A cup of so many L. Raises ValueError.'\n  size: float\n"
        "  def __post_init__(self) -> None:\n    raise ValueError\n"
    )
    assert [said.partition(":")[0] for said in untold(made_up)] == ["bare", "breaks", "Pot", "Pot", "Pot.fill"]


PAGES = sorted(
    path
    for folder in (ROOT, ROOT / "docs", ROOT / "tests" / "benchmarks", ROOT / "rules")
    for path in folder.glob("*.md")
)
_LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
_CODE_PATH = re.compile(r"`((?:advisor|rules|tests|docs|examples)/[\w./-]+)`")
_FENCE = re.compile(r"```.*?```", re.DOTALL)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_and_paths_in_the_docs_lead_somewhere(page: Path) -> None:
    text = _FENCE.sub("", page.read_text(encoding="utf-8"))
    for target in _LINK.findall(text):
        if target.startswith(("http:", "https:", "mailto:")):
            continue
        file, _, anchor = target.partition("#")
        there = (page.parent / file).resolve() if file else page
        assert there.exists(), f"{page.name}: {target} leads nowhere"
        if anchor:
            heads = re.findall(r"^#+ (.+)$", there.read_text(encoding="utf-8"), re.MULTILINE)
            assert anchor in {re.sub(r"[^\w\- ]", "", head).strip().lower().replace(" ", "-") for head in heads}, target
    for path in set(_CODE_PATH.findall(text)) - {"advisor/rules"}:  # where the rules lie in an installed copy
        assert any(ROOT.glob(path)) or any(ROOT.glob(path.rstrip("/"))), f"{page.name}: {path} is not there"


def test_every_page_of_the_docs_is_in_the_index() -> None:
    index = (ROOT / "docs" / "README.md").read_text(encoding="utf-8")
    linked = set(_LINK.findall(index))
    assert {page.name for page in (ROOT / "docs").glob("*.md")} - {"README.md"} <= linked


def test_the_changes_of_advice_are_told_up_to_this_rulebook() -> None:
    """One heading a version, the newest first and the one that is shipped; each withdrawn id is named."""
    from advisor.knowledge import knowledge
    from advisor.rulebook import VERSION

    text = (ROOT / "docs" / "changes.md").read_text(encoding="utf-8")
    versions = re.findall(r"^## Rulebook (\S+)$", text, re.MULTILINE)
    assert versions[0] == VERSION
    assert len(versions) == len(re.findall(r"^## ", text, re.MULTILINE)) == len(set(versions))
    assert all(f"`{name}`" in text for name in (*knowledge().withdrawn_rules, *knowledge().withdrawn_topics))


def test_the_counts_of_the_validation_page_are_fresh() -> None:
    from renew import VALIDATION, validation_text

    assert VALIDATION.read_text(encoding="utf-8") == validation_text(), "run python -m tests.renew"


def test_the_style_table_has_a_score_for_every_row() -> None:
    rows = re.findall(r"^\| (\d+) \|[^|]*\| ([012]) \|", (ROOT / "docs" / "style.md").read_text("utf-8"), re.MULTILINE)
    assert [int(number) for number, _ in rows] == [*range(1, 29)]


# --- the recipes of DEVELOPERS.md, tried in a copy ------------------------------------------------------------------------


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the program, its rules, and what its tests need."""
    for name in ("advisor", "rules", "tests"):
        shutil.copytree(
            ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__", ".mypy_cache", "benchmarks")
        )
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, tmp_path)
    return tmp_path


def with_row(path: Path, row: str) -> None:
    """Add a row as a person would: after the last one, before the end marker."""
    head, mark, tail = path.read_text(encoding="utf-8").rpartition("\n[end]\n")
    assert mark
    path.write_text(f"{head}\n{row}\n{mark}{tail}", encoding="utf-8")


def counted(copy: Path, child: Child) -> None:
    """The step of the recipe that writes the counts anew."""
    done = child("-m", "tests.renew", "counts", root=copy)
    assert done.returncode == 0, done.stderr


NEW_FIBRE = """\
[[fibre]]
id = "moonsilk"
family = "silk"
title = "moonsilk"
synonyms = ["moon silk"]
source = "common-practice/advisor-choice"
basis = "common practice"
names = [{ language = "en", names = ["moonsilk"], basis = "common practice" }]
"""


def test_the_recipe_of_a_fibre(copy: Path, child: Child) -> None:
    assert "One `[[fibre]]`" in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    ask = ("-m", "advisor", "screen", "100% moonsilk", "--dye-class", "acid levelling", "--format", "csv")
    assert "cannot tell" in child(*ask, root=copy).stdout
    with_row(copy / "rules" / "knowledge" / "fibres.toml", NEW_FIBRE)
    done = child(*ask, root=copy)
    assert (done.returncode, done.stdout) == (2, "")
    assert "fibres.toml: the file ends early or rows were added without counting them" in done.stderr
    counted(copy, child)
    done = child(*ask, root=copy)
    assert "takes dye,100" in done.stdout, done.stdout + done.stderr
    plan = (copy / "rules" / "plans" / "acid-on-silk.toml").read_text(encoding="utf-8")
    (copy / "plan.toml").write_text(re.sub(r"(?m)^fibres = .*$", 'fibres = "100% moonsilk"', plan), encoding="utf-8")
    assert child("-m", "advisor", "check", "plan.toml", root=copy).returncode == 0


NEW_LIMIT = """\
[[limit]]
id = "made_up_water"
title = "More water than the made-up studio likes to heat"
figure = { value = 9, unit = "L", source = "common-practice/advisor-choice", basis = "common practice" }
"""
NEW_RULE = """\
[[rule]]
id = "made-up-much-water"
topic = "dose-too-low"
signal = "NOTICE"
effect = "caution"
when.bath = ["water > limit.made_up_water"]
title = "Much water to heat"
message = "{bath.water} of water is more than {limit.made_up_water}."
reason = "Water takes long to heat, and longer to carry away."
do = ["Use a smaller pot where the goods still move in it."]
no_remedy = "How much water to heat is a choice, and no danger."
sources = ["common-practice/advisor-choice"]
cases.fires = [{ plan = "acid-on-nylon", change = { "bath.water" = "9.1 L" } }]
cases.silent = [{ plan = "acid-on-nylon", change = { "bath.water" = "9 L" } }]
cases.asks = [{ plan = "acid-on-nylon", change = { "bath.water" = "unknown" } }]
"""
RUN_CASES = """
import sys
from advisor.cases import cases_of, run_case
from advisor.checking import make_checker
checker = make_checker()
rule = checker.rulebook.rule("made-up-much-water")
wrong = [o for e, c in cases_of(rule) if not (o := run_case(checker, rule, e, c)).holds]
print(len(rule.cases.fires + rule.cases.silent + rule.cases.asks), "cases,", len(wrong), "wrong")
"""


def test_the_recipe_of_a_rule(copy: Path, child: Child) -> None:
    checks, limits = copy / "rules" / "checks" / "dose.toml", copy / "rules" / "knowledge" / "limits.toml"
    with_row(checks, NEW_RULE)
    counted(copy, child)
    done = child("-c", RUN_CASES, root=copy)
    assert done.returncode == 1
    assert (
        "dose.toml: rule 'made-up-much-water': 'water > limit.made_up_water': limit 'made_up_water' is not in"
        in done.stderr
    )
    with_row(limits, NEW_LIMIT)
    counted(copy, child)
    assert child("-c", RUN_CASES, root=copy).stdout == "3 cases, 0 wrong\n"
    limits.write_text(
        limits.read_text(encoding="utf-8").replace("value = 9, unit", "value = 8, unit"), encoding="utf-8"
    )
    assert child("-c", RUN_CASES, root=copy).stdout == "3 cases, 1 wrong\n", "a wrong limit is noticed by the cases"


NEW_CHECK = '''\
"""A check value from outside."""

from advisor.quantities import parse


def test_an_ounce() -> None:
    """NIST SP 811 (2008), appendix B.8: 1 oz (avoirdupois) = 28.349 52 g."""
    assert abs(parse("1 oz", ("mass",)).interval.low - 28.34952) < 1e-5
'''


def test_the_recipe_of_a_check_value(copy: Path, child: Child) -> None:
    path = copy / "tests" / "test_made_up.py"
    path.write_text(NEW_CHECK, encoding="utf-8")
    run = ("-m", "pytest", "-n", "0", "-p", "no:cacheprovider", "tests/test_made_up.py")
    assert child(*run, root=copy).returncode == 0
    path.write_text(NEW_CHECK.replace("28.34952", "31.10348"), encoding="utf-8")
    assert child(*run, root=copy).returncode == 1, "a wrong value fails"
