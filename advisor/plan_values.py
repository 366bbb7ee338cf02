"""How one written value of a plan is read: a quantity, a word of a closed list, yes or no, a list, fibres, text.

Each reader either gives the checked value or says what was wrong and what is accepted. What is written as
"unknown" is unknown.
"""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Iterable, Mapping, Sequence, Sized
from dataclasses import replace
from typing import Annotated, Any

from pydantic import AfterValidator, GetCoreSchemaHandler
from pydantic_core import PydanticCustomError, core_schema

from advisor.contents import contents_of, denies
from advisor.interval import Interval
from advisor.knowledge import Table, knowledge, units
from advisor.labels import Component, Composition, LabelError, Part, read_label, read_table
from advisor.quantities import Quantity, QuantityError, parse, unknown
from advisor.rows import Named

UNKNOWN = "unknown"
LONGEST_TEXT = 500
MOST_ENTRIES = 50  # in any list of a plan
# control characters, surrogates, line separators, direction marks, byte order marks and invisible tags
_CONTROL = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u206f\ud800-\udfff\ufeff\ufff9-\ufffb\U000e0000-\U000e007f]"
)


class Measured:
    """Reads a quantity of one of the given kinds.

    `zero` says whether none at all is an answer; `most` is the highest that is possible, in the canonical unit.
    """

    def __init__(self, *kinds: str, zero: bool = False, most: float | None = None) -> None:
        self.kinds, self.zero, self.most = kinds, zero, most

    def unstated(self) -> Quantity:
        """The unknown of the first kind."""
        quantity = unknown(self.kinds[0])
        if self.most is None:
            return quantity
        return replace(quantity, interval=Interval(quantity.interval.low, self.most))

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, Any]:
        return {"type": "string", "description": f"{' or '.join(self.kinds)}, with its unit; or 'unknown'"}

    def _read(self, value: Any, info: Any) -> Quantity:
        if isinstance(value, Quantity):
            return value
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            raise wrong(f"expected text such as {units().kinds[self.kinds[0]].example!r}, got {as_typed(value)}")
        place = (info.context or {}).get("place")
        try:
            quantity = parse(value, self.kinds, place=place)
        except QuantityError as error:
            raise wrong(clean(str(error))) from None
        if not quantity.stated:
            return replace(self.unstated(), text=quantity.text)
        if not self.zero and quantity.interval.high <= 0 and "temperature" not in self.kinds:
            example = units().kinds[self.kinds[0]].example
            raise wrong(f"{as_typed(value)} is none at all; accepted: more, as in {example!r}, or 'unknown'")
        if self.most is not None and quantity.interval.high > self.most:
            most = f"{self.most:g} {units().kinds[quantity.kind].unit}"
            raise wrong(f"{as_typed(value)} is more than there can be; accepted: up to {most}")
        return quantity


ANY_CASE = "the advisor reads capitals and small letters alike"


class Chosen:
    """Reads a word of a closed list: a table's ids and synonyms, or the words given."""

    def __init__(self, what: str, *words: str, families: bool = False) -> None:
        self.what, self.words, self.families = what, words, families

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, Any]:
        return {"enum": list(dict.fromkeys((*self.accepted(), *self._synonyms(), UNKNOWN))), "description": ANY_CASE}

    def accepted(self) -> tuple[str, ...]:
        """The ids that may be written."""
        if self.words:
            return self.words
        ids = _table(self.what).ids
        return (*ids, *knowledge().dye_class_families) if self.families else ids

    def _read(self, value: Any) -> str:
        if not isinstance(value, str):
            raise wrong(f"expected one of: {', '.join(self.accepted())}; got {as_typed(value)}")
        word = " ".join(value.casefold().split())
        if word == UNKNOWN:
            return UNKNOWN
        if self.words:
            if word in self.words:
                return word
        else:
            if self.families and word.replace(" ", "-") in knowledge().dye_class_families:
                return word.replace(" ", "-")
            row: Named | None = _table(self.what).find(value)
            if row is not None:
                return row.id
        raise wrong(self._refusal(value))

    def _synonyms(self) -> tuple[str, ...]:
        if self.words:
            return ()
        table = _table(self.what)
        return (*(word for row in table.rows for word in row.synonyms), *table.words)

    def _refusal(self, value: str) -> str:
        accepted = self.accepted()
        known = (*accepted, *self._synonyms())
        near = near_words(value, known, knowledge().dye_class_families if self.families else {})
        return f"{as_typed(value)} is not a known {self.what}{did_you_mean(near)} Accepted: {', '.join(accepted)}, or 'unknown'"


