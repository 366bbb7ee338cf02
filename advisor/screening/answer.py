"""How one composition takes one dye class, or every class: the judgement behind a screening.

The words and limits are those of the rules on fibres (rules/checks/fibre.toml), so that a single fibre gets
the answer that `check` gives. A blend is judged by the mass of what takes the dye. Shares are in %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from advisor.composition import FULL, UNKNOWN, WHOLE, Component, Composition, merge_alike
from advisor.interval import Interval, rounded
from advisor.knowledge import TAKES_DYE, knowledge, label_tables
from advisor.label_words import fold
from advisor.rows import GoodsWord
from advisor.screening.tables import screen_tables

Answer = Literal[
    "takes dye", "takes dye in part", "stains only", "stays undyed", "harmed", "cannot tell", "do not handle"
]
# best first; a class that nobody can judge stands before those that surely fail
ANSWERS: tuple[Answer, ...] = (
    "takes dye",
    "takes dye in part",
    "cannot tell",
    "stains only",
    "stays undyed",
    "harmed",
    "do not handle",
)


@dataclass(frozen=True, slots=True)
class Fibre:
    """A fibre of a part, with the families it may be of and those it is likely of."""

    component: Component
    families: tuple[str, ...]
    likely: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Goods:
    """A composition made ready to be judged: the fibres of each part, and the heat in °C that the tenderest stands.

    Harm may begin above the low end of the heat, and is certain above the high end.
    """

    composition: Composition
    parts: tuple[tuple[str, tuple[Fibre, ...]], ...]
    heat: Interval


@dataclass(frozen=True, slots=True)
class Judged:
    """What one fibre of a part does in a bath of one class."""

    part: str
    component: Component
    takes: frozenset[str]


@dataclass(frozen=True, eq=False, slots=True)
class ClassAnswer:
    """How the goods take one dye class (or a family of classes): answer, dyeable share in %, grades, heat in °C.

    `score` = uptake x ease x mildness, each from 0 to 1; None for a family of classes.
    """

    dye_class: str
    answer: Answer
    share: Interval
    uptake: float | None
    ease: float | None
    mildness: float | None
    heat: Interval
    fibre_heat: Interval
    parts: tuple[tuple[str, Answer], ...]
    surface: bool = False

    @property
    def score(self) -> float | None:
        """Uptake x ease x mildness."""
        if self.uptake is None or self.ease is None or self.mildness is None:
            return None
        return rounded(self.uptake * self.ease * self.mildness)

    @property
    def too_hot(self) -> bool:
        """Whether the coolest usual bath of the class is hotter than every fibre stands."""
        return self.heat.low > self.fibre_heat.high


@lru_cache(maxsize=1)
def _goods_words() -> dict[str, GoodsWord]:
    _, words = label_tables()
    return {fold(text).replace("-", " "): row for row in words for text in (row.id, *row.synonyms)}


def goods_words(text: str) -> tuple[GoodsWord | None, ...]:
    """The vague words behind an unknown component ("satin"); None for a word that is in no table."""
    words = (fold(word).replace("-", " ") for word in text.split(", "))
    return tuple(_goods_words().get(word) for word in words)


@lru_cache(maxsize=4096)
def families_of(component_fibre: str, text: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The families a component may be of, and those it is likely of. The same for a known fibre."""
    k = knowledge()
    if component_fibre != UNKNOWN:
        family = (k.fibres[component_fibre].family,)
        return family, family
    words = goods_words(text)
    hidden = [fibre for word in words if word for fibre in word.may_hide]
    told = all(word is not None and word.may_hide for word in words)
    return k.families.ids, tuple(dict.fromkeys(k.fibres[f].family for f in hidden)) if told else k.families.ids


@lru_cache(maxsize=8192)
def takes(families: tuple[str, ...], dye_class: str) -> frozenset[str]:
    """`Knowledge.takes`, remembered: a list asks for the same again and again."""
    return knowledge().takes(families, dye_class)


@lru_cache(maxsize=64)
def _bath(dye_class: str) -> Interval:
    """The heat of the usual bath, °C."""
    baths = [member.temperature for member in knowledge().members(dye_class)]
    return Interval(min(b.low for b in baths), max(b.high for b in baths))


def goods_of(composition: Composition) -> Goods:
    """A composition made ready to be judged."""
    parts = tuple(
        (part.name, tuple(Fibre(c, *families_of(c.fibre, c.text)) for c in merge_alike(part.components)))
        for part in composition.parts
    )
    limits = [_limit(fibre) for _, fibres in parts for fibre in fibres]
    return Goods(composition, parts, Interval(min(low for low, _ in limits), min(high for _, high in limits)))


def _limit(fibre: Fibre) -> tuple[float, float]:
    k = knowledge()
    own = None if fibre.component.fibre == UNKNOWN else k.fibres[fibre.component.fibre].heat_limit
    limits = [own] if own else [k.families[family].heat_limit for family in fibre.likely]
    return min(limit.low for limit in limits), min(limit.high for limit in limits)


def judge(goods: Goods, dye_class: str) -> ClassAnswer:
    """The answer for one dye class id, or a family of classes."""
    grade = screen_tables().grades.get(dye_class)
    answers = tuple((name, _part_answer(fibres, dye_class)) for name, fibres in goods.parts)
    shares = [_dyeable(fibres, dye_class) for _, fibres in goods.parts]
    share = shares[0]
    for other in shares[1:]:
        share = share.hull(other)
    return ClassAnswer(
        dye_class=dye_class,
        answer=_together([answer for _, answer in answers]),
        share=share,
        uptake=_uptake(goods, dye_class) if grade else None,
        ease=grade.ease.low if grade else None,
        mildness=grade.mildness.low if grade else None,
        heat=_bath(dye_class),
        fibre_heat=goods.heat,
        parts=answers,
        surface=bool(grade and grade.surface),
    )


