"""Composition labels: label text to fibre percentages.

Nothing a label says is dropped without a word: what cannot be read becomes an unknown fibre with a
question for the seller, a repair becomes a note, and what contradicts itself is a `LabelError`.

Rules of labels: Regulation (EU) No 1007/2011 (names, parts, "other fibres") and 16 CFR 303.
"""

from __future__ import annotations

from collections.abc import Mapping

from advisor.composition import FULL, UNKNOWN, WHOLE, Component, Composition, Confidence, LabelError, Part
from advisor.interval import Interval, rounded
from advisor.label_reader import Reader
from advisor.label_shares import HIGHEST_SUM, LOWEST_SUM
from advisor.label_text import NAMES_ACCEPTED, SHOWN, percent, short, suggest
from advisor.label_words import clean, cut, number, ratio_numbers, share_number, vocabulary

__all__ = [
    "Component",
    "Composition",
    "Confidence",
    "LabelError",
    "Part",
    "read_label",
    "read_table",
]

MAX_LENGTH = 5000


def read_label(text: str, *, strict: bool = False) -> Composition:
    """Read the text of a composition label, in any of the languages of the tables.

    `strict` is for what a person writes in a plan: percentages must add to 100 ± 1 and every word that
    stands for a fibre must be a generic name. Otherwise a missing rest and a strange word become an
    unknown fibre with a question.

    Raises LabelError for impossible input: empty or over 5,000 characters, a share below 0 or above 100 %,
    percentages that add to more than 101 %.
    """
    if len(text) > MAX_LENGTH:
        raise LabelError(f"the label is {len(text)} characters long; accepted: up to {MAX_LENGTH}")
    cleaned = clean(text)
    if len(cleaned) > MAX_LENGTH:
        raise LabelError(f"the label is too long when written out; accepted: up to {MAX_LENGTH} characters")
    if not cleaned.strip():
        raise LabelError("the label is empty; accepted: text such as '75% wool, 25% nylon'")
    return Reader(text, cleaned, strict).read()


def read_table(shares: Mapping[str, float | str]) -> Composition:
    """Read a table of shares in %, such as {"wool": 75, "nylon": 25}.

    Raises LabelError for a name that is no fibre, a share that is no number from 0 to 100, and shares that
    do not add to 100 ± 1.
    """
    if not shares:
        raise LabelError("the table of fibres is empty; accepted: shares such as wool = 75, nylon = 25")
    components: list[Component] = []
    asks: list[str] = []
    for name, value in shares.items():
        fibre = _table_fibre(str(name))
        if fibre == UNKNOWN:
            asks.append(f"Which fibre is meant by '{short(str(name))}'?")
        components.append(Component(fibre, _table_share(str(name), value), str(name), "stated"))
    low, high = sum(c.share.low for c in components), sum(c.share.high for c in components)
    if low > HIGHEST_SUM or high < LOWEST_SUM:
        said = percent(low) if low == high else f"{percent(low)} to {percent(high)}"
        raise LabelError(f"the percentages add to {said}; accepted: 99 to 101 %")
    text = ", ".join(f"{value} {name}" for name, value in shares.items())
    return Composition((Part(WHOLE, tuple(components)),), tuple(asks), (), text)


def _table_fibre(name: str) -> str:
    words = vocabulary()
    wanted = " ".join(clean(name).split()) if len(name) <= SHOWN * 2 else name[: SHOWN * 2]
    pieces = cut(wanted)
    if len(pieces) == 1 and pieces[0].kind == "cjk":
        fibre = words.names.get(wanted)
        if fibre:
            return fibre
    found = words.phrase(pieces, 0) if pieces and pieces[0].kind == "word" else None
    if found and found[1] == len(pieces):
        meaning = found[0]
        if meaning.kind == "name":
            return meaning.fibre
        if meaning.kind == "rest":
            return UNKNOWN
    fibres = words.codes.get(wanted.upper(), ())
    if len(fibres) == 1:
        return fibres[0]
    if fibres:
        raise LabelError(f"'{short(name)}' may mean {' or '.join(fibres)}; accepted: the fibre's name")
    raise LabelError(f"'{short(name)}' is no generic fibre name{suggest(name)}; accepted: {NAMES_ACCEPTED}")


def _table_share(name: str, value: float | str) -> Interval:
    problem = LabelError(
        f"{short(name)}: '{short(str(value))}' is no share of a whole; accepted: a number from 0 to 100"
    )
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise problem
    if isinstance(value, str):
        pieces = cut(clean(value)) if len(value) <= SHOWN else []
        if len(pieces) != 1 or value.strip()[:1] in ("-", "\u2212"):
            raise problem
        piece = pieces[0]
        if piece.kind == "ratio":
            numbers = [number for number, _ in ratio_numbers(piece.text)]
            if len(numbers) == 2 and numbers[0] <= numbers[1] <= FULL and "/" not in piece.text:
                return Interval(numbers[0], numbers[1])
            raise problem
        if piece.kind not in ("share", "number", "turned"):
            raise problem
        value = share_number(piece.text)[0] if piece.kind == "share" else number(piece.text)
    if not 0 <= value <= FULL:
        raise problem
    return Interval.point(rounded(float(value)))