def _table(name: str) -> Table[Any]:
    tables: dict[str, Table[Any]] = {
        "dye class": knowledge().dye_classes,
        "substance": knowledge().substances,
        "material": knowledge().materials,
        "heat source": knowledge().heat_sources,
        "gear": knowledge().gear,
        "person": knowledge().people,
        "space": knowledge().spaces,
        "ventilation": knowledge().ventilation,
        "drain": knowledge().drains,
        "leftover": knowledge().leftovers,
        "finish": knowledge().finishes,
    }
    return tables[name]


def wrong(message: str) -> PydanticCustomError:
    """What pydantic is told of a bad value: the message as it stands, for `first_error` of `plan`."""
    return PydanticCustomError("plan", "{message}", {"message": message})


def near_words(value: str, known: Iterable[str], families: Mapping[str, Sequence[str]]) -> list[str]:
    """The accepted word that comes nearest; all members of a family when the value is a part of its name."""
    word = " ".join(value.casefold().split())[:LONGEST_TEXT]
    for family, members in families.items():
        if word in family.split("-"):
            return [*members, family]
    return difflib.get_close_matches(word, known, n=1, cutoff=0.6)


def did_you_mean(near: list[str]) -> str:
    """The end of a refusal: the nearest accepted words, if there are any."""
    return f"; did you mean {' or '.join(map(repr, near))}?" if near else "."


def as_typed(value: object) -> str:
    """The value as typed, short and on one line, with nothing a terminal would act on."""
    text = clean(value if isinstance(value, str) else json.dumps(value, default=str))
    text = text if len(text) <= 60 else text[:57] + "..."
    return repr(text) if isinstance(value, str) else text


def clean(text: str) -> str:
    """Text with control characters and direction marks replaced by '?', so that no terminal acts on them.

    Line ends and tabs become spaces.
    """
    return _CONTROL.sub(lambda found: " " if found[0] in "\t\n\r" else "?", text)


def short_text(value: Any) -> str:
    """Text that is not empty and not long, without control characters."""
    if not isinstance(value, str):
        raise wrong(f"expected text, got {as_typed(value)}")
    if len(value) > LONGEST_TEXT:
        raise wrong(f"the text has {len(value)} characters; accepted: up to {LONGEST_TEXT}")
    if not value.strip():
        raise wrong("nothing is written; accepted: some text, or leave the key out")
    return clean(value.strip())


def yes_no(value: Any) -> bool | None:
    """True, false, or None for unknown."""
    if isinstance(value, str) and value.casefold().strip() in ("yes", "no", UNKNOWN):
        return {"yes": True, "no": False, UNKNOWN: None}[value.casefold().strip()]
    if value is None or isinstance(value, bool):
        return value
    raise wrong(f"expected true, false or 'unknown', got {as_typed(value)}")


def country(value: str) -> str:
    """A country code in capitals, or "unknown". Raises what pydantic turns into an input error."""
    if value.casefold() == UNKNOWN:
        return UNKNOWN
    if len(value) == 2 and value.isascii() and value.isalpha():
        return value.upper()
    raise wrong(
        f"{as_typed(value)} is not a country code; accepted: two letters of ISO 3166-1, such as 'GB', or 'unknown'"
    )


def in_words(value: Any) -> str:
    """A value of a plan in words, on one line."""
    if value is None:
        return "not stated"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(in_words(word) for word in value) or "none"
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {in_words(member)}" for key, member in value.items())
    return clean(str(value))


class Plain:
    """Wraps a reading function for pydantic and names its JSON type."""

    def __init__(self, read: Any, json_type: dict[str, Any]) -> None:
        self._read, self._json = read, json_type

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, Any]:
        return dict(self._json)


Text = Annotated[str, Plain(short_text, {"type": "string", "minLength": 1, "maxLength": LONGEST_TEXT})]
Country = Annotated[Text, AfterValidator(country)]
YesNo = Annotated[
    bool | None,
    Plain(yes_no, {"enum": [True, False, "yes", "no", UNKNOWN], "description": "true, false or 'unknown'"}),
]
Mass = Annotated[Quantity, Measured("mass")]
Amount = Annotated[Quantity, Measured("mass", "volume", "fraction", zero=True)]
Volume = Annotated[Quantity, Measured("volume")]
Percent = Annotated[Quantity, Measured("fraction")]
STRENGTH = Measured("fraction", most=100.0)  # a share of the whole, or g in 100 mL
Strength = Annotated[Quantity, STRENGTH]
DyeClassWord = Annotated[str, Chosen("dye class", families=True)]
SubstanceWord = Annotated[str, Chosen("substance")]
MaterialWord = Annotated[str, Chosen("material")]


