"""Goods lists: encodings, delimiters, bad rows, order, hostile files, spreadsheet formulas, interrupted runs."""

from __future__ import annotations

import csv
import io
import json
import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.cli import main
from advisor.plan import InputError
from advisor.render.screen import plain_cell
from advisor.screening.lists import LONGEST_LINE, MOST_LINES, BadRow, ListError, ListReader, Row

ROOT = Path(__file__).resolve().parents[1]
COMMAND = [sys.executable, "-m", "advisor", "screen"]
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT)}


def read(data: bytes, **columns: str) -> ListReader:
    return ListReader(io.BytesIO(data), "list", columns)


def run(path: Path, capsys: pytest.CaptureFixture[str], *more: str, format_: str = "csv") -> tuple[int, str, str]:
    status = main(["screen", "--list", str(path), "--format", format_, *more])
    out, err = capsys.readouterr()
    return status, out, err


@pytest.fixture
def goods(tmp_path: Path) -> Path:
    path = tmp_path / "goods.csv"
    path.write_text(
        "shelf;Artikel;Zusammensetzung;Farbe;price\n"
        "A1;dress cloth;62,5 % Baumwolle, 37,5 % Polyester;weiß;12,50\n"
        "A2;sock yarn;75% wool, 25% nylon;navy;-5\n"
        "A3;mystery;satin;;=1+1\n",
        encoding="utf-8",
    )
    return path


# ------------------------------------------------------------------------------- reading

ENCODED = [
    ("utf-8", b""),
    ("utf-8", b"\xef\xbb\xbf"),
    ("utf-16-le", b"\xff\xfe"),
    ("utf-16-be", b"\xfe\xff"),
    ("cp1252", b""),
]


