"""What a composition label says: fibres and their shares, part by part."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from advisor.interval import Interval, as_interval

UNKNOWN = "unknown"
WHOLE = "whole"
FULL = 100.0  # per cent
Confidence = Literal["stated", "read with repair", "assumed"]
_ORDER: tuple[Confidence, ...] = ("stated", "read with repair", "assumed")


class LabelError(ValueError):
    """A label that cannot be true, or is no label; says what was wrong and what is accepted."""


@dataclass(frozen=True, slots=True)
class Component:
    """One fibre of a part: its id or "unknown", and its share in % of the part's mass."""

    fibre: str
    share: Interval
    text: str
    confidence: Confidence


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the goods ("whole", "shell", "lining" ...) and its fibres."""

    name: str
    components: tuple[Component, ...]


@dataclass(frozen=True, slots=True)
class Composition:
    """What a label says: the parts, what to ask the seller, and how the text was read."""

    parts: tuple[Part, ...]
    asks: tuple[str, ...]
    notes: tuple[str, ...]
    text: str

    @property
    def known(self) -> bool:
        """True when every fibre is known and its share of the whole is exact."""
        return all(c.fibre != UNKNOWN and c.share.exact for c in self.components())

    def components(self) -> tuple[Component, ...]:
        """Each fibre once, over all parts, share in % of the mass of the goods.

        Labels do not say how much of the mass is lining. With several parts a share therefore runs from
        its lowest in any part to its highest in any part. By hand:

        >>> shell, lining = Component("wool", as_interval(100), "", "stated"), Component("silk", as_interval(100), "", "stated")
        >>> goods = Composition((Part("shell", (shell,)), Part("lining", (lining,))), (), (), "")
        >>> [(c.fibre, c.share.low, c.share.high) for c in goods.components()]
        [('wool', 0.0, 100.0), ('silk', 0.0, 100.0)]
        """
        merged = [merge_alike(part.components) for part in self.parts]
        if len(merged) == 1:
            return merged[0]
        by_fibre: dict[str, list[Component]] = {}
        for components in merged:
            for component in components:
                by_fibre.setdefault(component.fibre, []).append(component)
        result = []
        for fibre, found in by_fibre.items():
            share = found[0].share
            for component in found[1:]:
                share = share.hull(component.share)
            if len(found) < len(merged):
                share = share.hull(Interval.point(0.0))
            result.append(Component(fibre, share, _joined(c.text for c in found), _weakest(found)))
        return tuple(result)


def merge_alike(components: Sequence[Component]) -> tuple[Component, ...]:
    """Components of one part, each fibre once; shares in % of the part, never above 100 % together. By hand:

    >>> wool = Component("wool", as_interval(30), "", "stated")
    >>> [(c.fibre, c.share.low) for c in merge_alike([wool, wool])]
    [('wool', 60.0)]
    """
    by_fibre: dict[str, list[Component]] = {}
    for component in components:
        by_fibre.setdefault(component.fibre, []).append(component)
    result = []
    for fibre, found in by_fibre.items():
        share = as_interval(0.0)
        for component in found:
            share = share + component.share
        if len(found) > 1:
            share = share.clip(0.0, FULL).rounded()
        result.append(Component(fibre, share, _joined(c.text for c in found), _weakest(found)))
    return tuple(result)


def _joined(texts: Iterable[str]) -> str:
    return ", ".join(unique(text for text in texts if text))


def _weakest(components: Iterable[Component]) -> Confidence:
    return max((component.confidence for component in components), key=_ORDER.index)


def unique(texts: Iterable[str]) -> tuple[str, ...]:
    """The texts without repeats, in their order. By hand:

    >>> unique(["wool", "silk", "wool"])
    ('wool', 'silk')
    """
    return tuple(dict.fromkeys(texts))
