"""Time and memory of screening a long list, beside reading the same file with the csv module alone.

Rows a second and ratios are of processor time, which other work on the machine does not change; the clock is
printed beside it.

Run by hand: python tests/benchmarks/bench_screen.py [rows] [distinct labels]. Prints rows a second, the ratio to
the bare csv module, the cost of ten times the rows, and the largest resident memory of each run. Each run is a
process of its own, start-up included. Or: pytest -m benchmark tests/benchmarks/bench_screen.py.
"""

from __future__ import annotations

import csv
import itertools
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FIBRES = (
    "cotton",
    "polyester",
    "nylon",
    "wool",
    "viscose",
    "acrylic",
    "silk",
    "linen",
    "Baumwolle",
    "laine",
    "seda",
    "poliéster",
)
CSV_ALONE = """
import csv, sys
with open(sys.argv[1], encoding="utf-8", newline="") as stream:
    print(sum(len(row) for row in csv.reader(stream)))
"""
SCREEN = """
import sys
from advisor.cli import main
status = main(["screen", "--list", sys.argv[1], "--format", sys.argv[2], "--output", sys.argv[3], "--force"])
assert status in (0, 3), status
"""


def write_list(path: Path, rows: int, distinct: int) -> None:
    """A list of invented goods: `rows` rows with `distinct` different labels."""
    pairs = list(itertools.permutations(FIBRES, 2))
    labels = []
    for n in range(distinct):
        (first, second), share = pairs[n % len(pairs)], 5 + n // len(pairs) % 91
        labels.append(f"{share}% {first}, {100 - share}% {second}")
    assert len(set(labels)) == distinct
    with path.open("w", encoding="utf-8", newline="") as stream:
        out = csv.writer(stream)
        out.writerow(["name", "fibres", "colour", "price"])
        for n in range(rows):
            out.writerow(
                [f"costume cloth {n}", labels[n * 7919 % distinct], ("white", "blue")[n % 11 == 0], f"{n % 90},50"]
            )


def timed(code: str, *arguments: str) -> tuple[float, float, float]:
    """Seconds by the clock, seconds of processor, and largest resident memory (MB) of a process that runs the code."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    start = time.perf_counter()
    command = [sys.executable, "-c", code, *arguments]
    process = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    assert process.stderr is not None
    said = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, said.decode()
    return time.perf_counter() - start, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def run(rows: int, distinct: int, formats: tuple[str, ...] = ("csv", "jsonl")) -> None:
    """Print the comparison for a list of this size and one of ten times the rows."""
    with tempfile.TemporaryDirectory() as folder:
        seconds: dict[tuple[int, str], float] = {}
        for count in (rows, 10 * rows):
            source = Path(folder) / f"{count}.csv"
            write_list(source, count, distinct)
            _, bare, _ = timed(CSV_ALONE, str(source))
            for format_ in formats if count == rows else formats[:1]:
                clock, taken, memory = timed(SCREEN, str(source), format_, str(Path(folder) / "out"))
                seconds[count, format_] = taken
                print(
                    f"{count:>9,} rows, {distinct:,} labels, {format_:5}: {clock:6.2f} s by the clock, "
                    f"{taken:6.2f} s of processor, {count / taken:>7,.0f} rows/s, {memory:4.0f} MB; "
                    f"csv module alone {bare:5.2f} s, ratio {taken / bare:4.1f}"
                )
        growth = seconds[10 * rows, formats[0]] / seconds[rows, formats[0]]
        print(f"ten times the rows cost {growth:.1f} times the time")


@pytest.mark.benchmark
def test_print_timings() -> None:
    run(100_000, 2_000)


if __name__ == "__main__":
    run(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000, int(sys.argv[2]) if len(sys.argv) > 2 else 2_000)
