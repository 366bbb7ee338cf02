"""One item of a purchase: what it is made of, how it takes dye, why, what to ask, and the swatch to try."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from advisor.composition import UNKNOWN, Component, Composition, Confidence
from advisor.interval import Interval
from advisor.knowledge import knowledge, label_tables
from advisor.label_words import fold
from advisor.labels import LabelError, read_label
from advisor.plan import InputError
from advisor.plan_values import clean, did_you_mean, near_words
from advisor.rows import Finish
from advisor.screening.answer import (
    Answer,
    ClassAnswer,
    Goods,
    families_of,
    goods_of,
    goods_words,
    judge,
    judge_all,
    judged_fibres,
    takes,
)
from advisor.screening.tables import screen_tables
from advisor.screening.trial import Trial, swatch_trial

_CONFIDENCE: tuple[Confidence, ...] = ("stated", "read with repair", "assumed")
_SHOWN = 200
MOST_LABELS = 4096  # distinct labels kept worked out: bounds the memory of a long list


@dataclass(frozen=True, slots=True)
class Item:
    """One item as it came. `dye_class` is an id, a family of classes, or "" for the best one."""

    name: str
    fibres: str
    dye_class: str = ""
    use: str = ""
    colour: str = ""
    other: Mapping[str, str] | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Answered:
    """What there is to say about a label and a dye class, whatever the item is called.

    `chosen` is the class answered for: the one asked for, else the best; None where no bath may be made. Shares are in % of the mass.
    """

    fibres: str
    composition: Composition | None
    answer: Answer
    chosen: ClassAnswer | None
    classes: tuple[ClassAnswer, ...]
    why: str
    ask: str
    undyed: tuple[str, ...]
    small_parts: tuple[str, ...]
    finishes: tuple[str, ...]
    confidence: Confidence
    notes: tuple[str, ...]
    likely: tuple[str, ...]
    problem: str
    colour: str

    @property
    def trial(self) -> Trial | None:
        """The swatch trial; None for a label that could not be read or goods not to be handled. Worked out anew each time."""
        if self.composition is None or self.chosen is None:
            return None
        return swatch_trial(self.composition, self.fibres, self.chosen, self.colour)

    @property
    def share(self) -> Interval | None:
        """Share of the mass that takes the chosen class, fully or in part, in %."""
        return None if self.chosen is None else self.chosen.share

    @property
    def fibres_known(self) -> bool:
        """True when every fibre has a name."""
        return self.composition is not None and all(c.fibre != UNKNOWN for c in self.composition.components())

    @property
    def best(self) -> str:
        """The id of the best dye class."""
        return self.classes[0].dye_class if self.classes else ""


@dataclass(frozen=True, slots=True)
class Screened:
    """An item with its answer."""

    item: Item
    answered: Answered

    @property
    def name(self) -> str:
        """What the item is called."""
        return self.item.name

    @property
    def answer(self) -> Answer:
        """One of the seven answers."""
        return self.answered.answer

    @property
    def dyeable_share(self) -> Interval | None:
        """Share of the mass that takes dye, in %; None when the label could not be read."""
        return self.answered.share


def dye_class_id(word: str) -> str:
    """The id of a dye class or family of classes from what a person wrote; "" for none or unknown.

    Raises InputError with the accepted words.
    """
    text = " ".join(word.casefold().split())
    if text in ("", UNKNOWN):
        return ""
    k = knowledge()
    if text.replace(" ", "-") in k.dye_class_families:
        return text.replace(" ", "-")
    row = k.dye_classes.find(text)
    if row is not None:
        return row.id
    accepted = (*k.dye_classes.ids, *k.dye_class_families)
    hint = did_you_mean(near_words(text, (*accepted, *k.dye_classes.words), k.dye_class_families))
    shown = clean(word)[:60]
    raise InputError(
        f"{shown!r} is no dye class{hint} Accepted: {', '.join(accepted)}", file="screen", field="dye class"
    )


@lru_cache(maxsize=MOST_LABELS)
def judged_label(fibres: str) -> tuple[Goods, tuple[ClassAnswer, ...], tuple[Finish, ...]]:
    """What a label says whatever the dye: the goods, every class ranked, the finishes. Raises LabelError."""
    goods = goods_of(read_label(fibres))
    return goods, judge_all(goods), finishes_on(fibres)


def answer_label(fibres: str, dye_class: str = "", colour: str = "") -> Answered:
    """Everything about one label for one class (id or family), or for the best class when it is "".

    Raises LabelError for a label that cannot be true.
    """
    goods, ranked, finishes = judged_label(fibres)
    colour = colour_word(colour)
    if colour == UNKNOWN and says_dyed(fibres):
        colour = "dyed"
    composition = goods.composition
    forbidden = _forbidden(composition.components())
    if forbidden:
        return _not_to_handle(fibres, composition, forbidden, colour)
    chosen = judge(goods, dye_class) if dye_class else ranked[0]
    answer = chosen.answer
    blocking = [f for f in finishes if f.effect == "blocks"]
    if blocking and answer in ("takes dye", "takes dye in part", "stains only"):
        answer = "cannot tell"
    components = composition.components()
    return Answered(
        fibres=fibres,
        composition=composition,
        answer=answer,
        chosen=chosen,
        classes=ranked,
        why=_why(goods, chosen, ranked, finishes, asked=bool(dye_class), dyed=is_dyed(colour)),
        ask=_ask(composition, blocking),
        undyed=tuple(_undyed(goods, chosen.dye_class)),
        small_parts=_small_parts(chosen.dye_class),
        finishes=tuple(f.id for f in finishes),
        confidence=max((c.confidence for c in components), key=_CONFIDENCE.index),
        notes=composition.notes,
        likely=tuple(_likely(components)),
        problem="",
        colour=colour,
    )


def _forbidden(components: Iterable[Component]) -> str:
    """Why nobody may handle the goods; "" where nothing says so. However little there is of such a fibre counts."""
    rows = (knowledge().fibres[c.fibre] for c in components if c.fibre != UNKNOWN and c.share.high > 0)
    return " ".join(row.do_not_handle for row in rows if row.do_not_handle)


def _not_to_handle(fibres: str, composition: Composition, why: str, colour: str) -> Answered:
    """The answer for goods that nobody may handle: no dye class, no swatch, nothing to try."""
    return Answered(
        fibres, composition, "do not handle", None, (), why, "", (), (), (), "stated", composition.notes, (), "", colour
    )


def unreadable(fibres: str, problem: str) -> Answered:
    """The answer for a label that cannot be true, or a class that is none: nobody can tell."""
    ask = "What does the sewn-in label say, word for word, with percentages?"
    return Answered(
        fibres, None, "cannot tell", None, (), problem, ask, (), (), (), "assumed", (), (), problem, UNKNOWN
    )


def no_label() -> Answered:
    """The answer for an item without any label text."""
    return unreadable("", "No label text.")


def is_dyed(colour: str) -> bool | None:
    """Whether a colour word says the goods have a colour already; None when nothing is said."""
    word = colour_word(colour)
    return None if word == UNKNOWN else word == "dyed"


@lru_cache(maxsize=1024)
def colour_word(colour: str) -> str:
    """A plan's word for what a colour column says: undyed, dyed or unknown."""
    text = fold(" ".join(colour.split()))
    if text in ("", "-", "?", UNKNOWN):
        return UNKNOWN
    return "undyed" if text in _undyed_words() else "dyed"


