"""The words of composition labels: what each one means, and how a label is cut into them.

Words come from rules/knowledge/fibres.toml, labels.toml and finishes.toml. Case, accents and hyphens do not matter.
Chinese and Japanese are written without spaces, so there the longest known word counts.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache

from advisor.knowledge import fibre_table, finish_table, label_tables
from advisor.rows import Finish, GoodsWord
from advisor.store import kept

CJK = "\u3005\u3040-\u30fa\u30fc-\u30ff\u3400-\u4dbf\u4e00-\u9fff"
# letters that carry no separable accent
_PLAIN = str.maketrans({"ł": "l", "ø": "o", "æ": "ae", "œ": "oe", "đ": "d", "ð": "d", "ı": "i", "þ": "th"})
_ACCENTS = re.compile("[\u0300-\u036f]+")

# A number that stands before a percent sign may hold letters that scanners put for digits.
_DIGITS = r"(?<!\d)(?:\d|(?<!\w)[OoIl](?=[\dOoIl])|\|(?=00))[\dOoIlSB]{0,8}(?:[.,][\dOo]{1,20})?(?!\d)"
_SIGN = r"(?:%|٪|°\s?/\s?[oO0]|[coO]\s?/\s?[oO0]|(?<=\s)0/[oO0])"
_PLAIN_NUMBER = r"\d{1,3}(?:[.,]\d{1,2})?"
_TURNED_NUMBER = r"\d{1,3}(?:[.,]\d{1,20})?(?!\d)"
_DASH = "[-\u2010-\u2015\u2212]"
_PIECE = re.compile(
    rf"""
    (?P<ratio>(?<![\d.,]){_PLAIN_NUMBER}\s?%?(?:(?:\s?[/:]\s?|{_DASH}|\s{_DASH}\s){_PLAIN_NUMBER}(?!\d)\s?%?){{1,7}})
  | (?P<share>{_DIGITS}\s?[.,]?\s?{_SIGN})
  | (?P<turned>%\s?{_TURNED_NUMBER}(?![\d.,]*\s?%))
  | (?P<number>(?<!\w)[lI|]00(?!\w)|(?<!\d)\d[\dOo]{{1,2}}(?!\w|[.,]\d)|(?<!\d)\d{{1,9}}(?:[.,]\d{{1,9}})?)
  | (?P<cjk>[{CJK}]+)
  | (?P<word>(?:(?![{CJK}])[^\W\d_])+|[<>≤≥≦≧≈~])
  | (?P<sep>[,;:=/+&()\[\]{{}}|.\n•·・、。*])
    """,
    re.VERBOSE,
)
_RATIO_PART = re.compile(rf"({_PLAIN_NUMBER})\s?(%?)")
_TO_DIGITS = str.maketrans("OoIl|SB", "0011158")
_CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff®™©℠]")
_INVISIBLE = re.compile("[\u00ad\u061c\u200b-\u200f\u202a-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb]")
_BROKEN_WORD = re.compile(r"([^\W\d_]{2,24})[-\u2010\u00ad][ \t]{0,8}\n[ \t]{0,8}([^\W\d_]{2,24})")


@lru_cache(maxsize=16384)
def fold(word: str) -> str:
    """The word without case and accents."""
    return _ACCENTS.sub("", unicodedata.normalize("NFKD", word.casefold())).translate(_PLAIN)


@dataclass(slots=True)
class Meaning:
    """What a word or phrase can be. `kind` is "name", or the kind of a row of labels.toml."""

    kind: str
    fibre: str = ""
    row: GoodsWord | None = None
    part: str = ""
    everyday: bool = False
    filler: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """One run of a label: ratio, share, turned, number, cjk, word or sep."""

    kind: str
    text: str
    start: int
    end: int


def clean(text: str) -> str:
    """The text in compatibility form, without control and invisible characters and without broken words."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\u00ad\n", "-\n")
    text = _INVISIBLE.sub("", _CONTROLS.sub(" ", text))
    text = _ACCENTS.sub("", unicodedata.normalize("NFKC", text))
    return _BROKEN_WORD.sub(_join_if_known, text)