@pytest.mark.parametrize(("encoding", "mark"), ENCODED)
@pytest.mark.parametrize("delimiter", [";", ",", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_delimiters_and_line_ends(encoding: str, mark: bytes, delimiter: str, end: str) -> None:
    if end == "\r" and encoding.startswith("utf-16"):
        pytest.skip("old line ends are taken in byte encodings only")
    lines = [["matière", "prix"], ["100% laine vierge", "é"], ["80% coton", "œ"]]
    data = mark + (end.join(delimiter.join(cells) for cells in lines) + end).encode(encoding)
    reader = read(data)
    assert reader.delimiter == delimiter
    assert reader.roles == {"fibres": 0}
    assert [row.cells for row in reader if isinstance(row, Row)] == lines[1:]


HEADERS = (
    "fibres", "Fibre Content", "COMPOSITION", "material", "Zusammensetzung", "Matière", "composición", "composizione",
    "samenstelling", "skład surowcowy", "composição", "sammansättning", "sammensætning", "složení", "koostumus",
    "összetétel", "compoziție", "σύνθεση", "組成", "成分", "label_text",
)  # fmt: skip


@pytest.mark.parametrize("header", HEADERS)
def test_header_words_of_many_languages(header: str) -> None:
    assert read(f"no,{header}\n1,cotton\n".encode()).roles["fibres"] == 1


def test_the_plain_word_wins_over_a_synonym_and_a_named_column_over_both() -> None:
    data = b"material,fibres,other\nx,cotton,wool\n"
    assert read(data).roles["fibres"] == 1
    assert read(data, fibres="other").roles["fibres"] == 2
    with pytest.raises(ListError, match="has no column 'colour of moon'"):
        read(data, fibres="colour of moon")


def test_a_list_of_one_column_keeps_the_commas_of_its_labels() -> None:
    rows = [row.cells for row in read(b'fibres\n60% cotton, 40% polyester\n"wool; silk"\n') if isinstance(row, Row)]
    assert rows == [["60% cotton, 40% polyester"], ["wool; silk"]]


def test_quotes_over_lines_and_inside_cells() -> None:
    data = b'name,fibres\n5" tape,cotton\n"b, x",wool\n"two\nlines",silk\n"say ""hi""",linen\n\n,,\n'
    rows = list(read(data))
    assert [row.cells[0] for row in rows if isinstance(row, Row)] == ['5" tape', "b, x", "two\nlines", 'say "hi"']
    assert [row.line for row in rows] == [2, 3, 4, 6]  # empty rows are passed over


def test_a_quote_never_closed_costs_one_row_only() -> None:
    rows = list(read(b'name,fibres\na,"cotton\nb,wool\nc,silk\n'))
    assert rows[0] == BadRow(2, "", "a quote is opened and never closed", ["a", "cotton"])
    assert [row.cells[0] for row in rows[1:] if isinstance(row, Row)] == ["b", "c"]
    long = b'name,fibres\na,"cotton\n' + b"b,wool\n" * (3 * MOST_LINES)
    rows = list(read(long))
    assert sum(isinstance(row, Row) for row in rows) == 3 * MOST_LINES


BAD = [
    (b"name,fibres\na,cotton\nb,wo\0ol\nc,silk\n", 3, "2 (fibres)", "NUL"),
    (b"name,fibres\na,cotton\nb\nc,silk\n", 3, "2 (fibres)", "1 cells where the header has 2"),
    (b"name,fibres\na,cotton\nb,wool,x\nc,silk\n", 3, "3", "3 cells where the header has 2"),
    (b"name,fibres\na,cotton\nb," + b"w" * (LONGEST_LINE + 1) + b"\nc,silk\n", 3, "", "longer than"),
    (b"name,fibres\na,cotton\nb," + b"w" * (9 * LONGEST_LINE) + b"\nc,silk\n", 3, "", "longer than"),
    (b"name,fibres\na,cotton\nb,wo\rol\nc,silk\n", 3, "", "cannot be read as a row"),
]


@pytest.mark.parametrize(("data", "line", "column", "problem"), BAD)
def test_a_bad_row_is_told_by_line_and_column_and_passed(data: bytes, line: int, column: str, problem: str) -> None:
    rows = list(read(data))
    bad = [row for row in rows if isinstance(row, BadRow)]
    assert len(bad) == 1
    assert (bad[0].line, bad[0].column) == (line, column)
    assert problem in bad[0].problem
    assert [row.cells[0] for row in rows if isinstance(row, Row)] == ["a", "c"]


@given(st.binary(max_size=2000))
@settings(max_examples=200, deadline=None)
def test_any_bytes_are_rows_or_one_clear_error(data: bytes) -> None:
    try:
        rows = list(read(b"fibres;x\n" + data))
    except ListError:
        return
    for row in rows:
        assert isinstance(row, BadRow) or len(row.cells) == 2


@given(
    st.lists(
        st.lists(
            st.text(st.characters(blacklist_categories=["Cs", "Cc"], whitelist_characters="\n\t")),
            min_size=2,
            max_size=2,
        )
    )
)
@settings(max_examples=100, deadline=None)
def test_what_the_csv_module_wrote_is_read_back(rows: list[list[str]]) -> None:
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows([["name", "fibres"], *rows])
    got = [row.cells for row in read(stream.getvalue().encode()) if isinstance(row, Row)]
    many_lines = [row for row in rows if sum(cell.count("\n") for cell in row) >= MOST_LINES]
    if not many_lines:
        assert got == [row for row in rows if any(row)]


# ------------------------------------------------------------------------------- answers


def test_rows_come_out_in_order_as_they_came_with_five_columns_more(
    goods: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, err = run(goods, capsys)
    rows = list(csv.DictReader(io.StringIO(out), delimiter=";"))
    assert status == 3
    assert [row["shelf"] for row in rows] == ["A1", "A2", "A3"]
    assert list(rows[0])[5:] == ["answer", "dyeable_share", "best_dye_class", "why", "ask"]
    assert [row["answer"] for row in rows] == ["takes dye in part", "takes dye", "cannot tell"]
    assert [row["dyeable_share"] for row in rows] == ["62.5", "100", "0 to 100"]
    assert rows[1]["price"] == "-5"
    assert rows[0]["price"] == "12,50"
    assert rows[2]["price"] == "'=1+1"
    assert "3 items" in err


def test_json_lines_and_json_hold_the_same_items(goods: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, lines, _ = run(goods, capsys, format_="jsonl")
    _, whole, _ = run(goods, capsys, "--match", format_="json")
    items = [json.loads(line) for line in lines.splitlines()]
    data = json.loads(whole)
    assert items == data["items"]
    assert items[0]["name"] == "dress cloth"
    assert items[0]["other"] == {"shelf": "A1", "price": "12,50"}
    assert items[0]["dyeable_share"] == {"value": 62.5, "low": 62.5, "high": 62.5, "unit": "%"}
    assert data["match"]["alike"] is False


def test_html_and_terminal_show_the_list(goods: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, page, _ = run(goods, capsys, "--match", format_="html")
    assert page.count("<tr>") == 4
    assert "Will they match" in page
    _, shown, _ = run(goods, capsys, format_="terminal")
    assert "sock yarn" in shown
    assert max(map(len, shown.splitlines())) <= 80


def test_class_column_and_option_decide_for_which_dye(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "l.csv"
    path.write_text("fibres,dye class\ncotton,acid\ncotton,\ncotton,dirct\n", encoding="utf-8")
    _, out, err = run(path, capsys, "--dye-class", "direct")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [row["answer"] for row in rows] == ["stains only", "takes dye", "cannot tell"]
    assert "line 4, column 2 (dye class)" in err
    assert "did you mean 'direct'" in err


def test_a_label_that_cannot_be_true_is_told_and_keeps_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "l.csv"
    path.write_text("name,fibres\na,80% wool 40% nylon\nb,wool\nc,\n", encoding="utf-8")
    status, out, err = run(path, capsys)
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [row["answer"] for row in rows] == ["cannot tell", "takes dye", "cannot tell"]
    assert "line 2, column 2 (fibres)" in err
    assert "line 4" not in err  # no label is no fault of the list
    assert status == 3


def test_strict_stops_at_the_first_bad_row_and_leaves_no_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, output = tmp_path / "l.csv", tmp_path / "out.csv"
    path.write_text("name,fibres\na,wool\nb\nc,silk\n", encoding="utf-8")
    status, _, err = run(path, capsys, "--strict", "--output", str(output))
    assert status == 2
    assert "line 3" in err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["l.csv"]
    status, _, err = run(path, capsys, "--output", str(output))
    assert status == 3
    assert "line 3" in err
    assert len(output.read_text(encoding="utf-8").splitlines()) == 4


OPEN_QUOTE = '"name","fibres"\n"A","100% wool"\n"B","100% cotton\n"C","100% silk"\n'
TORN = [
    (OPEN_QUOTE, ["A", "B", "C"], {"B"}),
    ('"name","fibres"\n"A,100% wool\n"B","100% silk"\n"C","100% silk"\n', ["A", "B", "C"], {"A"}),
    ("name,fibres\nA,100% wool\nlining,65% PES, 35% CO\nC,100% silk\n", ["A", "lining", "C"], {"lining"}),
    ("name,fibres\nA,100% wool\nB\nC,100% silk\n", ["A", "B", "C"], {"B"}),
    ("name,fibres\nB\nA,100% wool\n", ["B", "A"], {"B"}),
    ("name,fibres\nA,100% wool\n" + "w" * (LONGEST_LINE + 1) + "\nC,100% silk\n", ["A", "line 3", "C"], {"line 3"}),
]


@pytest.mark.parametrize(("text", "names", "unsure"), TORN)
@pytest.mark.parametrize("format_", ["csv", "jsonl"])
def test_a_row_that_cannot_be_taken_apart_stays_in_the_answers_as_cannot_tell(
    text: str, names: list[str], unsure: set[str], format_: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "l.csv"
    path.write_text(text, encoding="utf-8")
    status, out, err = run(path, capsys, "--format", format_)
    if format_ == "csv":
        rows = list(csv.DictReader(io.StringIO(out)))
        assert not any(None in row for row in rows)
    else:
        rows = [json.loads(line) for line in out.splitlines()]
    told = [row["name"] or "line 3" for row in rows]
    assert told == names
    assert {name for name, row in zip(told, rows, strict=True) if row["answer"] == "cannot tell"} == unsure
    assert all("cannot be read" in row["why"] for row in rows if row["answer"] == "cannot tell")
    assert status == 3
    assert err.count("l.csv: line") == 1


@pytest.mark.parametrize("bad", [1, 499, 500, 700])
def test_a_list_of_rows_that_cannot_be_taken_apart_is_bad_input(
    bad: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, output = tmp_path / "l.csv", tmp_path / "out.csv"
    path.write_text("name,fibres\n" + "b\n" * bad, encoding="utf-8")
    assert run(path, capsys, "--output", str(output))[0] == 2
    assert not output.exists()


@pytest.mark.parametrize("first", ["sep=;", "SEP=;", '"sep=;"', "sep=|"])
def test_a_first_line_that_names_the_delimiter_is_taken_at_its_word(first: str) -> None:
    mark = first.strip('"')[-1]
    reader = read(f"{first}\r\nname{mark}fibres\r\nA, b{mark}65% PES, 35% CO\r\n".encode())
    assert reader.delimiter == mark
    assert [row.cells for row in reader if isinstance(row, Row)] == [["A, b", "65% PES, 35% CO"]]


def test_a_column_may_be_called_sep() -> None:
    assert read(b"sep=x,fibres\na,wool\n").header == ["sep=x", "fibres"]


def test_an_existing_file_is_replaced_only_when_told(
    goods: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    output = tmp_path / "out.csv"
    output.write_text("mine", encoding="utf-8")
    assert run(goods, capsys, "--output", str(output))[0] == 2
    assert output.read_text(encoding="utf-8") == "mine"
    assert run(goods, capsys, "--output", str(output), "--force")[0] == 3
    assert output.read_text(encoding="utf-8").startswith("shelf")


def test_added_columns_never_take_the_name_of_one_that_is_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "l.csv"
    path.write_text("fibres,answer\nwool,mine\n", encoding="utf-8")
    _, out, _ = run(path, capsys)
    assert out.splitlines()[0] == "fibres,answer,answer (screen),dyeable_share,best_dye_class,why,ask"


# ------------------------------------------------------------------------------- formulas

# Characters that make a spreadsheet run a cell: = + - @, tab, carriage return (common practice, no source).
FORMULAS = [
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    " =1+1",
    '"=1+1"',
    "=cmd|' /C calc'!A0",
    "＝1+1",
    "\n=1",
    "-a",
]
PLAIN = ["-5", "+3.2", "-12,50", "+4 %", "12", "a=b", "60% cotton", "'=1", "", "5-10", "\u22125"]


@pytest.mark.parametrize("cell", FORMULAS)
def test_formulas_get_an_apostrophe_in_front(cell: str) -> None:
    assert plain_cell(cell) == "'" + cell
    assert plain_cell(plain_cell(cell)) == "'" + cell


@pytest.mark.parametrize("cell", PLAIN)
def test_plain_text_and_numbers_stay(cell: str) -> None:
    assert plain_cell(cell) == cell


@given(st.text(max_size=30))
def test_no_cell_begins_like_a_formula_unless_it_is_a_number(cell: str) -> None:
    got = plain_cell(cell)
    if got[:1] in ("=", "@", "\t", "\r"):
        pytest.fail(f"{cell!r} became {got!r}")
    if got[:1] in ("+", "-"):
        float(got.strip().rstrip("%").strip().replace(",", ".").replace(".", "", got.count(".") + got.count(",") - 1))


def test_formulas_in_header_name_label_and_class_are_neutralised(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "l.csv"
    path.write_text('name,fibres,dye_class,=head\n=A1,"=HYPERLINK(""x"") cotton",@x,+x\n', encoding="utf-8")
    _, out, _ = run(path, capsys)
    for row in csv.reader(io.StringIO(out)):
        assert not [cell for cell in row if cell[:1] in "=+-@\t\r" and cell]


def test_columns_with_equal_headers_are_all_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "l.csv"
    path.write_text("name,fibres,note,note,,,note (2)\na,cotton,1,2,3,4,5\n", encoding="utf-8")
    _, out, _ = run(path, capsys, "--format", "jsonl")
    assert json.loads(out)["other"] == {"note": "1", "note (3)": "2", "": "3", " (2)": "4", "note (2)": "5"}
    _, out, _ = run(path, capsys, "--format", "csv")
    assert [row[:7] for row in csv.reader(io.StringIO(out))] == [
        row.split(",") for row in path.read_text().splitlines()
    ]


def test_a_named_column_must_be_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "l.csv"
    path.write_text("name,fibres,note,note\na,cotton,red,blue\n", encoding="utf-8")
    status, out, err = run(path, capsys, "--column", "colour=note")
    assert (status, out) == (2, "")
    assert "has 2 columns 'note', so it is not clear which is the colour" in err


# ------------------------------------------------------------------------------- hostile files

HOSTILE = [
    (b"", "the list is empty"),
    (b"fibres\n", "no rows"),
    (b"name,price\na,2\n", "has no column of label text"),
    (b"fibres,name,Fibres\ncotton,a,wool\n", "has 2 columns 'fibres', so it is not clear which is the fibres"),
    (b"PK\x03\x04" + bytes(range(256)), "workbook or archive"),
    (bytes(range(256)) * 40, "is not text"),
    (b"fibres,x\n" + bytes(2000), "is not text"),
    (b"\xff\xfe\x00\x00f\x00\x00\x00", "UTF-32"),
    (b"fibres,x\ncot\0ton,1\n", "line 2, column 1 (fibres): holds a NUL byte"),
    (b"fi\0bres,x\ncotton,1\n", "line 1: holds a NUL byte"),
    (b"x" * (LONGEST_LINE * 9), "line 1: the line is longer than"),
]


@pytest.mark.parametrize(("data", "wanted"), HOSTILE)
def test_a_list_that_is_none_is_one_clear_line_and_status_2(
    data: bytes, wanted: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "l.csv"
    path.write_bytes(data)
    status, out, err = run(path, capsys)
    assert status == 2
    assert wanted in err
    assert len(err.splitlines()) == 1
    assert out == ""


def test_a_missing_file_and_a_folder_are_one_clear_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        status, _, err = run(path, capsys)
        assert status == 2
        assert len(err.splitlines()) == 1
    assert main(["screen"]) == 2
    assert main(["screen", "cotton", "--list", "x"]) == 2
    assert main(["screen", "--list", "x", "--column", "colr=y"]) == 2


CAPPED = """
import re, runpy, sys
sys.argv = ["advisor", "screen", "--list", "-", "--format", "csv"]
try:
    runpy.run_module("advisor", run_name="__main__")
finally:
    # the peak since this program was started; what getrusage says also counts the test's own process before that
    peak = re.search(r"VmHWM:\\s+(\\d+) kB", open("/proc/self/status").read())
    print(int(peak[1]) // 1024, file=sys.stderr)
"""


@pytest.mark.parametrize("head", [b"", b"fibres,x\n"])
def test_an_endless_line_costs_no_memory(head: bytes) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", CAPPED],
        env=ENVIRONMENT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdin is not None
    block = b"a" * 1_000_000
    process.stdin.write(head)
    for _ in range(200):  # 200 MB here; a line of 1 GB behaves the same
        try:
            process.stdin.write(block)
        except BrokenPipeError:  # a header that never ends is given up at once
            break
    _, err = process.communicate(timeout=60)
    *said, memory = err.decode().splitlines()
    assert process.returncode == 2
    assert len(said) == 1
    assert "longer than" in said[0]
    assert int(memory) < 150


# ------------------------------------------------------------------------------- streaming


@pytest.fixture(scope="module")
def long_list(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("lists") / "long.csv"
    with path.open("w", encoding="utf-8") as stream:
        stream.write("name,fibres\n")
        for n in range(30_000):
            stream.write(f"cloth {n},{n % 99 + 1}% cotton {99 - n % 99}% polyester\n")
    return path


def test_a_long_list_keeps_its_order_and_counts(
    long_list: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    output = tmp_path / "out.csv"
    status, _, err = run(long_list, capsys, "--dye-class", "direct", "--output", str(output))
    with output.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert status == 0
    assert [row["name"] for row in rows] == [f"cloth {n}" for n in range(30_000)]
    assert [float(row["dyeable_share"]) for row in rows[:99]] == list(range(1, 100))
    assert err.startswith("30,000 items")


def test_an_interrupted_run_leaves_no_file(long_list: Path, tmp_path: Path) -> None:
    output = tmp_path / "out.csv"
    # standard input stays open, so that the run is in the middle of the list when it is stopped
    process = subprocess.Popen(
        [*COMMAND, "--list", "-", "--format", "csv", "--output", str(output)],
        env=ENVIRONMENT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # ignored where tests run in the background
    )  # fmt: skip
    assert process.stdin is not None
    process.stdin.write(long_list.read_bytes())
    process.stdin.flush()
    for _ in range(300):
        if list(tmp_path.iterdir()):
            break
        time.sleep(0.1)
    assert [path.name.startswith(".advisor-") for path in tmp_path.iterdir()] == [True]
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=30)
    assert process.returncode == 2
    assert err.decode().splitlines() == ["advisor: stopped"]
    assert list(tmp_path.iterdir()) == []


def test_a_closed_pipe_ends_quietly(long_list: Path) -> None:
    process = subprocess.Popen(
        [*COMMAND, "--list", str(long_list), "--format", "jsonl"],
        env=ENVIRONMENT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    process.stdout.readline()
    process.stdout.close()
    assert process.stderr is not None
    err = process.stderr.read()
    assert process.wait(timeout=60) == 2
    assert b"Traceback" not in err


def test_a_progress_bar_on_a_terminal_and_none_when_piped(long_list: Path, tmp_path: Path) -> None:
    command = [*COMMAND, "--list", str(long_list), "--format", "csv", "--output"]
    piped = subprocess.run(
        [*command, str(tmp_path / "a")], env=ENVIRONMENT, capture_output=True, text=True, timeout=60, check=True
    )
    assert "Screening" not in piped.stderr
    ours, theirs = pty.openpty()
    process = subprocess.Popen([*command, str(tmp_path / "b")], env={**ENVIRONMENT, "TERM": "xterm"}, stderr=theirs)
    os.close(theirs)
    shown = b""
    while True:
        try:
            block = os.read(ours, 65536)
        except OSError:  # Linux says so when the other side is closed
            break
        if not block:
            break
        shown += block
    os.close(ours)
    assert process.wait(timeout=60) == 0
    assert b"Screening" in shown
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()


def test_input_errors_are_input_errors() -> None:
    assert issubclass(ListError, InputError)


def test_a_list_of_one_row_is_told_at_the_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "one.csv").write_text("name,fibres\nshirt,100% cotton\n", encoding="utf-8")
    assert main(["screen", "--list", str(tmp_path / "one.csv")]) == 0
    out = capsys.readouterr().out
    assert "shirt" in out
    assert "takes dye" in out.casefold()
