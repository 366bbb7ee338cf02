"""What people write about quantities, read into intervals in a canonical unit.

`parse("1 1/2 cups", ("volume",))` gives 0.355 to 0.426 L with the question which cup was meant. Text is
taken apart by a fixed grammar and looked up in rules/knowledge/units.toml; it is never evaluated, and no
part of it reaches the unit library. Arithmetic is exact (fractions) up to one conversion to float.

    text      = "unknown" | "none" | [bound] [about] body
    body      = side | side ("to" | "-") side | side "±" side | "between" side "and" side
    side      = ["-"] number [unit] {number unit}
    number    = "200" | "1.5" | "1,5" | "1/2" | "1 1/2" | "1.5e-3"
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from advisor.interval import Interval
from advisor.knowledge import units
from advisor.rows import Kind, Unit

if TYPE_CHECKING:
    from pint import UnitRegistry

MAX_LENGTH = 200  # characters; nothing a person writes as one amount is longer
_MAX_DIGITS = 15  # in one number
_MAX_EXPONENT = 30
_SHOWN_LENGTH = 60  # how much of a refused text an error repeats
_SHOWN_DIGITS = 3


class QuantityError(ValueError):
    """What was written is no quantity of an allowed kind; the message says why and what is accepted."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity as a person stated it.

    `interval` is in the canonical unit of `kind` and is not tagged with plan paths. `stated` is False for
    an unknown. `spoon` tells that a spoon or cup was the measure, so a powder's mass is uncertain. `ask`
    is the question to put when what was written has more than one meaning.
    """

    kind: str
    interval: Interval
    text: str
    stated: bool
    spoon: bool = False
    ask: str | None = None


def unknown(kind: str) -> Quantity:
    """An unstated quantity: the whole range its kind allows, in the kind's own unit (common practice, units.toml).

    Raises KeyError for a kind that is not in the table.
    """
    row = units().kinds[kind]
    return Quantity(kind, Interval(row.low, row.high), "unknown", stated=False)


def parse(text: str | int | float, kinds: tuple[str, ...], *, place: str | None = None) -> Quantity:
    """Read what a person wrote as a quantity of one of these kinds, in the kind's own unit (g, L, degC, min, % ...).

    A bare number counts only for a kind that needs no unit. `place` (ISO 3166-1, "GB") settles what a bare "cup" or
    "pint" means there. Raises QuantityError. NIST Handbook 44, Appendix C (published): the ounce and the pound in g:

    >>> [parse(text, ("mass",)).interval.low for text in ("1 oz", "1 lb")]
    [28.349523125, 453.59237]

    By definition of the Fahrenheit scale:

    >>> parse("212 °F", ("temperature",)).interval.low
    100.0
    """
    allowed = tuple(units().kinds[kind] for kind in kinds)
    written = text if isinstance(text, str) else _from_number(text, allowed)
    if len(written) > MAX_LENGTH:
        raise QuantityError(f"a text of {len(written)} characters is no quantity; {_accepted(allowed)}")
    try:
        return _read(written, allowed, place)
    except QuantityError as error:
        shown = written if len(written) <= _SHOWN_LENGTH else written[:_SHOWN_LENGTH] + "…"
        raise QuantityError(f"{shown!r}: {error}") from None


def unit_words(text: str) -> tuple[str, ...]:
    """The unit words of what a person wrote, in order; none for what cannot be read. By hand:

    >>> unit_words("2 lb 3 oz")
    ('lb', 'oz')
    """
    try:
        plain = _clean(text[:MAX_LENGTH])
        for bound in (_AT_MOST, _AT_LEAST):
            plain = bound.sub("", plain, count=1) if bound.match(plain) else plain
        body = _body(_spoken(_strip_about(plain)[0]))
    except QuantityError:
        return ()
    return tuple(word for side in body.sides for _, word in side.parts if word)


_HOUR = 3600.0  # s


def format_interval(interval: Interval, unit: str, between: str = "{low} to {high}") -> str:
    """Words for an interval in a canonical unit: "1.5 %", "1.3 to 1.8 %", "88 °C", "unknown".

    Three significant digits; less than a litre in mL. Any other unit is shown as it is written. `between` is how a
    range reads. By hand:

    >>> format_interval(Interval(0.25, 0.25), "L"), format_interval(Interval(1.3, 1.75), "%")
    ('250 mL', '1.3 to 1.75 %')
    """
    if unit == "s" and interval.low >= _HOUR:
        return "over an hour"
    if unit == "s" and interval.high < 1:
        return "under 1 s"  # a calculated blink would promise more than anybody knows
    kinds = [kind for kind in units().kinds if kind.unit == unit]
    if any(interval.low <= kind.low and interval.high >= kind.high for kind in kinds):
        return "unknown"
    shown = next((kind.shown for kind in kinds if kind.shown is not None), unit)
    if shown in ("1", "fraction", "ratio"):
        shown = ""
    small = next((kind.small for kind in kinds if kind.small and 0 < interval.high < 1), None)
    scale = 1.0
    if small:
        shown, scale = small, float(1 / _factor(small))
    low, high = _digits(interval.low * scale), _digits(interval.high * scale)
    if not interval.exact and any(interval.high >= kind.high for kind in kinds):
        words = f"at least {low}"
    elif not interval.exact and any(interval.low <= kind.low for kind in kinds):
        words = f"up to {high}"
    else:
        words = low if low == high else between.format(low=low, high=high)
    return f"pH {words}" if shown == "pH" else f"{words} {shown}".strip()


@lru_cache(maxsize=1)
def registry() -> UnitRegistry[Any]:
    """The pint registry, made on first use; without its cache folder, which would be unpickled whoever wrote it."""
    import pint

    return pint.UnitRegistry()


# --------------------------------------------------------------------------- tidying the text

_DASHES = {ord(dash): "-" for dash in "‐‑‒–—−﹣－"}
_DEGREES = {ord(sign): "°" for sign in "º˚"}
_SUPERSCRIPT_POWER = re.compile(r"\d\s*[⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻]")
_CUBIC = re.compile(r"(?<![A-Za-z])(mm|cm|dm|m|ft|in)\^?3(?![\d.,])")
_SALT = {"CaCO3": "calcium carbonate", "HCO3-": "bicarbonate", "HCO3": "bicarbonate"}
_PER_100_ML = re.compile(r"/\s*100\s*m[lL](?![A-Za-z])")


def _clean(text: str) -> str:
    """One spelling for the many ways to type the same sign; digits inside unit names become words."""
    if _SUPERSCRIPT_POWER.search(text):
        raise QuantityError("powers of ten are not read; write the number out")
    spaced = "".join(f" {c} " if _is_vulgar_fraction(c) else c for c in text.translate(_DEGREES))
    plain = unicodedata.normalize("NFKC", spaced).translate(_DASHES).replace("⁄", "/")
    for formula, word in _SALT.items():
        plain = plain.replace(formula, word)
    plain = _PER_100_ML.sub("/dL", _CUBIC.sub(r"cubic \1", plain))
    return " ".join(plain.split())


def _is_vulgar_fraction(character: str) -> bool:
    return unicodedata.decomposition(character).startswith("<fraction>")


def _unit_key(word: str) -> str:
    """A unit word without the dots, hyphens and spacing that make no difference."""
    word = word.replace(".", "").replace("_", " ").replace("-", " ")
    word = re.sub(r"\s*(?:/|\bper\b)\s*", "/", word)
    return re.sub(r"°\s+", "°", " ".join(word.split()))


# --------------------------------------------------------------------------- looking units up


@lru_cache(maxsize=1)
def _words() -> dict[str, dict[str, Unit]]:
    """Kind -> accepted spelling -> unit."""
    words: dict[str, dict[str, Unit]] = {kind: {} for kind in units().kinds.ids}
    for unit in units().units:
        for word in (unit.id, unit.title, *unit.synonyms):
            if word:
                words[unit.kind].setdefault(_unit_key(_clean(word)), unit)
    return words


def _find(word: str, kind: str) -> Unit | None:
    """The unit of this kind that a word means. Case is forgiven where no other unit can be meant."""
    key = _unit_key(word)
    exact = _words()[kind].get(key)
    if exact is not None or not _case_may_be_forgiven(key):
        return exact
    matches = {unit.id: unit for known, unit in _words()[kind].items() if known.casefold() == key.casefold()}
    return next(iter(matches.values())) if len(matches) == 1 else None


def _case_may_be_forgiven(key: str) -> bool:
    """False for a capital M before small letters: "Mg" is a thousand million times "mg"."""
    return not re.match(r"M[a-z](?![a-z])", key)


def _refusal(key: str) -> str | None:
    """What to say to a word that looks like a unit and is never read as one."""
    for row in units().refused:
        if key in row.words or (len(key) > 1 and key.casefold() in row.words):
            return row.say
    return None


@lru_cache(maxsize=256)
def _factor(unit_id: str) -> Fraction:
    """Canonical units in one of this unit: from the table, or for a rare unit from pint."""
    unit = units().units[unit_id]
    if unit.exact_factor is not None:
        return unit.exact_factor
    one = registry().parse_expression(unit.pint)
    return Fraction(repr(float(one.m_as(units().kinds[unit.kind].pint))))


def _meanings(unit: Unit, place: str | None) -> tuple[Unit, ...]:
    """The units of one size that a unit word may stand for in this place."""
    table = units()
    if not unit.any_of:
        return (unit,)
    local = table.local.get(((place or "").upper(), unit.id))
    return tuple(table.units[i] for i in ((local,) if local else unit.any_of))


# --------------------------------------------------------------------------- numbers and tokens

_NUMBER = re.compile(
    r"(?:(?P<whole>\d+)\s+)?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)(?![\d.,'])"
    r"|(?P<decimal>[\d.,']*\d[\d.,']*)(?P<exponent>[eE][+-]?\d+)?",
    re.ASCII,
)
_OPERATOR = re.compile(r"(?P<tolerance>±|\+\s?/\s?-|\+-)|(?P<range>to\b|-)|(?P<and>and\b)", re.IGNORECASE)
_UNIT_PART = r"(?!(?:to|and)\b)(?:[^\W\d]|[°%‰/.])+"
_UNIT = re.compile(rf"{_UNIT_PART}(?:[ -]{_UNIT_PART})*", re.IGNORECASE)

_UNKNOWN = {"unknown", "not known", "not sure", "unsure", "don't know", "?"}
_NONE = {"no", "none", "nil", "nothing", "zero"}
_AT_MOST = re.compile(r"(?:less than|not? more than|under|below|up to|at most|≤|<=?)\s*", re.IGNORECASE)
_AT_LEAST = re.compile(r"(?:more than|not? less than|over|above|at least|≥|>=?)\s*", re.IGNORECASE)
_BETWEEN = re.compile(r"between\s+", re.IGNORECASE)

_ONES = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_COUNTED_HALVES = re.compile(
    rf"(?:\d|\b(?:{'|'.join(_ONES[1:])}))\s+(?:half|halves|quarters?|thirds?)\b", re.IGNORECASE
)
_SPOKEN = tuple(
    (re.compile(pattern, re.IGNORECASE), number)
    for pattern, number in (
        (r"(?<=\w)\s+and\s+(?:a|one)\s+half\b", " 1/2"),
        (r"(?<=\w)\s+and\s+(?:a|one)\s+quarter\b", " 1/4"),
        (r"(?<=\w)\s+and\s+(?:a|one)\s+third\b", " 1/3"),
        (r"\bthree[ -]quarters?(?: of)?(?: an?)?\b", "3/4"),
        (r"\btwo[ -]thirds?(?: of)?(?: an?)?\b", "2/3"),
        (r"\b(?:(?:an?|one)[ -])?half(?: of)?(?: an?)?\b", "1/2"),
        (r"\b(?:(?:an?|one)[ -])?quarter(?: of)?(?: an?)?\b", "1/4"),
        (r"\b(?:(?:an?|one)[ -])?third(?: of)?(?: an?)?\b", "1/3"),
        (r"\ban?\b(?=\s+[^\W\d])", "1"),
        *((rf"\b{word}\b", str(number)) for number, word in enumerate(_ONES, start=1)),
    )
)


@dataclass(frozen=True, slots=True)
class _Token:
    sort: str  # "number", "unit", "tolerance", "range" or "and"
    word: str
    value: Fraction = Fraction(0)


def _tokens(text: str) -> list[_Token]:
    tokens: list[_Token] = []
    at = 0
    while at < len(text):
        if text[at] == " ":
            at += 1
            continue
        if found := _NUMBER.match(text, at):
            tokens.append(_Token("number", found[0], _value(found)))
        elif found := _OPERATOR.match(text, at):
            tokens.append(_Token(str(found.lastgroup), found[0]))
        elif found := _UNIT.match(text, at):
            tokens.append(_Token("unit", found[0]))
        else:
            raise QuantityError(f"cannot read {text[at : at + 20]!r}")
        at = found.end()
    return tokens


def _value(found: re.Match[str]) -> Fraction:
    """The exact value of a number as written; refuses what could be read in two ways."""
    if sum(c.isdigit() for c in found[0]) > _MAX_DIGITS:
        raise QuantityError(f"a number of more than {_MAX_DIGITS} digits is no measurement")
    if found["top"]:
        if int(found["bottom"]) == 0:
            raise QuantityError("a fraction of nothing: the number below the line is 0")
        return int(found["whole"] or 0) + Fraction(int(found["top"]), int(found["bottom"]))
    exponent = int((found["exponent"] or "e0")[1:])
    if abs(exponent) > _MAX_EXPONENT:
        raise QuantityError(f"the exponent {exponent} is no measurement")
    return Fraction(Decimal(_decimal(found["decimal"]))) * Fraction(10) ** exponent


def _decimal(written: str) -> str:
    marks = [c for c in written if c in ".,'"]
    if not marks:
        return written
    before, after = written.split(marks[0], 1)
    if len(marks) > 1 or marks == ["'"]:
        raise QuantityError(f"{written!r} mixes marks; write it without thousands marks, as in 1500.5")
    if not after or (marks == [","] and not before):
        raise QuantityError(f"{written!r} is no finished number")
    if marks == [","] and len(after) == 3 and before.strip("0"):
        whole = before + after
        raise QuantityError(f"{written!r} is ambiguous; write {whole} or {before}.{after.rstrip('0') or '0'}")
    return f"{before or '0'}.{after}"


# --------------------------------------------------------------------------- grammar


@dataclass(frozen=True, slots=True)
class _Side:
    """One amount: numbers with their unit words ("2 lb 3 oz" has two parts); an empty word is no unit."""

    parts: tuple[tuple[Fraction, str], ...]


@dataclass(frozen=True, slots=True)
class _Body:
    """One amount, or two joined by a range or a tolerance."""

    sides: tuple[_Side, ...]
    joined_by: str = ""


def _body(text: str) -> _Body:
    between = _BETWEEN.match(text)
    tokens = _tokens(text[between.end() :] if between else text)
    first, at = _side(tokens, 0)
    if at == len(tokens) and not between:
        return _Body((first,))
    joiner = tokens[at].sort if at < len(tokens) else ""
    if joiner not in (("and",) if between else ("range", "tolerance")):
        raise QuantityError(f"cannot read {tokens[at].word!r} here" if joiner else "between what and what?")
    second, at = _side(tokens, at + 1)
    if at < len(tokens):
        raise QuantityError(f"cannot read {tokens[at].word!r} here")
    if first.parts[-1][1] == "" and len(second.parts) == 1:  # "180 to 220 g"
        first = _Side((*first.parts[:-1], (first.parts[-1][0], second.parts[0][1])))
    return _Body((first, second), "range" if joiner == "and" else joiner)


def _side(tokens: list[_Token], at: int) -> tuple[_Side, int]:
    negative = at < len(tokens) and tokens[at].word == "-"
    at += negative
    parts: list[tuple[Fraction, str]] = []
    while at < len(tokens) and tokens[at].sort == "number":
        value, word = tokens[at].value, ""
        if at + 1 < len(tokens) and tokens[at + 1].sort == "unit":
            word = tokens[at + 1].word
        elif at + 1 < len(tokens) and tokens[at + 1].sort == "number":
            one = tokens[at].word + tokens[at + 1].word
            raise QuantityError(f"two numbers in a row; write {one!r} if it is one number")
        parts.append((-value if negative else value, word))
        at += 2 if word else 1
    if not parts:
        where = f"before {tokens[at].word!r}" if at < len(tokens) else "at the end"
        raise QuantityError(f"a number is missing {where}")
    return _Side(tuple(parts)), at


# --------------------------------------------------------------------------- from grammar to interval


@dataclass(frozen=True, slots=True)
class _Range:
    low: Fraction
    high: Fraction
    used: tuple[Unit, ...]
    asks: tuple[str, ...] = ()


def _read(written: str, allowed: tuple[Kind, ...], place: str | None) -> Quantity:
    if written.count(":") and re.search(r"\d:\d", written):
        raise QuantityError("a time with a colon could be hours or minutes; write it as 1 h 30 min")
    text = _clean(written)
    if text.casefold() in _UNKNOWN:
        return replace(unknown(allowed[0].id), text=written)
    if text.casefold() in _NONE:
        zero = next((kind for kind in allowed if kind.none_is_zero), None)
        if zero is None:
            raise QuantityError(f"no answer for a {_or(k.id for k in allowed)}; {_accepted(allowed)}")
        return Quantity(zero.id, Interval.point(0.0), written, stated=True)
    if not text:
        raise QuantityError(f"nothing is written; {_accepted(allowed)}")

    bound = ""
    for name, pattern in (("most", _AT_MOST), ("least", _AT_LEAST)):
        if found := pattern.match(text):
            bound, text = name, text[found.end() :]
            break
    text, reach = _strip_about(text)
    body = _body(_spoken(text))
    kind, amount = _amount(body, allowed, place)
    low = amount.low - reach * abs(amount.low)
    high = amount.high + reach * abs(amount.high)
    floor, ceiling = Fraction(kind.low), Fraction(kind.high)
    if low < floor or high > ceiling:
        raise QuantityError(_out_of_range(kind, below=low < floor))
    if bound == "most":
        low = floor
    elif bound == "least":
        high = ceiling
    return Quantity(
        kind.id,
        Interval(float(low), float(high)),
        written,
        stated=True,
        spoon=any(unit.spoon for unit in amount.used),
        ask=" ".join(dict.fromkeys(amount.asks)) or None,
    )


def _strip_about(text: str) -> tuple[str, Fraction]:
    """The text without a leading "about", and the share of the amount that word reaches to either side."""
    for row in units().approximations:
        for word in sorted((row.id, *row.synonyms), key=len, reverse=True):
            stop = r"(?![^\W\d_])" if word[-1].isalpha() else ""
            if found := re.match(rf"{re.escape(word)}{stop}\s*", text, re.IGNORECASE):
                return text[found.end() :], Fraction(row.figure.high) / 100
    return text, Fraction(0)


def _spoken(text: str) -> str:
    for pattern, number in _SPOKEN[:5]:
        text = pattern.sub(number, text)
    if found := _COUNTED_HALVES.search(text):
        raise QuantityError(f"{found[0]!r} can be read in two ways; write the number in figures")
    for pattern, number in _SPOKEN[5:]:
        text = pattern.sub(number, text)
    return text


def _amount(body: _Body, allowed: tuple[Kind, ...], place: str | None) -> tuple[Kind, _Range]:
    """The kind that every unit word fits, and the amount in it."""
    fitting = [kind for kind in allowed if all(_fits(body, i, kind) for i in range(len(body.sides)))]
    if not fitting:
        raise QuantityError(_why_no_kind(body, allowed))
    read = [(kind, _in_kind(body, kind, place)) for kind in fitting]
    if len(read) == 1:
        return read[0]
    # an ounce fits mass and volume: a unit of one size goes first, and its own question is put
    kind, amount = min(read, key=lambda pair: any(unit.any_of for unit in pair[1].used))
    return kind, replace(amount, asks=(*amount.asks, *(unit.ask for unit in amount.used if unit.ask)))


def _fits(body: _Body, side: int, kind: Kind) -> bool:
    for _, word in body.sides[side].parts:
        if word == "":
            if not kind.bare:
                return False
        elif _find_for(body, side, word, kind) is None:
            return False
    return True


def _find_for(body: _Body, side: int, word: str, kind: Kind) -> Unit | None:
    """The unit; a tolerance may also be a share, or for a temperature a difference."""
    unit = _find(word, kind.id)
    if unit is None and side == 1 and body.joined_by == "tolerance":
        unit = _find(word, "fraction")
        if unit is None and kind.id == "temperature":
            unit = _find(word, "temperature difference")
    return unit


def _in_kind(body: _Body, kind: Kind, place: str | None) -> _Range:
    ranges = [_side_in_kind(body, i, kind, place) for i in range(len(body.sides))]
    if len(ranges) == 1:
        return ranges[0]
    first, second = ranges
    used, asks = first.used + second.used, first.asks + second.asks
    if body.joined_by == "tolerance":
        if second.low < 0:
            raise QuantityError("a tolerance below 0")
        floor, reach = Fraction(kind.low), second.high
        low = first.low - reach
        if first.low >= floor:  # "1 g ± 2 g" cannot mean less than nothing
            low = max(low, floor)
        return _Range(low, first.high + reach, used, asks)
    if first.low > second.high:
        raise QuantityError("the range runs downwards; write the smaller end first (one and a half is 1 1/2)")
    return _Range(min(first.low, second.low), max(first.high, second.high), used, asks)


def _side_in_kind(body: _Body, side: int, kind: Kind, place: str | None) -> _Range:
    tolerance = side == 1 and body.joined_by == "tolerance"
    low = high = Fraction(0)
    used: list[Unit] = []
    asks: list[str] = []
    for value, word in body.sides[side].parts:
        if word == "":
            low, high = low + value, high + value
            continue
        unit = _find_for(body, side, word, kind)
        assert unit is not None  # _fits has looked it up
        meanings = _meanings(unit, place)
        if used and min(map(_size, meanings)) >= min(map(_size, _meanings(used[-1], place))):
            raise QuantityError("units must go from large to small, as in 2 lb 3 oz")
        if tolerance and unit.kind == "fraction" != kind.id:
            of = _side_in_kind(body, 0, kind, place)
            ends = [value / 100 * _factor(unit.id) * abs(end) for end in (of.low, of.high)]
        else:
            ends = [(value - (0 if tolerance else _offset(m))) * _factor(m.id) for m in meanings]
        low, high = low + min(ends), high + max(ends)
        used.append(unit)
        if len(meanings) > 1 and unit.ask:
            asks.append(unit.ask)
    if len(used) > 1 and any(unit.offset for unit in used):
        raise QuantityError("a temperature in two units")
    return _Range(low, high, tuple(used), tuple(asks))


def _offset(unit: Unit) -> Fraction:
    return Fraction(repr(unit.offset))


def _size(unit: Unit) -> Fraction:
    return _factor(unit.id)


# --------------------------------------------------------------------------- what an error says


def _from_number(number: object, allowed: tuple[Kind, ...]) -> str:
    if isinstance(number, bool) or not isinstance(number, int | float):
        raise QuantityError(f"{type(number).__name__} is no quantity; {_accepted(allowed)}")
    if number != number or abs(number) >= 10**_MAX_EXPONENT:
        raise QuantityError(f"the number is no measurement; {_accepted(allowed)}")
    return repr(number)


def _why_no_kind(body: _Body, allowed: tuple[Kind, ...]) -> str:
    words = [word for side in body.sides for _, word in side.parts]
    for word in words:
        if word == "":
            hint = " ".join(kind.hint for kind in allowed if kind.hint)
            return f"a number without a unit; {_accepted(allowed)} {hint}".strip()
        if not any(_find(word, kind.id) for kind in allowed):
            return _why_no_unit(word, allowed)
    listed = " and ".join(repr(word) for word in dict.fromkeys(words))
    return f"{listed} do not measure the same thing; {_accepted(allowed)}"


def _why_no_unit(word: str, allowed: tuple[Kind, ...]) -> str:
    key = _unit_key(word)
    if refusal := _refusal(key):
        return f"{word!r}: {refusal}"
    elsewhere = [kind for kind in units().kinds.ids if _find(word, kind)]
    if elsewhere:
        wanted = _or(_with_article(kind.id) for kind in allowed)
        return f"{word!r} is a unit of {_or(elsewhere)}, where {wanted} belongs; {_accepted(allowed)}"
    spellings = {known.casefold(): known for kind in allowed for known in _words()[kind.id]}
    near = difflib.get_close_matches(key.casefold(), spellings, n=1, cutoff=0.6)
    meant = f"did you mean {spellings[near[0]]!r}? " if near else ""
    return f"{word!r} is no unit known here; {meant}{_accepted(allowed)}"


def _accepted(allowed: tuple[Kind, ...]) -> str:
    each = "; ".join(f"{kind.id} in {_or(kind.accepted)}, as in {kind.example!r}" for kind in allowed)
    return f"accepted: {each}."


def _out_of_range(kind: Kind, *, below: bool) -> str:
    low, high = (format_interval(Interval.point(end), kind.unit) for end in (kind.low, kind.high))
    wrong = f"below {low}" if below else f"above {high}"
    return f"{_with_article(kind.id)} {wrong} is not taken; accepted: {low} to {high}."


def _with_article(kind: str) -> str:
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


def _or(words: Iterable[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} or {last}" if most else last


def _digits(value: float) -> str:
    """Three significant digits without an exponent."""
    short = Context(prec=_SHOWN_DIGITS, rounding=ROUND_HALF_EVEN).create_decimal_from_float(value)
    text = f"{short:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text
