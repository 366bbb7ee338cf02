"""Whether items that must come out alike will, when they share one bath: which will differ, and why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from advisor.composition import UNKNOWN
from advisor.knowledge import knowledge
from advisor.screening.answer import goods_of, judge
from advisor.screening.item import Answered, Item, Screened, colour_word, share_words

_MOST_GROUPS = 200
_MOST_NAMES = 5


@dataclass
class Group:
    """Items that should come out alike: the same fibres in nearly the same shares, finishes and colour."""

    answered: Answered
    colour: str
    count: int = 0
    names: list[str] = field(default_factory=list)

    @property
    def title(self) -> str:
        """A few names, and how many more."""
        more = f" and {self.count - len(self.names)} more" if self.count > len(self.names) else ""
        return ", ".join(self.names) + more


@dataclass(frozen=True)
class Difference:
    """Two groups that will differ in one bath, or may, and why."""

    one: str
    other: str
    certain: bool
    why: tuple[str, ...]


@dataclass(frozen=True)
class Match:
    """`alike` is True, False, or None when that cannot be told; the class is the one compared with."""

    alike: bool | None
    dye_class: str
    groups: tuple[Group, ...]
    differences: tuple[Difference, ...]
    left_out: int = 0


class Matcher:
    """Gathers items into groups that are alike; memory is bounded by the number of groups kept."""

    def __init__(self) -> None:
        self._groups: dict[tuple[object, ...], Group] = {}
        self._left_out = 0

    def add(self, item: Item, answered: Answered) -> None:
        """Take in one more item."""
        colour = colour_word(item.colour)
        colour = answered.colour if colour == UNKNOWN else colour
        key = (_shares(answered), answered.finishes, colour)
        if key not in self._groups:
            if len(self._groups) >= _MOST_GROUPS:
                self._left_out += 1
                return
            self._groups[key] = Group(answered, colour)
        group = self._groups[key]
        group.count += 1
        if len(group.names) < _MOST_NAMES:
            group.names.append(item.name)

    def result(self) -> Match:
        """Each group against the one with the most items."""
        groups = sorted(self._groups.values(), key=lambda group: -group.count)
        dye_class = _common_class(groups)
        differences = [d for other in groups[1:] if (d := _difference(groups[0], other, dye_class)) is not None]
        unsure = any(_unknown(group) for group in groups) or self._left_out > 0
        certain = any(d.certain for d in differences)
        certain = certain or any(group.answered.answer == "do not handle" for group in groups)
        alike = False if certain else None if unsure or differences else True
        return Match(alike, dye_class, tuple(groups), tuple(differences), self._left_out)


def matching(screened: Iterable[Screened]) -> Match:
    """The match of a set of items."""
    matcher = Matcher()
    for one in screened:
        matcher.add(one.item, one.answered)
    return matcher.result()


def _shares(answered: Answered) -> tuple[tuple[str, float, float], ...]:
    if answered.composition is None:
        return ((answered.fibres, 0.0, 0.0),)
    return tuple(
        sorted(
            (c.fibre if c.fibre != UNKNOWN else f"? {c.text}", c.share.low, c.share.high)
            for c in answered.composition.components()
        )
    )


def _common_class(groups: list[Group]) -> str:
    """The class asked for, else the class that is best over all groups."""
    asked = {g.answered.chosen.dye_class for g in groups if g.answered.chosen}
    if len(asked) == 1:
        return asked.pop()
    totals: dict[str, float] = {}
    for group in groups:
        for c in group.answered.classes:
            if not c.surface:
                totals[c.dye_class] = totals.get(c.dye_class, 0.0) + (c.score or 0.0)
    return max(totals, key=lambda name: totals[name]) if totals else ""


def _unknown(group: Group) -> bool:
    composition = group.answered.composition
    return composition is None or any(c.fibre == UNKNOWN for c in composition.components())


def _difference(one: Group, other: Group, dye_class: str) -> Difference | None:
    why, certain = _why(one, other, dye_class)
    return Difference(one.title, other.title, certain, tuple(why)) if why else None


def _why(one: Group, other: Group, dye_class: str) -> tuple[list[str], bool]:
    k = knowledge()
    a, b = one.answered, other.answered
    if a.composition is None or b.composition is None or _unknown(one) or _unknown(other):
        return ["A fibre is not known, so nobody can say whether they match."], False
    if "do not handle" in (a.answer, b.answer):
        return ["One of them must not be handled at all."], True
    why, certain = [], False
    tolerance = k.limits["label_unnamed_share"].figure.low
    shares_a = {c.fibre: c.share for c in a.composition.components()}
    shares_b = {c.fibre: c.share for c in b.composition.components()}
    families_a, families_b = (
        {k.fibres[f].family for f, s in shares.items() if s.high > tolerance} for shares in (shares_a, shares_b)
    )
    if families_a != families_b:
        odd = sorted(families_a ^ families_b)
        why.append(f"Unlike fibres: only one of them holds {', '.join(k.families[f].label for f in odd)}.")
        certain = True
    else:
        moved = [
            f
            for f in dict.fromkeys([*shares_a, *shares_b])
            if f in shares_a and f in shares_b and abs(shares_a[f].middle - shares_b[f].middle) > tolerance
        ]
        if moved:
            said = ", ".join(
                f"{k.fibres[f].label} {share_words(shares_a[f])} against {share_words(shares_b[f])}" for f in moved
            )
            why.append(f"Another blend: {said}.")
            certain = True
        elif {f for f, s in shares_a.items() if s.high > tolerance} != {
            f for f, s in shares_b.items() if s.high > tolerance
        }:
            why.append("Fibres of one family, but not the same: they take the dye at their own speed.")
    if dye_class:
        answers = judge(goods_of(a.composition), dye_class).answer, judge(goods_of(b.composition), dye_class).answer
        if answers[0] != answers[1]:
            why.append(f"With {dye_class} dye one {answers[0]}, the other {answers[1]}.")
            certain = certain or "cannot tell" not in answers
    if set(a.finishes) != set(b.finishes):
        odd = sorted(set(a.finishes) ^ set(b.finishes))
        why.append(f"Only one of them has this finish: {', '.join(odd)}.")
        certain = True
    if one.colour != other.colour:
        why.append(f"One is {one.colour}, the other {other.colour}.".replace("is unknown", "of unknown colour"))
        certain = certain or UNKNOWN not in (one.colour, other.colour)
    return why, certain