def _join_if_known(match: re.Match[str]) -> str:
    joined = match[1] + match[2]
    return joined if vocabulary().knows(fold(joined)) else f"{match[1]} {match[2]}"


def cut(text: str) -> list[Piece]:
    """The pieces of a cleaned text. Takes time in proportion to its length."""
    return [Piece(str(m.lastgroup), m[0], m.start(), m.end()) for m in _PIECE.finditer(text)]


def number(text: str) -> float:
    """The number in a piece, letters read as the digits they stand for."""
    digits = "".join(c for c in text.translate(_TO_DIGITS) if c.isdigit() or c in ".,")
    return float(digits.strip(".,").replace(",", "."))


def share_number(text: str) -> tuple[float, bool]:
    """The number of a share piece, and whether it had to be repaired."""
    found = re.match(_DIGITS, text)
    digits = found[0] if found else text
    sign = text[len(digits) :].strip()
    return number(digits), not (digits.replace(",", "").replace(".", "").isdigit() and sign in ("%", "٪"))


def ratio_numbers(text: str) -> list[tuple[float, bool]]:
    """The numbers of a ratio piece, each with whether a percent sign follows it."""
    return [(float(m[1].replace(",", ".")), bool(m[2])) for m in _RATIO_PART.finditer(text)]


def _key(piece: Piece) -> str:
    return piece.text.replace(",", ".").replace(" ", "") if piece.kind in ("number", "ratio") else fold(piece.text)


def _numbered(pieces: list[Piece], at: int) -> bool:
    """True where a number follows: "silk, art. 4711" is silk with the number of an article, not art silk."""
    if at < len(pieces) and pieces[at].text == ".":
        at += 1
    return at < len(pieces) and pieces[at].kind == "number"


def _asked(finish: Finish) -> GoodsWord:
    """A finish as a word of goods: it names no fibre, and matters to the dye."""
    ask = f"Is this on it: {finish.label}? {finish.note}"
    return GoodsWord(id=finish.id, kind="finish", ask=ask, source=finish.source, basis=finish.basis)


