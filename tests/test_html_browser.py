"""The pages in a real browser: headless Chromium, its PDF on A4 and Letter, 360 px width, axe-core, no request.

Skipped, in so many words, where Chromium, poppler's tools or axe-core are missing. `.ci/run` installs them and sets
AXE_CORE to axe.min.js. SCREENSHOTS names a folder for pictures and PDFs to look at.
"""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from advisor.checking import Checker
from advisor.handouts import Handout, make_handout
from advisor.plan import load_plan
from advisor.render.html import as_html
from advisor.render.report import report_page
from advisor.session import load_session

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
SESSIONS = sorted((EXAMPLES / "sessions").glob("*.toml"))
CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
AXE = os.environ.get("AXE_CORE", "")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--disable-dev-shm-usage", "--hide-scrollbars",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)  # fmt: skip
SIZES = {"A4": (595, 842), "letter": (612, 792)}  # points, rounded

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here: apt-get install chromium")
needs_poppler = pytest.mark.skipif(
    not (shutil.which("pdfinfo") and shutil.which("pdftotext")),
    reason="no poppler-utils here: apt-get install poppler-utils",
)
needs_axe = pytest.mark.skipif(
    not Path(AXE).is_file(), reason="AXE_CORE does not name axe.min.js: npm install axe-core"
)


