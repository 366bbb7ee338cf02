"""Short texts for questions, notes and errors about labels."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field

from advisor.composition import WHOLE, unique
from advisor.label_words import fold, vocabulary

SHOWN = 60
LIKELY_SLIP = 0.75  # similarity from which a strange word is taken for a misspelt fibre name
NAMES_ACCEPTED = "a name such as wool, cotton or polyester, or 'unknown'"


@dataclass(slots=True)
class Remarks:
    """Questions and notes that come up while a label is read, in their order."""

    asks: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def ask(self, text: str) -> None:
        """One more question."""
        self.asks.append(text)

    def note(self, text: str) -> None:
        """One more note."""
        self.notes.append(text)


def of_part(name: str) -> str:
    """The head of a sentence about a part; nothing for the whole."""
    return "" if name == WHOLE else f"{name}: "


def percent(value: float) -> str:
    """A share in words."""
    return f"{value:g} %"


def short(text: str) -> str:
    """Text of a label on one line, cut to a length, and without what a terminal would act on."""
    flat = "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))
    return flat if len(flat) <= SHOWN else flat[: SHOWN - 1] + "…"


def listed(texts: Iterable[str]) -> str:
    """A few texts, then "and more"."""
    shown = [short(text) for text in unique(texts)]
    few = ", ".join(shown[:8])
    return few if len(shown) <= 8 else f"{few} and more"


def misspelt(text: str) -> bool:
    """Whether a word is so near to a generic name that it is a slip of the pen, not a brand or trade word."""
    return bool(difflib.get_close_matches(fold(text)[:SHOWN], vocabulary().english, n=1, cutoff=LIKELY_SLIP))


def suggest(text: str) -> str:
    """The generic names a strange word is like, as a hint; nothing when there is none."""
    folded = fold(text)[:SHOWN]
    near = difflib.get_close_matches(folded, vocabulary().english, n=3, cutoff=LIKELY_SLIP)
    return f" (did you mean {' or '.join(near)}?)" if near else ""
