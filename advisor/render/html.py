"""A page as one HTML file: no script, no request to anywhere, black on white, made for paper."""

from __future__ import annotations

import base64
import hashlib
from html import escape

from advisor.render.blocks import (
    Blanks,
    Block,
    Box,
    Boxes,
    Cell,
    Grid,
    Heading,
    Items,
    Line,
    Page,
    Paragraph,
    Pictures,
    Section,
    Words,
)
from advisor.render.pictograms import pictogram

_TEXT_SIZE, _LARGE_SIZE = "10.5pt", "18pt"

_CSS = """
:root { --text: %(size)s; }
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%%; text-size-adjust: 100%%; }
body { margin: 0 auto; padding: 0 1rem 2rem; max-width: 60rem; color: #000; background: #fff;
  font: var(--text)/1.4 "Liberation Sans", Arial, "DejaVu Sans", Helvetica, sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 1.8em; line-height: 1.15; margin: .6em 0 .3em; }
h2 { font-size: 1.35em; line-height: 1.2; margin: 1.6em 0 .5em; border-bottom: 3px solid #000; }
h3 { font-size: 1.12em; margin: .2em 0 .4em; }
h4 { font-size: 1.05em; margin: .8em 0 .3em; }
h5 { font-size: 1em; margin: .1em 0 .3em; }
h1, h2, h3, h4, h5, caption, h2 + p { break-after: avoid; }
p { margin: .4em 0; }
.lead { font-size: 1.15em; font-weight: bold; }
.small { font-size: .87em; }
.call { font-size: 1.7em; font-weight: bold; line-height: 1.2; }
.skip { position: absolute; left: -999em; }
.skip:focus { position: static; }
a { color: #00308f; }
nav ul { margin: .3em 0; padding-left: 1.2em; columns: 2; }
ul, ol { margin: .4em 0; padding-left: 1.6em; }
li { margin: .25em 0; }
.check { list-style: none; padding-left: 0; }
.check > li { padding-left: 1.8em; text-indent: -1.8em; }
.check > li::before { content: ""; display: inline-block; width: .85em; height: .85em; border: 2px solid #000;
  margin-right: .8em; vertical-align: -.08em; }
table { border-collapse: collapse; width: 100%%; table-layout: fixed; margin: .6em 0 1em; }
caption { text-align: left; font-weight: bold; padding: .3em 0; }
table { font-size: .94em; }
th, td { border: 1px solid #000; padding: .15em .4em; line-height: 1.3; text-align: left;
  vertical-align: top; hyphens: auto; }
.terms th:first-child { width: 30%%; }
.worked th:first-child { width: 32%%; }
.worked th:nth-child(2) { width: 22%%; }
.station table { font-size: .88em; }
.limits th:first-child { width: 55%%; }
#sources ul { font-size: .9em; }
.signs th:nth-child(2) { width: 22%%; }
thead th { border-bottom: 3px solid #000; }
tbody th { font-weight: bold; }
.box { border: 2px solid #000; padding: .5em .8em; margin: .8em 0; }
.verdict { border-width: 4px; }
.verdict h2 { border: 0; margin: .1em 0; }
.stop { border: 10px double #000; padding: 1em; text-align: center; }
.stop h2 { border: 0; font-size: 3.4em; letter-spacing: .06em; margin: 0 0 .1em; }
.finding { border-width: 0 0 0 6px; padding: .1em .8em; margin: .7em 0; }
.grade { display: inline-block; border: 2px solid #000; padding: 0 .4em; margin-right: .5em; font-size: .85em;
  letter-spacing: .05em; }
.DANGER, .WARNING { border-width: 4px; }
.boxes { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(100%%, 17em), 1fr)); gap: .8em; }
.boxes .box { margin: 0; }
.label { border: 2px dashed #000; }
.label ul { padding-left: 1.1em; }
.ghs { width: 3.6em; height: 3.6em; margin: .1em .2em .1em 0; vertical-align: middle; }
.label .ghs { width: 5em; height: 5em; }
.blanks p { margin: 1.6em 0; }
.running { border: 4px solid #000; padding: .2em .6em; margin: .6em 0; font-weight: bold; text-align: center;
  position: sticky; top: 0; background: #fff; z-index: 1; }
.strip { display: none; }
footer { border-top: 3px solid #000; margin-top: 2em; }
@media (max-width: 30em) { body { padding: 0 .6rem 1rem; } nav ul { columns: 1; } th, td { padding: .2em .25em; }
  .stop h2 { font-size: 2.4em; } .stop { padding: .5em; border-width: 8px; } ul, ol { padding-left: 1.2em; } }
@page { margin: 18mm 15mm 16mm; @bottom-right { content: counter(page) " / " counter(pages); font: 9pt sans-serif; } }
@media print {
  body { max-width: none; padding: 0; }
  nav, .skip { display: none; }
  .own-page { break-before: page; }
  table, tr, li, .finding, .boxes .box, .blanks p, .stop, .verdict { break-inside: avoid; }
  thead { display: table-header-group; }
  tbody tr:first-child, caption + thead { break-before: avoid; }
  p { orphans: 3; widows: 3; }
  .boxes { display: block; columns: 2; column-gap: 5mm; }
  .large .boxes { columns: 1; }
  .boxes .box { margin: 0 0 4mm; }
  .station { break-before: page; }
  h2 + .station { break-before: auto; }
  .running { position: static; }
}
"""