def browse(folder: Path, page: Path, *flags: str) -> str:
    """Run Chromium on a page with an empty profile; its standard output."""
    assert CHROMIUM is not None
    profile = folder / "profile"
    shutil.rmtree(profile, ignore_errors=True)
    done = subprocess.run(
        [CHROMIUM, *FLAGS, f"--user-data-dir={profile}", *flags, page.as_uri()],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    shutil.rmtree(profile, ignore_errors=True)
    return done.stdout


def keep(file: Path, name: str) -> None:
    """Copy a picture or PDF to the folder that SCREENSHOTS names, for eyes."""
    if folder := os.environ.get("SCREENSHOTS"):
        Path(folder).mkdir(parents=True, exist_ok=True)
        shutil.copy(file, Path(folder) / re.sub(r"[^\w.-]+", "-", name))


def written(folder: Path, text: str, name: str = "page.html") -> Path:
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


def without_policy(text: str) -> str:
    """The page without its content security policy, for a test's own script or style to run in it."""
    changed = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
    assert changed != text
    return changed


@pytest.fixture(scope="module", params=SESSIONS, ids=lambda path: path.stem)
def handout(request: pytest.FixtureRequest, checker: Checker) -> Handout:
    return make_handout(load_session(request.param), checker)


@pytest.fixture(scope="module", params=["handout", "large print", "german", "check"])
def page(request: pytest.FixtureRequest, checker: Checker) -> Iterator[str]:
    """One page of each make, the one that is not ready among them."""
    session = load_session(EXAMPLES / "sessions" / "circle-with-children.toml")
    match request.param:
        case "handout":
            yield make_handout(session, checker).html()
        case "large print":
            yield make_handout(session, checker).html(large_print=True)
        case "german":
            yield make_handout(session.model_copy(update={"language": "de"}), checker).html()
        case _:
            plan = load_plan(EXAMPLES / "first-try-lace.toml")
            yield as_html(report_page(checker.check(plan, remedies=True), plan))


def test_a_screenshot_shows_the_page(handout: Handout, tmp_path: Path) -> None:
    picture = tmp_path / "shot.png"
    browse(tmp_path, written(tmp_path, handout.html()), "--window-size=900,3000", f"--screenshot={picture}")
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert picture.stat().st_size > 100_000  # an empty page of this size packs to a few kilobytes
    keep(picture, f"{handout.session.title}.png")


@needs_poppler
@pytest.mark.parametrize("size", SIZES)
def test_it_prints_on_paper(handout: Handout, size: str, tmp_path: Path) -> None:
    text = without_policy(handout.html()).replace("</head>", f"<style>@page {{ size: {size}; }}</style></head>")
    pdf = tmp_path / "page.pdf"
    browse(tmp_path, written(tmp_path, text), "--no-pdf-header-footer", f"--print-to-pdf={pdf}")
    keep(pdf, f"{handout.session.title}-{size}.pdf")
    told = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
    width, height = (round(float(number)) for number in re.findall(r"Page size:\s+([\d.]+) x ([\d.]+)", told)[0])
    assert (width, height) == SIZES[size]
    pages = pages_of(pdf)
    stations = len(handout.report.stations)
    assert 8 <= len(pages) <= 12 + 4 * stations
    assert all(len(sheet.split()) > 8 for sheet in pages)  # no empty sheets
    running = "NOT READY: no clearance to hold this session"
    for sheet in pages:
        assert (running in " ".join(sheet.split())) == (not handout.report.ready)
    # the supervisor's sheet tells what people need: it can be taken out without taking anything else along
    first, after = (
        next(number for number, sheet in enumerate(pages) if title in sheet)
        for title in ("For supervisors only.", "Sources and where to ask")
    )
    assert first < after
    assert " ".join(pages[first].split()).replace(running, "").strip().startswith("Supervisor's sheet")
    assert " ".join(pages[after].split()).replace(running, "").strip().startswith("Sources and where to ask")
    if not handout.report.ready:
        assert "NOT READY" in pages[0]
        assert "Must be put right first" in pages[0]
    whole = " ".join(" ".join(pages).split())
    assert handout.place.emergency in whole


@needs_poppler
def test_no_row_of_a_table_is_cut(handout: Handout, tmp_path: Path) -> None:
    """Each row of the tables of quantities stands whole on one sheet."""
    pdf = tmp_path / "page.pdf"
    browse(tmp_path, written(tmp_path, handout.html()), "--no-pdf-header-footer", f"--print-to-pdf={pdf}")
    pages = [re.sub(r"\s+", "", sheet) for sheet in pages_of(pdf)]
    for station in handout.report.stations:
        name = re.sub(r"\s+", "", station.station.name)
        sheets = [sheet for sheet in pages if f"Quantities:{name}" in sheet]
        assert len(sheets) == 1
        table = sheets[0].split(f"Quantities:{name}")[1]
        assert "Spentbath" in table
        assert "Timeattemperature" in table


def pages_of(pdf: Path) -> list[str]:
    text = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout
    return text.split("\f")[:-1]


def test_nothing_sticks_out_at_360_pixels(page: str, tmp_path: Path) -> None:
    frame = html.escape(without_policy(page), quote=True)
    written_page = written(
        tmp_path,
        '<!DOCTYPE html><html lang="en"><title>x</title><body><pre id="out"></pre>'
        f'<iframe id="f" style="width:360px;height:800px;border:0" srcdoc="{frame}"></iframe><script>'
        "document.getElementById('f').onload = e => { const d = e.target.contentDocument;"
        "const wide = [...d.querySelectorAll('body *')].filter(x => x.getBoundingClientRect().right > 360.5 && "
        "!x.closest('.skip')).map(x => x.tagName + ': ' + x.textContent.slice(0, 60));"
        "document.getElementById('out').textContent = JSON.stringify([d.documentElement.scrollWidth, wide]); };"
        "</script></body></html>",
    )
    out = browse(tmp_path, written_page, "--virtual-time-budget=10000", "--dump-dom")
    found = re.search(r'<pre id="out">(.*?)</pre>', out, re.DOTALL)
    assert found, out[-500:]
    width, wide = json.loads(html.unescape(found[1]))
    assert wide == []
    assert width <= 360


@needs_axe
def test_axe_finds_no_serious_violation(page: str, tmp_path: Path) -> None:
    """axe-core's WCAG 2.2 AA rules and best practices, with the colours as painted."""
    script = Path(AXE).read_text(encoding="utf-8").replace("</script", "<\\/script")
    run = (
        "axe.run(document, {resultTypes: ['violations', 'passes']}).then(r => { document.body.innerHTML = '';"
        "const p = document.createElement('pre'); p.id = 'out'; p.textContent = JSON.stringify({"
        "passes: r.passes.length,"
        "violations: r.violations.map(v => [v.impact, v.id, v.nodes.map(n => n.html.slice(0, 120)).slice(0, 3)])});"
        "document.body.append(p); });"
    )
    text = without_policy(page).replace("</body>", f"<script>{script}</script><script>{run}</script></body>")
    out = browse(tmp_path, written(tmp_path, text), "--virtual-time-budget=60000", "--dump-dom")
    found = re.search(r'<pre id="out">(.*?)</pre>', out, re.DOTALL)
    assert found, out[-500:]
    result = json.loads(html.unescape(found[1]))
    assert result["passes"] > 15  # it has looked
    assert [v for v in result["violations"] if v[0] in ("serious", "critical")] == []
    assert result["violations"] == []


def asked_by_the_page(folder: Path, page: Path) -> list[str]:
    """The addresses that a page itself asked for, from the browser's network log (its own chatter has no origin)."""
    log = folder / "net.json"
    browse(folder, page, f"--log-net-log={log}", "--net-log-capture-mode=IncludeSensitive", "--dump-dom")
    events = json.loads(log.read_text(encoding="utf-8"))["events"]
    started = [event["params"] for event in events if "initiator" in event.get("params", {})]
    return [params["url"] for params in started if params["initiator"] != "not an origin"]


def test_the_browser_asks_nobody(page: str, tmp_path: Path) -> None:
    assert asked_by_the_page(tmp_path, written(tmp_path, page)) == []


def test_the_network_log_would_show_a_request(tmp_path: Path) -> None:
    """The check above can fail: a page with a picture from elsewhere leaves its mark in the log."""
    file = written(tmp_path, '<!DOCTYPE html><title>x</title><img alt="" src="http://127.0.0.1:9/none.png">')
    assert asked_by_the_page(tmp_path, file) == ["http://127.0.0.1:9/none.png"]
