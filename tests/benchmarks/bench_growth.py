"""The table of docs/performance.md: medians and ratios, measured in one run, in milliseconds of processor time.

Run: python tests/benchmarks/bench_growth.py [--write] [--quick]. `--write` puts the table into docs/performance.md in
the place of the one that is there. Processor time is hardly touched by other work on the machine; the load is
printed all the same, and a machine with more load than cores gives numbers that are somewhat high.
"""

from __future__ import annotations

import os
import random
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "benchmarks")]

from bench_check import COMPILED, YARDSTICK  # noqa: E402
from bench_screen import CSV_ALONE, SCREEN, timed, write_list  # noqa: E402
from making import made_fact, made_rules, nothing  # noqa: E402

from advisor.cases import base_plan  # noqa: E402
from advisor.checking import Checker, make_checker  # noqa: E402
from advisor.compiler import compile_rules  # noqa: E402
from advisor.engine import Engine  # noqa: E402
from advisor.evaluator import Evaluator  # noqa: E402
from advisor.fact import Fact, Firing  # noqa: E402
from advisor.facts import build_facts  # noqa: E402
from advisor.findings import Reader  # noqa: E402
from advisor.knowledge import knowledge  # noqa: E402
from advisor.measures import work_out  # noqa: E402
from advisor.plan import Plan, read_plan  # noqa: E402
from advisor.plan_values import MOST_ENTRIES  # noqa: E402
from advisor.rulebook import Rule  # noqa: E402

PAGE = ROOT / "docs" / "performance.md"
BLOCK = re.compile(r"(<!-- measured -->\n).*?(<!-- end of measured -->)", re.DOTALL)
PLANS = ("acid-on-nylon", "reactive-on-cotton", "acid-on-nylon-blend", "mordant-on-wool", "vat-on-cotton")
RULES = (100, 200, 400, 800)
ROWS = (1_000, 10_000, 100_000)
COMMANDS = (
    ("check", str(ROOT / "examples" / "act-two-ribbon.toml")),
    ("screen", "80% nylon, 20% elastane"),
    ("handout", str(ROOT / "examples" / "sessions" / "wardrobe-evening.toml")),
)
Row = tuple[str, str, str]
Runs = Callable[[Sequence[Fact], Callable[[list[Firing]], Sequence[Fact]]], object]


def median_ms(task: Callable[[], object], rounds: int) -> float:
    """The median processor time of one call, in ms, after two calls to warm up."""
    times = []
    for turn in range(rounds + 2):
        begin = time.process_time()
        task()
        if turn >= 2:
            times.append((time.process_time() - begin) * 1000)
    return statistics.median(times)


def process_ms(*arguments: str) -> float:
    """Processor time of a Python of its own, in ms."""
    process = subprocess.Popen([sys.executable, *arguments], cwd=ROOT, stdout=subprocess.DEVNULL, env=COMPILED)
    _, _, usage = os.wait4(process.pid, 0)
    process.returncode = 0
    return (usage.ru_utime + usage.ru_stime) * 1000


def checks(rounds: int) -> Iterator[Row]:
    """One check in a warm process beside the same rules alone, in plain Python and in CLIPS."""
    checker, k = make_checker(), knowledge()
    rules = checker.rulebook.rules
    engine, evaluator, clips = Engine(compile_rules(rules)), Evaluator(rules), _clips(rules)
    sums = dict.fromkeys(("check", "evaluator", "engine", "clips"), 0.0)
    for name in PLANS:
        plan = read_plan(base_plan(name))
        facts = build_facts(work_out(plan, k), k)
        conclude = Reader(checker.rulebook, k, facts).conclude

        def run(runs: Runs, facts: Sequence[Fact] = facts, conclude: Callable[..., Sequence[Fact]] = conclude) -> float:
            return median_ms(lambda: runs(facts, conclude), rounds)

        sums["check"] += median_ms(partial(checker.check, plan), rounds)
        sums["evaluator"] += run(evaluator.run)
        sums["engine"] += run(engine.run)
        if clips is not None:
            sums["clips"] += run(clips)
    mean = {name: total / len(PLANS) for name, total in sums.items()}
    yield (f"one check, warm, mean of {len(PLANS)} plans, {len(rules)} rules", _ms(mean["check"]), "1")
    yield ("... of it the rules in durable-rules", _ms(mean["engine"]), _ratio(mean["engine"], mean["check"]))
    yield ("... of it the rules in plain Python", _ms(mean["evaluator"]), _ratio(mean["evaluator"], mean["check"]))
    yield (
        "check against the rules in plain Python alone",
        _ms(mean["evaluator"]),
        f"{mean['check'] / mean['evaluator']:.1f} times",
    )
    if clips is not None:
        yield ("the same rules in CLIPS", _ms(mean["clips"]), _ratio(mean["clips"], mean["check"]))
    else:
        yield ("the same rules in CLIPS", "not installed", "")


def _clips(rules: Sequence[Rule]) -> Runs | None:
    try:
        from clips_rules import Clips
    except ImportError:
        return None
    return Clips(rules).run


def starts(rounds: int) -> Iterator[Row]:
    """Whole commands beside the bare loading of the libraries, turn by turn."""
    bare, ours = [], {command: [] for command in COMMANDS}  # type: ignore[var-annotated]
    for command in COMMANDS:
        process_ms("-m", "advisor", *command)  # so that tables are kept ready-made
    for _ in range(rounds):
        bare.append(process_ms("-c", YARDSTICK))
        for command in COMMANDS:
            ours[command].append(process_ms("-m", "advisor", *command))
    libraries = statistics.median(bare)
    yield ("loading durable-rules, pydantic, pint and rich, and no more", _ms(libraries), "1")
    for command in COMMANDS:
        taken = statistics.median(ours[command])
        yield (f"whole command `advisor {command[0]}`", _ms(taken), f"{taken / libraries:.2f} times")