@lru_cache(maxsize=1)
def _undyed_words() -> frozenset[str]:
    row = screen_tables().columns["undyed"]
    return frozenset(fold(word) for word in (row.id, *row.synonyms))


@lru_cache(maxsize=MOST_LABELS)
def says_dyed(text: str) -> bool:
    """Whether a label names a colour the goods have, or says they are dyed."""
    words = f" {_spaced(text)} "
    undyed, dyed = _colour_phrases()
    for phrase in undyed:
        words = words.replace(phrase, " ")
    return any(phrase in words for phrase in dyed)


@lru_cache(maxsize=1)
def _colour_phrases() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What says on a label that goods are undyed (such as "not dyed"), and what says that they are dyed."""
    _, goods = label_tables()
    columns = screen_tables().columns
    row = columns["undyed on a label"]
    undyed = tuple(f" {_spaced(word)} " for word in (row.id, *row.synonyms))
    rows = [goods[name] for name in ("colour words", "colourfast or pre-dyed", "dyed in the fibre")]
    dyed = {f" {_spaced(word)} " for row in (*rows, columns["dyed"]) for word in (row.id, *row.synonyms)}
    return undyed, tuple(sorted(dyed))


def finishes_on(text: str) -> tuple[Finish, ...]:
    """The finishes a label names, by the words of the tables of finishes and of goods words."""
    padded = f" {_spaced(text)} "
    return tuple(finish for words, finish in _finish_words() if any(f" {word} " in padded for word in words))


def _spaced(text: str) -> str:
    return " ".join("".join(c if c.isalnum() else " " for c in fold(text)).split())


@lru_cache(maxsize=1)
def _finish_words() -> tuple[tuple[tuple[str, ...], Finish], ...]:
    """Each finish with all words for it: its own, and those of the goods words that stand for it."""
    _, goods = label_tables()
    owner: dict[str, str] = {}
    for finish in knowledge().finishes:
        for word in (finish.id, *finish.synonyms):
            owner.setdefault(_spaced(word), finish.id)
    for row in goods:
        found = next((owner[_spaced(w)] for w in (row.id, *row.synonyms) if _spaced(w) in owner), None)
        if found and row.kind in ("finish", "coating"):
            for word in row.synonyms:
                owner.setdefault(_spaced(word), found)
    return tuple((tuple(w for w, o in owner.items() if o == f.id and w), f) for f in knowledge().finishes)


_DOES = {
    "full": "takes it",
    "partial": "takes it in part",
    "stain": "only stains",
    "none": "stays undyed",
    "damage": "is harmed by the bath",
}


def share_words(share: Interval) -> str:
    """ "80 %", "0 to 100 %"."""
    return f"{share.low:g} %" if share.exact else f"{share.low:g} to {share.high:g} %"


def _name_of(component: Component) -> str:
    if component.fibre != UNKNOWN:
        return knowledge().fibres[component.fibre].label
    return f"'{component.text}'" if component.text else "an unnamed fibre"


def _why(
    goods: Goods,
    chosen: ClassAnswer,
    ranked: tuple[ClassAnswer, ...],
    finishes: tuple[Finish, ...],
    *,
    asked: bool,
    dyed: bool | None,
) -> str:
    lines = [_by_fibre(goods, chosen.dye_class)]
    if chosen.too_hot:
        lines.append(f"The bath wants {chosen.heat.low:g} °C, the goods stand {chosen.fibre_heat.high:g} °C at most.")
    lines += [
        f"{finish.label[:1].upper()}{finish.label[1:]}: {finish.note}"
        for finish in finishes
        if finish.effect != "no effect"
    ]
    if dyed:
        lines.append("It has a colour already: dye only adds to it.")
    surface = next((c for c in ranked if c.surface and c.answer in ("takes dye", "takes dye in part")), None)
    if not asked and surface and chosen.answer in ("stains only", "stays undyed", "harmed"):
        lines.append(f"Only {surface.dye_class} colour holds, as a film on the surface.")
    return " ".join(lines)


def _by_fibre(goods: Goods, dye_class: str) -> str:
    k = knowledge()
    judged = judged_fibres(goods, dye_class)
    name = k.dye_classes[dye_class].title if dye_class in k.dye_classes else f"{dye_class} dye"
    if len(judged) == 1 and judged[0].component.fibre != UNKNOWN and dye_class in k.dye_classes:
        fibre = judged[0].component.fibre
        uptake = k.uptake[k.fibres[fibre].family, dye_class]
        return f"{_name_of(judged[0].component)} with {name}: {_DOES[uptake.take]}. {uptake.condition}"
    said = []
    for one in judged:
        does = " or ".join(_DOES[way] for way in _DOES if way in one.takes) if len(one.takes) < 3 else "cannot be told"
        part = f"{one.part}: " if one.part else ""
        said.append(f"{part}{_name_of(one.component)} ({share_words(one.component.share)}) {does}")
    hidden = _likely(one.component for one in judged)
    tail = f" Such words mostly stand for {', '.join(hidden)}." if hidden else ""
    return f"With {name}: {'; '.join(said)}.{tail}"


def _ask(composition: Composition, blocking: Iterable[Finish]) -> str:
    asks = list(composition.asks)
    if any(blocking) and not any("water" in ask for ask in asks):
        asks.append("Does a drop of water soak into it within a minute?")
    return " ".join(dict.fromkeys(asks))


def _likely(components: Iterable[Component]) -> list[str]:
    words = [word for c in components if c.fibre == UNKNOWN for word in goods_words(c.text) if word]
    return list(dict.fromkeys(knowledge().fibres[fibre].label for word in words for fibre in word.may_hide))


def _undyed(goods: Goods, dye_class: str) -> Iterable[str]:
    for one in judged_fibres(goods, dye_class):
        if one.component.fibre != UNKNOWN and one.takes <= {"none", "stain"} and one.component.share.high > 0:
            part = f" of the {one.part}" if one.part else ""
            yield f"{_name_of(one.component)}{part} ({share_words(one.component.share)})"


@lru_cache(maxsize=64)
def _small_parts(dye_class: str) -> tuple[str, ...]:
    """The small parts that this class leaves as they are, or maybe does."""
    found = []
    for part in screen_tables().small_parts:
        ways = frozenset[str]().union(*(takes(families_of(fibre, "")[0], dye_class) for fibre in part.fibres))
        if "full" not in ways:
            found.append(part.id)
        elif len(ways) > 1:
            found.append(f"{part.id} (maybe)")
    return tuple(found)


def item_answer(item: Item) -> Answered:
    """The answer for an item; an unreadable label gives "cannot tell" with the problem named."""
    if not item.fibres.strip():
        return no_label()
    try:
        return answer_label(item.fibres, item.dye_class, item.colour)
    except LabelError as error:
        return unreadable(item.fibres, str(error)[:_SHOWN])


def as_item(entry: str | Mapping[str, Any], number: int, dye_class: str = "", use: str = "", colour: str = "") -> Item:
    """An item from label text, or from a table with name, fibres, dye_class, use and colour.

    Raises InputError for anything else, and for a class that is none.
    """
    where = f"item {number}"
    if isinstance(entry, str):
        entry = {"fibres": entry}
    if not isinstance(entry, Mapping) or not all(isinstance(v, str) for v in entry.values()):
        raise InputError("expected label text, or a table of texts with fibres", file=where)
    unknown = sorted(set(entry) - {"name", "fibres", "dye_class", "use", "colour"})
    if unknown or "fibres" not in entry:
        wrong = f"unknown key {unknown[0]!r}" if unknown else "fibres is missing"
        raise InputError(f"{wrong}; accepted: name, fibres, dye_class, use, colour", file=where)
    return Item(
        name=clean(entry.get("name", "")) or where,
        fibres=entry["fibres"],
        dye_class=dye_class_id(entry.get("dye_class", "") or dye_class),
        use=entry.get("use", use),
        colour=entry.get("colour", colour),
    )