_CSS_NOT_READY = """
@page { @top-center { content: %(running)s; font: bold 13pt sans-serif; border-bottom: 3pt solid #000; } }
@media print {
  body { padding-left: 12mm; }
  .running { display: none; }
  .strip { display: block; position: fixed; left: 0; top: 0; bottom: 0; width: 9mm; border: 2pt solid #000;
    writing-mode: vertical-rl; text-align: center; font: bold 11pt/8mm sans-serif;
    white-space: nowrap; overflow: hidden; }
}
"""


def as_html(page: Page, *, large_print: bool = False) -> str:
    """The page as one HTML file. Every text is escaped; `large_print` is for people who read large letters."""
    css = _CSS % {"size": _LARGE_SIZE if large_print else _TEXT_SIZE}
    if page.running:
        css += _CSS_NOT_READY % {"running": _css_text(page.running)}
    seal = base64.b64encode(hashlib.sha256(css.encode()).digest()).decode()
    running = f'<p class="running">{escape(page.running)}</p>\n' if page.running else ""
    strip = f'<div class="strip" aria-hidden="true">{escape(page.running)}</div>\n' if page.running else ""
    contents = "".join(f'<li><a href="#{s.id}">{escape(s.title)}</a></li>\n' for s in page.sections)
    nav = f'<nav aria-label="{escape(page.contents)}">\n<ul>\n{contents}</ul>\n</nav>\n' if contents else ""
    footer = "".join(f"<p>{_line(text)}</p>\n" for text in page.footer)
    sections = "".join(map(_section, page.sections))
    large = ' class="large"' if large_print else ""
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(page.language)}">\n<head>\n<meta charset="utf-8">\n'
        f"<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'sha256-{seal}'\">\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(page.title)}</title>\n<style>{css}</style>\n</head>\n"
        f"<body{large}>\n"
        f'<a class="skip" href="#content">{escape(page.skip)}</a>\n{strip}'
        f"<header>\n{running}<h1>{escape(page.heading)}</h1>\n</header>\n"
        f'<main id="content">\n{_blocks(page.intro)}{nav}{sections}</main>\n'
        f"<footer>\n{footer}</footer>\n</body>\n</html>\n"
    )


def _css_text(text: str) -> str:
    """A CSS string: what is not plain is written by its number, so that nothing ends the string or the element."""
    return '"' + "".join(c if (c.isalnum() and c.isascii()) or c in " :,." else f"\\{ord(c):06x}" for c in text) + '"'


def _section(section: Section) -> str:
    own = ' class="own-page"' if section.own_page else ""
    name, title = escape(section.id), escape(section.title)
    return (
        f'<section id="{name}" aria-labelledby="{name}-title"{own}>\n<h2 id="{name}-title">{title}</h2>\n'
        f"{_blocks(section.blocks)}</section>\n"
    )


def _blocks(blocks: tuple[Block, ...]) -> str:
    return "".join(map(_block, blocks))


def _block(block: Block) -> str:
    match block:
        case Paragraph(text, kind):
            return f"<p{_class(kind)}>{_line(text)}</p>\n"
        case Heading(title, level):
            return f"<h{level}>{escape(title)}</h{level}>\n"
        case Items(lines, kind):
            tag = "ol" if kind == "number" else "ul"
            items = "".join(f"<li>{_line(text)}</li>\n" for text in lines)
            return f"<{tag}{_class('check' if kind == 'check' else '')}>\n{items}</{tag}>\n" if items else ""
        case Grid():
            return _table(block)
        case Pictures(marks):
            return f"<p>{_marks(marks)}</p>\n"
        case Box():
            return _box(block)
        case Boxes(boxes):
            inner = "".join(map(_box, boxes))
            return f'<div class="boxes">\n{inner}</div>\n' if boxes else ""
        case Blanks(lines):
            inner = "".join(f"<p>{_line(text)}</p>\n" for text in lines)
            return f'<div class="blanks">\n{inner}</div>\n'


def _class(name: str) -> str:
    return f' class="{name}"' if name else ""


def _box(box: Box) -> str:
    grade = f'<span class="grade {box.grade}">{box.grade}</span> ' if box.kind == "finding" else ""
    language = ' lang="en"' if grade and any(words.language for words in box.title) else ""
    return (
        f'<div class="box {box.kind}">\n<h{box.level}{language}>{grade}{_line(box.title)}</h{box.level}>\n'
        f"{_blocks(box.blocks)}</div>\n"
    )


def _table(grid: Grid) -> str:
    head = "".join(f'<th scope="col">{_line(text)}</th>' for text in grid.head)
    body = "".join(map(_row, grid.rows))
    return (
        f"<table{_class(grid.kind)}>\n<caption>{escape(grid.caption)}</caption>\n"
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n{body}</tbody>\n</table>\n"
    )


def _row(row: tuple[Cell, ...]) -> str:
    cells = "".join(f"<td>{_cell(member)}</td>" for member in row[1:])
    return f'<tr><th scope="row">{_cell(row[0])}</th>{cells}</tr>\n'


def _marks(marks: tuple[tuple[str, str], ...]) -> str:
    return "".join(pictogram(mark, escape(words)) for mark, words in marks)


def _cell(cell: Cell) -> str:
    return _marks(cell.marks) + "<br>".join(map(_line, cell.lines))


def _line(line: Line) -> str:
    return "".join(map(_words, line))


def _words(words: Words) -> str:
    text = escape(words.text)
    if words.figure is not None:
        key, value, unit = words.figure
        text = f'<data value="{value.low!r} {value.high!r} {escape(unit)}" data-measure="{escape(key)}">{text}</data>'
    if words.strong:
        text = f"<strong>{text}</strong>"
    return f'<span lang="{words.language}">{text}</span>' if words.language and words.text else text
