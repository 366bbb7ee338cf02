"""How long a check takes: medians, printed and not asserted. Run: python tests/benchmarks/bench_check.py [rounds]"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from advisor.cases import base_plan  # noqa: E402
from advisor.checking import make_checker  # noqa: E402
from advisor.compiler import compile_rules  # noqa: E402
from advisor.engine import Engine  # noqa: E402
from advisor.evaluator import Evaluator  # noqa: E402
from advisor.facts import build_facts  # noqa: E402
from advisor.findings import Reader  # noqa: E402
from advisor.knowledge import knowledge  # noqa: E402
from advisor.measures import work_out  # noqa: E402
from advisor.plan import load_plan, read_plan  # noqa: E402
from advisor.rulebook import rulebook  # noqa: E402

PLANS = ("acid-on-nylon", "reactive-on-cotton", "acid-on-nylon-blend", "mordant-on-wool", "vat-on-cotton")
EXAMPLES = ("first-try-lace", "unlabelled-trims")
# what any program on the same libraries has to load
# modules compiled once, as an installed package has them, whatever this checkout's environment says
COMPILED = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"} | {
    "PYTHONPYCACHEPREFIX": str(Path(tempfile.gettempdir()) / "advisor-bench-pyc")
}
YARDSTICK = "import durable.engine, pydantic, pint, rich.console; pint.UnitRegistry()"


def median_ms(task: Callable[[], object], rounds: int) -> float:
    """The median time of one call, in ms, after two calls to warm up."""
    times = []
    for turn in range(rounds + 2):
        begin = time.perf_counter()
        task()
        if turn >= 2:
            times.append((time.perf_counter() - begin) * 1000)
    return statistics.median(times)


def run(*arguments: str) -> Callable[[], object]:
    """A child process of this Python in the checkout."""

    def start() -> object:
        return subprocess.run([sys.executable, *arguments], cwd=ROOT, capture_output=True, check=False, env=COMPILED)

    return start


def warm_checks(rounds: int) -> None:
    """One check in a warm process, and where its time goes."""
    checker, k, rules = make_checker(), knowledge(), rulebook()
    engine, evaluator = Engine(compile_rules(rules.rules)), Evaluator(rules.rules)
    print(f"one check in a warm process, {len(rules.rules)} rules, median of {rounds}, in ms")
    print(f"  {'plan':24}{'check':>8}{'read':>8}{'measures':>10}{'facts':>8}{'engine':>8}{'evaluator':>11}")
    bases = [(name, base_plan(name)) for name in PLANS]
    examples = [(name, load_plan(ROOT / "examples" / f"{name}.toml")) for name in EXAMPLES]
    for name, data in [*bases, *examples]:
        plan = read_plan(data)
        work = work_out(plan, k)
        facts = build_facts(work, k)
        hazards = Reader(rules, k, facts).conclude

        def conclude(firings: list, hazards: Callable[..., list] = hazards) -> list:  # type: ignore[type-arg]
            return hazards(firings)

        times = [
            median_ms(lambda plan=plan: checker.check(plan), rounds),
            median_ms(lambda data=data: read_plan(data), rounds),
            median_ms(lambda plan=plan: work_out(plan, k), rounds),
            median_ms(lambda work=work: build_facts(work, k), rounds),
            median_ms(lambda facts=facts, conclude=conclude: engine.run(facts, conclude), rounds),
            median_ms(lambda facts=facts, conclude=conclude: evaluator.run(facts, conclude), rounds),
        ]
        widths = (8, 8, 10, 8, 8, 11)
        print(f"  {name:24}" + "".join(f"{value:>{width}.2f}" for value, width in zip(times, widths, strict=True)))


def command_start(rounds: int) -> None:
    """The whole command beside the bare loading of its libraries, turn by turn, so that both meet the same machine."""
    command = run("-m", "advisor", "check", str(ROOT / "examples" / "act-two-ribbon.toml"))
    yardstick = run("-c", YARDSTICK)
    ours, theirs = [], []
    for _ in range(rounds):
        ours.append(median_ms(command, 1))
        theirs.append(median_ms(yardstick, 1))
    mine, other = statistics.median(ours), statistics.median(theirs)
    print(f"whole command, median of {rounds}: {mine:.0f} ms")
    print(f"loading the libraries alone: {other:.0f} ms; the command takes {mine / other:.2f} times that")


def main() -> None:
    """Everything."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    load = os.getloadavg()[0]
    print(f"load of the machine (1 minute): {load:.1f} on {os.cpu_count()} cores; more load than cores: too slow")
    warm_checks(rounds)
    command_start(max(3, rounds // 5))


if __name__ == "__main__":
    main()
