"""The items of a label (shares, names, part words ...) and which share belongs to which name."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from advisor.composition import FULL, UNKNOWN, WHOLE
from advisor.label_words import Meaning

# Kinds of goods words (labels.toml) that may stand for a fibre which is not named,
# and those worth a question even beside a complete list of fibres.
MAY_BE_FIBRE = frozenset({"source", "blend", "property", "effect", "coating", "component", "not a textile fibre"})
ALWAYS_ASK = frozenset({"effect", "coating", "component", "finish", "not a textile fibre"})
GOODS = MAY_BE_FIBRE | {"construction", "finish", "claim"}
# lowest rank of what a number without a percent sign may belong to, the surest reading first: generic names,
# words such as "poly", words in no table
NUMBERED = (8, 4, 2)
QUIET = frozenset(
    {"qualifier", "filler", "joiner", "whole", "everyday", "at least", "at most", "about", "percent", "denied"}
)


@dataclass(slots=True)
class Item:
    """Something on the label with a meaning: kind "share", "ratio", "number", "code", "word", "sep" or a
    kind of `Meaning`."""

    kind: str
    text: str
    start: int
    end: int
    meaning: Meaning | None = None
    low: float = 0.0
    high: float = 0.0
    said: float = 0.0
    repaired: bool = False
    loose: bool = False  # "at least", "about": the rest of the label may hold more
    fibres: tuple[str, ...] = ()
    values: tuple[tuple[float, bool], ...] = ()

    @property
    def rank(self) -> int:
        """How likely it is that this names the fibre of a share; 0 for no chance."""
        if self.kind == "name":
            assert self.meaning is not None
            return 2 if self.meaning.filler else 5 if self.meaning.everyday else 9
        if self.kind in ("rest", "code", "blend"):
            return 8
        if self.kind in MAY_BE_FIBRE:
            return 4
        if self.kind in GOODS:
            return 3
        return 2 if self.kind == "word" else 0

    @property
    def names_fibre(self) -> bool:
        """True for a generic name, a code, a union of two fibres or "other fibres"."""
        return self.kind in ("name", "code", "blend", "rest")


def said_already(item: Item, stated: set[str], complete: bool) -> bool:
    """True for a name without a share that adds nothing to the fibres with one."""
    if item.kind == "name" and item.meaning is not None:
        return item.meaning.fibre in stated or item.meaning.filler
    if item.kind == "rest":
        return complete or UNKNOWN in stated
    if item.kind == "blend" and item.meaning is not None and item.meaning.row is not None:
        return bool(stated & set(item.meaning.row.may_hide))
    return bool(stated & set(item.fibres))


def told_by(claim: Item, named: Iterable[Item]) -> bool:
    """True for a claim that a named fibre explains: "bamboo viscose", but not "bamboo merino"."""
    if claim.kind == "component":
        return True
    if claim.kind != "source" or claim.meaning is None or claim.meaning.row is None:
        return False
    hidden = claim.meaning.row.may_hide
    return any(item.meaning is not None and item.meaning.fibre in hidden for item in named)


def doubt_beside(items: Sequence[Item], name: Item) -> Item | None:
    """What stands right beside a fibre's name and may make another fibre of it: "pineapple silk", "wool sheepskin".

    A word in no table counts only before the name: behind it stands what the goods are, or a brand.
    """
    at = next((n for n, item in enumerate(items) if item is name), None)
    if at is None or name.meaning is None:
        return None
    before, after = at - 1, at + 1
    while before >= 0 and items[before].kind == "qualifier":
        before -= 1
    while after < len(items) and (items[after].kind in ("qualifier", "filler") or items[after].text == "("):
        after += 1
    if before >= 0 and (items[before].kind == "word" or _other_fibre(items[before], name, everyday=True)):
        return items[before]
    if after < len(items) and _other_fibre(items[after], name, everyday=False):
        return items[after]
    return None


def _other_fibre(item: Item, name: Item, *, everyday: bool) -> bool:
    assert name.meaning is not None
    if item.kind == "source":
        return not told_by(item, [name])
    if item.kind == "name" and item.meaning is not None:
        return everyday and item.meaning.everyday and item.meaning.fibre != name.meaning.fibre
    return item.kind == "not a textile fibre"


def beside(items: Sequence[Item], at: int) -> tuple[int, int]:
    """The places of the neighbours before and after, past qualifiers, brackets and one bound such as "max"."""
    places = []
    for step in (-1, 1):
        n, bounds = at + step, 0
        while 0 <= n < len(items):
            if items[n].kind in ("at least", "at most", "about") and not bounds:
                bounds += 1
            elif items[n].kind != "qualifier" and items[n].text not in "()":
                break
            n += step
        places.append(n)
    return places[0], places[1]


def counts(items: Sequence[Item], at: int, lowest: int) -> bool:
    """True for a number without a percent sign right beside an item of at least this rank."""
    if not 0 < items[at].said <= FULL:
        return False
    for step in (1, -1):
        n = at + step
        while 0 <= n < len(items) and (items[n].kind in ("qualifier", "filler") or items[n].text in "()=:"):
            n += step
        if 0 <= n < len(items) and (items[n].names_fibre or items[n].rank >= lowest):
            return True
    return False


def segments(items: Iterable[Item]) -> list[list[Item]]:
    """The items between separators and linking words; brackets do not separate."""
    segments: list[list[Item]] = [[]]
    for item in items:
        if item.kind == "joiner" or (item.kind == "sep" and item.text not in "()"):
            segments.append([])
        else:
            segments[-1].append(item)
    return [segment for segment in segments if segment]


def assign(items: Sequence[Item]) -> list[tuple[Item, Item | None, Item | None]]:
    """Give each share the item that names its fibre, and the rival that might be meant as well.

    Where each clause holds one share and something it may belong to, the clause decides. Otherwise the
    whole part is read as "share, name, share, name" or as "name, share, name, share", whichever leaves
    fewer shares without a name. In "acrylic 70 % wool" the share has a rival.
    """
    shares = [item for item in items if item.kind == "share"]
    found: list[tuple[Item, Item | None, Item | None]] = []
    for segment in segments(items):
        places = [n for n, item in enumerate(segment) if item.kind == "share"]
        if not places:
            continue
        at = places[0]
        after, before = _best(segment[at + 1 :]), _best(segment[:at][::-1])
        if len(places) > 1 or (after is None and before is None):
            break
        first = before is None or (after is not None and after.rank >= before.rank)
        best, other = (after, before) if first else (before, after)
        found.append((segment[at], best, _rival(best, other)))
    else:
        return found
    gaps: list[list[Item]] = [[]]
    for item in items:
        if item.kind == "share":
            gaps.append([])
        else:
            gaps[-1].append(item)
    ahead = [_best(gap) for gap in gaps[1:]]
    behind = [_best(gap[::-1]) for gap in gaps[:-1]]
    if _score(behind) > _score(ahead):
        return [(share, item, None) for share, item in zip(shares, behind, strict=True)]
    tied = _score(behind) == _score(ahead)
    return [
        (share, item, _rival(item, other) if tied else None)
        for share, item, other in zip(shares, ahead, behind, strict=True)
    ]


def _rival(best: Item | None, other: Item | None) -> Item | None:
    """The other item, where it names another fibre just as well."""
    if best is None or other is None or best.kind != "name" or other.kind != "name":
        return None
    if best.rank != other.rank or best.meaning is None or other.meaning is None:
        return None
    return other if other.meaning.fibre != best.meaning.fibre else None


def _best(items: Iterable[Item]) -> Item | None:
    """The likeliest name, the first of equals."""
    return max((item for item in items if item.rank), key=lambda item: item.rank, default=None)


def _score(found: Iterable[Item | None]) -> tuple[int, int]:
    """How many shares find a name, then how good the names are: a full set of weak ones wins."""
    ranks = [item.rank for item in found if item is not None]
    return (sum(1 for rank in ranks if rank >= 2), sum(ranks))


def names_near(items: Sequence[Item], at: int, count: int) -> list[Item] | None:
    """`count` names right after the ratio, or else right before it."""
    for direction in (items[at + 1 :], items[:at][::-1]):
        found: list[Item] = []
        only_words = not any(item.rank >= 4 for item in direction)
        for item in direction:
            if item.kind in ("share", "ratio", "number"):
                break
            repeats = item.kind == "name" and any(
                other.meaning and item.meaning and other.meaning.fibre == item.meaning.fibre for other in found
            )
            if (item.rank >= 4 and not repeats) or (item.kind == "word" and len(found) < count and only_words):
                found.append(item)
        if len(found) >= count:
            return found[:count] if direction and direction[0].start > items[at].start else found[:count][::-1]
    return None


def union_beside(items: Sequence[Item], at: int, count: int) -> Item | None:
    """The word for a union of `count` fibres right after the ratio, or else right before it."""
    for near in (at + 1, at - 1):
        if 0 <= near < len(items) and items[near].kind == "blend":
            meaning = items[near].meaning
            if meaning is not None and meaning.row is not None and len(meaning.row.may_hide) == count:
                return items[near]
    return None


def words_around(item: Item, items: Sequence[Item]) -> list[Item]:
    """The unbroken run of unknown words that holds this one."""
    at = next((n for n, other in enumerate(items) if other is item), None)
    if at is None:
        return [item]
    first = last = at
    while first > 0 and items[first - 1].kind == "word":
        first -= 1
    while last + 1 < len(items) and items[last + 1].kind == "word":
        last += 1
    return list(items[first : last + 1])


def tails(items: Sequence[Item], at: int) -> bool:
    """True for a part word at the end of its clause: "100 % nylon shell, ..."."""
    before = at - 1
    while before >= 0 and items[before].kind in ("filler", "qualifier"):
        before -= 1
    if before < 0 or not items[before].rank:
        return False
    return at + 1 == len(items) or items[at + 1].kind in ("sep", "joiner", "share", "ratio", "name")


def part_name(item: Item) -> str:
    """The part of the goods that a part word names."""
    return item.meaning.part if item.meaning is not None else WHOLE


def run_names(items: Sequence[Item], run: Sequence[int]) -> list[str]:
    """Names of a run of part words: "shell / lining" are two parts, "hood lining" is one."""
    names = [part_name(items[run[0]])]
    for before, here in itertools.pairwise(run):
        name = part_name(items[here])
        if here == before + 1 and name not in names[-1].split():
            names[-1] += f" {name}"
        elif name not in names:
            names.append(name)
    return names


def has_content(items: Iterable[Item]) -> bool:
    """Whether a share, a ratio or a word that counts is among the items."""
    return any(item.rank or item.kind in ("share", "ratio") for item in items)


def outside_brackets(items: Sequence[Item]) -> list[Item]:
    """The items that stand in no bracket, the brackets themselves left out."""
    depth = 0
    result = []
    for item in items:
        if item.kind == "sep" and item.text in "([{":
            depth += 1
        elif item.kind == "sep" and item.text in ")]}":
            depth = max(0, depth - 1)
        elif depth == 0:
            result.append(item)
    return result