def lists(rows: Sequence[int], distinct: int) -> Iterator[Row]:
    """Screening beside the csv module alone, for more and more rows."""
    with tempfile.TemporaryDirectory() as folder:
        before = 0.0
        for count in rows:
            source = Path(folder) / "list.csv"
            write_list(source, count, min(distinct, count))
            _, bare, _ = timed(CSV_ALONE, str(source))
            _, taken, memory = timed(SCREEN, str(source), "csv", str(Path(folder) / "out"))
            more = f"; {taken / before:.1f} times the rows before" if before else ""
            before = taken
            yield (
                f"screening {count:,} rows to CSV, {memory:.0f} MB",
                _ms(taken * 1000),
                f"{taken / bare:.1f} times csv alone{more}",
            )


POOLS = {
    "part": ["take in ['none', 'stain']", "share > 0", "temperature > heat_limit", "kind == 'protein'"],
    "goods": ["dry_mass > 1", "colour == 'dyed'", "blend != 'yes'", "lots > 1"],
    "vessel": ["fill > 1", "condition == 'sound'", "lid == 'no'", "capacity > 1"],
    "dose": ["share_of_maximum > 1", "share_owf > 0", "share_of_maximum <= 1"],
    "bath": ["water > 1", "stirring == 'yes'", "shade == 'even'", "attended == 'no'"],
}


def synthetic(count: int, folder: Path) -> tuple[Rule, ...]:
    """So many rules of one to three conditions on one or two facts."""
    chance = random.Random(7)
    whens = []
    for number in range(count):
        types = [list(POOLS)[number % len(POOLS)], *chance.sample(list(POOLS), chance.randint(0, 1))]
        whens.append({one: chance.sample(POOLS[one], chance.randint(1, 2)) for one in dict.fromkeys(types)})
    return made_rules(folder, whens)


def rules_grow(rounds: int) -> Iterator[Row]:
    """Compiling and running more and more rules over the same facts."""
    facts = [made_fact(name, f"{name}.{n}") for name in POOLS for n in range(2)]
    before = 0.0
    for count in RULES:
        with tempfile.TemporaryDirectory() as folder:
            rules = synthetic(count, Path(folder))
        begin = time.process_time()
        engine = Engine(compile_rules(rules))
        made = (time.process_time() - begin) * 1000
        evaluator = Evaluator(rules)
        both = median_ms(partial(engine.run, facts, nothing), rounds)
        both += median_ms(partial(evaluator.run, facts, nothing), rounds)
        engine.close()
        more = f"; {both / before:.1f} times the rules before" if before else ""
        before = both
        yield (f"{count} made-up rules, both ways, {len(facts)} facts", _ms(both), f"made ready in {made:.0f} ms{more}")


def facts_grow(checker: Checker, rounds: int) -> Iterator[Row]:
    """A plan with more and more goods, dyes and assists."""
    before = 0.0
    k = knowledge()
    for count in (1, 5, 25, MOST_ENTRIES):
        plan = large_plan(count)
        facts = len(checker.fire(build_facts(work_out(plan, k), k))[0])
        taken = median_ms(partial(checker.check, plan), max(3, rounds // (count + 1)))
        more = f"; {taken / before:.1f} times the one before" if before else ""
        before = taken
        yield (f"a plan of {count} goods, {count} dyes, {count} assists", _ms(taken), f"{facts} facts{more}")


def large_plan(count: int) -> Plan:
    """A plan with so many entries of each kind."""
    data = base_plan("acid-on-nylon")
    for part in ("goods", "dyes", "assists"):
        data[part] = [
            {**data[part][0], "name": f"{part} {n}"} if part != "assists" else data[part][0] for n in range(count)
        ]
    return read_plan(data)


def _ms(value: float) -> str:
    return f"{value:.2f}" if value < 10 else f"{value:,.0f}"


def _ratio(part: float, whole: float) -> str:
    return f"{part / whole:.0%} of the check"


def table(quick: bool) -> str:
    """The table in Markdown, with the machine it was measured on."""
    rounds = 10 if quick else 60
    load = os.getloadavg()[0]
    rows: list[Row] = [
        *checks(rounds),
        *starts(3 if quick else 15),
        *lists(ROWS[:2] if quick else ROWS, 2_000),
        *rules_grow(rounds),
        *facts_grow(make_checker(), rounds),
    ]
    heads = (
        f"Python {sys.version.split()[0]}, {os.cpu_count()} cores, load of the machine at the start {load:.1f}, at the end"
        f" {os.getloadavg()[0]:.1f}. Times are medians, in ms of processor time.\n\n"
        "| what | ms | ratio |\n| --- | ---: | --- |\n"
    )
    return heads + "".join(f"| {what} | {ms} | {ratio} |\n" for what, ms, ratio in rows)


def main() -> None:
    """Measure, print, and write when asked."""
    measured = table("--quick" in sys.argv)
    print(measured)
    if "--write" in sys.argv:
        text = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(BLOCK.sub(lambda found: found[1] + measured + found[2], text), encoding="utf-8")


if __name__ == "__main__":
    main()