def judge_all(goods: Goods) -> tuple[ClassAnswer, ...]:
    """Every dye class, best first; surface colours, and baths that the fibre does not stand, come last.

    In between they stand by the answer, then by uptake x ease x mildness.
    """
    judged = [judge(goods, dye_class) for dye_class in knowledge().dye_classes.ids]
    return tuple(sorted(judged, key=lambda c: (c.surface, c.too_hot, ANSWERS.index(c.answer), -(c.score or 0.0))))


def _together(answers: Sequence[Answer]) -> Answer:
    """One answer for goods of several parts, of which nobody knows the masses."""
    found = set(answers)
    if "harmed" in found:
        return "harmed"
    if "cannot tell" in found:
        return "cannot tell"
    if len(found) == 1:
        return answers[0]
    return "takes dye in part" if found & {"takes dye", "takes dye in part"} else "stains only"


def _part_answer(fibres: Sequence[Fibre], dye_class: str) -> Answer:
    """The answer for one part; where several classes are meant, only what all of them agree on."""
    possible: set[Answer] = set()
    for member in knowledge().members(dye_class):
        possible |= _possible(_Masses(fibres, [takes(fibre.families, member.id) for fibre in fibres]))
    return possible.pop() if len(possible) == 1 else "cannot tell"


def _dyeable(fibres: Sequence[Fibre], dye_class: str) -> Interval:
    """The share of a part that takes the class, with unknown fibres taken for what they likely are."""
    return Interval(*_Masses(fibres, [takes(fibre.likely, dye_class) for fibre in fibres]).of(TAKES_DYE))


class _Masses:
    """The shares of the fibres of a part by the ways they may take a class."""

    def __init__(self, fibres: Sequence[Fibre], ways: Sequence[frozenset[str]]) -> None:
        self._entries = [
            (way, f.component.share.low, f.component.share.high) for f, way in zip(fibres, ways, strict=True)
        ]
        self._exact = all(low == high for _, low, high in self._entries)

    def of(self, wanted: frozenset[str]) -> tuple[float, float]:
        """The share, from and to, that behaves in a wanted way; shares that are not exact fill up to 100 %."""
        low = high = rest_low = rest_high = 0.0
        for way, least, most in self._entries:
            if way <= wanted:
                low += least
                high += most
            elif way & wanted:
                high += most
                rest_high += most
            else:
                rest_low += least
                rest_high += most
        if not self._exact:
            low = max(low, FULL - rest_high)
            high = min(high, FULL - rest_low)
        low, high = _tidy(min(low, FULL)), _tidy(min(high, FULL))
        return (low, high) if low <= high else (high, low)

    def worst(self, way: str) -> tuple[float, float]:
        """The largest share of any one fibre that surely, and that maybe, behaves this way."""
        low = high = 0.0
        for ways, least, most in self._entries:
            if way in ways:
                high = max(high, most)
                if len(ways) == 1:
                    low = max(low, least)
        return low, high


def _tidy(value: float) -> float:
    """The value without the noise of sums; most are whole already."""
    return value if value.is_integer() else rounded(value)


_FULL, _STAIN, _NONE = frozenset({"full"}), frozenset({"stain"}), frozenset({"none"})


@lru_cache(maxsize=1)
def _limits() -> tuple[float, float]:
    """The share from which goods count as dyed all over, and the share that a label may leave unnamed, in %."""
    limits = knowledge().limits
    return limits["dyeable_share_full"].figure.low, limits["label_unnamed_share"].figure.low


def _possible(masses: _Masses) -> set[Answer]:
    """Every answer that the shares and the fibres allow."""
    full_from, unnamed = _limits()
    little = FULL - full_from
    surely_harmed, maybe_harmed = masses.worst("damage")
    if surely_harmed > unnamed:
        return {"harmed"}
    possible: set[Answer] = {"harmed"} if maybe_harmed > unnamed else set()
    full_low, full_high = masses.of(_FULL)
    low, high = masses.of(TAKES_DYE)
    if full_high >= full_from:
        possible.add("takes dye")
    if full_low < full_from and high > little:
        possible.add("takes dye in part")
    if low <= little:
        stain_low, stain_high = masses.of(_STAIN)
        none_low, none_high = masses.of(_NONE)
        if stain_high >= none_low and stain_high > 0:
            possible.add("stains only")
        if none_high > stain_low:
            possible.add("stays undyed")
    return possible


def _uptake(goods: Goods, dye_class: str) -> float:
    """How well the class is taken, 0 to 1: over the mass, in the middle of what is open; parts count alike."""
    total = 0.0
    for _, fibres in goods.parts:
        mass = taken = 0.0
        for fibre in fibres:
            share = fibre.component.share.middle
            mass += share
            taken += share * _weight(fibre.likely, dye_class)
        total += taken / (mass or FULL)
    return rounded(total / len(goods.parts))


@lru_cache(maxsize=8192)
def _weight(families: tuple[str, ...], dye_class: str) -> float:
    weights = screen_tables().weights
    ways = takes(families, dye_class)
    return sum(weights[way] for way in ways) / len(ways)


def judged_fibres(goods: Goods, dye_class: str) -> tuple[Judged, ...]:
    """Each fibre of each part with the ways it may take the class."""
    return tuple(
        Judged("" if name == WHOLE else name, fibre.component, takes(fibre.families, dye_class))
        for name, fibres in goods.parts
        for fibre in fibres
    )