class Vocabulary:
    """All words of the tables, ready for look-up."""

    def __init__(self) -> None:
        codes, goods = label_tables()
        self.codes: dict[str, tuple[str, ...]] = {code.code: code.fibres for code in codes}
        # fibres that are an effect in a cloth and seldom the cloth itself
        self.effects = {row.may_hide[0] for row in goods if row.kind == "effect" and len(row.may_hide) == 1}
        self._meanings: dict[tuple[str, ...], Meaning] = {}
        self._cjk: dict[str, Meaning] = {}
        self._english: dict[str, str] = {}
        for fibre in fibre_table():
            for word in (fibre.id, *fibre.synonyms, *(w for names in fibre.names for w in names.names)):
                self._add(word, Meaning("name", fibre=fibre.id))
            for word in (fibre.id, *fibre.synonyms):
                self._english.setdefault(fold(word), fibre.id)
        for row in goods:
            for word in (row.id, *row.synonyms):
                self._add(word, Meaning(row.kind, row=row, part=row.id if row.kind in ("part", "piece") else ""))
        for finish in finish_table():
            meaning = Meaning("qualifier") if finish.effect == "no effect" else Meaning("finish", row=_asked(finish))
            for word in (finish.id, *finish.synonyms):
                self._add(word, meaning)
        self._phrases: dict[str, list[tuple[tuple[str, ...], Meaning]]] = {}
        for words, meaning in self._meanings.items():
            self._phrases.setdefault(words[0], []).append((words, meaning))
        for phrases in self._phrases.values():
            phrases.sort(key=lambda phrase: -len(phrase[0]))
        self._longest = max(map(len, self._cjk))

    def _add(self, word: str, meaning: Meaning) -> None:
        pieces = cut(unicodedata.normalize("NFKC", word))
        if len(pieces) == 1 and pieces[0].kind == "cjk":
            if not self._merge(self._cjk.get(pieces[0].text), meaning):
                self._cjk[pieces[0].text] = meaning
        elif pieces:
            words = tuple(_key(piece) for piece in pieces)
            if not self._merge(self._meanings.get(words), meaning):
                self._meanings[words] = meaning

    @staticmethod
    def _merge(old: Meaning | None, new: Meaning) -> bool:
        """Let a fibre name keep what else the word can be; a later meaning of another word is not taken."""
        if old is None:
            return False
        if old.kind == "name":
            if new.kind == "name" and new.fibre != old.fibre:
                raise ValueError(f"one name for two fibres: {old.fibre} and {new.fibre}")
            old.part = old.part or new.part
            old.everyday = old.everyday or new.kind == "everyday"
            old.filler = old.filler or new.kind == "filler"
        return True

    def knows(self, folded: str) -> bool:
        """True for a single known word."""
        return (folded,) in self._meanings

    def phrase(self, pieces: list[Piece], at: int) -> tuple[Meaning, int] | None:
        """The longest phrase that begins with the word at this place, and how many pieces it takes."""
        for words, meaning in self._phrases.get(fold(pieces[at].text), ()):
            if len(words) == 1 or (
                at + len(words) <= len(pieces)
                and all(_key(pieces[at + n]) == word for n, word in enumerate(words[1:], start=1))
                and not ("," in words and _numbered(pieces, at + len(words)))
            ):
                return meaning, len(words)
        return None

    def cjk(self, run: str) -> Iterator[tuple[str, Meaning | None]]:
        """The run cut into its longest known words; what lies between them has no meaning."""
        at = lost = 0
        while at < len(run):
            for length in range(min(self._longest, len(run) - at), 0, -1):
                meaning = self._cjk.get(run[at : at + length])
                code = run[at : at + length] in self.codes
                if meaning or code:
                    if lost < at:
                        yield run[lost:at], None
                    yield run[at : at + length], meaning
                    at += length
                    lost = at
                    break
            else:
                at += 1
        if lost < at:
            yield run[lost:], None

    @cached_property
    def names(self) -> dict[str, str]:
        """Every fibre name, folded, and its fibre: English ids and synonyms first."""
        every = dict(self._english)
        for words, meaning in self._meanings.items():
            if meaning.kind == "name":
                every.setdefault(" ".join(words), meaning.fibre)
        for word, meaning in self._cjk.items():
            if meaning.kind == "name":
                every.setdefault(word, meaning.fibre)
        return every

    @cached_property
    def english(self) -> tuple[str, ...]:
        """The English fibre names, for suggestions."""
        return tuple(self._english)

    @cached_property
    def _deletions(self) -> dict[str, set[str]]:
        near: dict[str, set[str]] = {}
        for words, meaning in self._meanings.items():
            if len(words) == 1 and len(words[0]) >= _REPAIRABLE and meaning.kind == "name":
                for shorter in (words[0], *_without_one(words[0])):
                    near.setdefault(shorter, set()).add(words[0])
        return near

    def nearly(self, word: str) -> dict[str, str]:
        """Fibre names one letter away from the word (six letters or more), each with its fibre."""
        folded = fold(word)
        if not _REPAIRABLE <= len(folded) <= _LONGEST_REPAIR:
            return {}
        found: dict[str, str] = {}
        for shorter in (folded, *_without_one(folded)):
            for name in self._deletions.get(shorter, ()):
                if _one_letter_apart(folded, name):
                    found[name] = self._meanings[(name,)].fibre
        return found


_REPAIRABLE = 6
_LONGEST_REPAIR = 40


def _without_one(word: str) -> list[str]:
    return [word[:n] + word[n + 1 :] for n in range(len(word))]


def _one_letter_apart(a: str, b: str) -> bool:
    """One letter too many, too few or wrong, or two neighbours swapped."""
    if abs(len(a) - len(b)) > 1:
        return False
    n = next((n for n, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    if len(a) == len(b):
        return a[n + 1 :] == b[n + 1 :] or (a[n : n + 2] == b[n : n + 2][::-1] and a[n + 2 :] == b[n + 2 :])
    return a[n + 1 :] == b[n:] or a[n:] == b[n + 1 :]


@lru_cache(maxsize=1)
def vocabulary() -> Vocabulary:
    """The vocabulary of the shipped tables, built at first use. Raises TableError when a table is wrong."""
    return kept("words", Vocabulary)