def not_endless(value: Sized) -> None:
    """Refuses a list of more entries than any plan has."""
    if len(value) > MOST_ENTRIES:
        raise wrong(f"{len(value)} entries; accepted: up to {MOST_ENTRIES}")


class Listed:
    """Reads a list of words of one table; None (or "unknown") means unknown, [] means none."""

    def __init__(self, what: str) -> None:
        self.chosen = Chosen(what)

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: object, handler: object) -> dict[str, Any]:
        words = self.chosen.__get_pydantic_json_schema__(schema, handler)
        return {"anyOf": [{"type": "array", "items": words, "maxItems": MOST_ENTRIES}, {"const": UNKNOWN}]}

    def _read(self, value: Any) -> tuple[str, ...] | None:
        if value is None or (isinstance(value, str) and value.casefold().strip() == UNKNOWN):
            return None
        if not isinstance(value, (list, tuple)):
            raise wrong(f"expected a list of words, [] for none, or 'unknown'; got {as_typed(value)}")
        not_endless(value)
        words = tuple(self.chosen._read(word) for word in value)
        if UNKNOWN in words:
            return None
        return tuple(dict.fromkeys(words))


def read_fibres(value: Any) -> Composition:
    """The composition from label text or a table of shares."""
    if isinstance(value, Composition):
        return value
    try:
        if isinstance(value, Mapping):
            return read_table(value)
        if isinstance(value, str):
            if value.casefold().strip() == UNKNOWN:
                return UNKNOWN_FIBRES
            return read_label(value, strict=True)
    except LabelError as error:
        raise wrong(f"{as_typed(value)}: {clean(str(error))}") from None
    raise wrong(f"expected label text such as '75% wool, 25% nylon' or a table of shares; got {as_typed(value)}")


UNKNOWN_FIBRES = Composition(
    parts=(Part("whole", (Component(UNKNOWN, Interval.point(100.0), "", "assumed"),)),),
    asks=("What does the sewn-in label say the goods are made of, with percentages?",),
    notes=(),
    text="",
)  # fmt: skip

Fibres = Annotated[
    Composition,
    Plain(read_fibres, {"type": ["string", "object"], "description": "label text, or a table of shares in per cent"}),
]


def _read_trims(value: Any) -> tuple[Composition, ...] | None:
    if value is None or (isinstance(value, str) and value.casefold().strip() == UNKNOWN):
        return None
    if not isinstance(value, (list, tuple)):
        raise wrong(f"expected a list such as ['polyester thread'], [] for none, or 'unknown'; got {as_typed(value)}")
    not_endless(value)
    trims = []
    for item in value:
        if not isinstance(item, str):
            raise wrong(f"expected text such as 'polyester sewing thread', got {as_typed(item)}")
        try:
            trims.append(read_label(item))
        except LabelError as error:
            raise wrong(f"{as_typed(item)}: {clean(str(error))}") from None
    return tuple(trims)


_TEXTS_OR_UNKNOWN = {
    "anyOf": [{"type": "array", "items": {"type": "string"}, "maxItems": MOST_ENTRIES}, {"const": UNKNOWN}]
}
Trims = Annotated[tuple[Composition, ...] | None, Plain(_read_trims, _TEXTS_OR_UNKNOWN)]


def read_contents(value: Any) -> tuple[str, ...] | None:
    """What a dye contains: free words, but a slip in a word that rules look for must not pass as "none of it"."""
    if value is None or (isinstance(value, str) and value.casefold().strip() == UNKNOWN):
        return None
    if not isinstance(value, (list, tuple)):
        raise wrong(f"expected a list such as ['chromium'], [] for none, or 'unknown'; got {as_typed(value)}")
    not_endless(value)
    words = tuple(short_text(item) for item in value)
    if any(word.casefold() == UNKNOWN for word in words):
        return None
    telling = [word for row in knowledge().contents for word in (row.id, *row.synonyms)]
    for word in words:
        if denies(word):
            raise wrong(
                f"{as_typed(word)} says what is not in the dye; accepted: what is in it, [] for nothing of note"
            )
        if re.match(r"(?![omnp]-)[A-Za-z]{1,2}(?![A-Za-z])", word):
            raise wrong(f"{as_typed(word)} is too short to go by; accepted: names written out, such as 'chromium'")
        if contents_of((word,)).others:
            for part in re.findall(r"[^\W\d_]{5,}", word.casefold()):
                near = difflib.get_close_matches(part, telling, n=1, cutoff=0.75)
                if near:
                    raise wrong(f"{as_typed(word)} is near to a word that rules look for; did you mean {near[0]!r}?")
    return words


Contents = Annotated[
    tuple[str, ...] | None,
    Plain(read_contents, _TEXTS_OR_UNKNOWN),
]
