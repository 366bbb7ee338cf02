"""Makes the items of a label from its pieces: which words name fibres, which numbers are shares, and how exact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from advisor.composition import FULL, LabelError
from advisor.interval import rounded
from advisor.knowledge import units
from advisor.label_items import QUIET, Item, beside
from advisor.label_text import Remarks, listed, percent, short
from advisor.label_words import Meaning, Piece, cut, fold, number, ratio_numbers, share_number, vocabulary

_NUMBERS = frozenset({"share", "ratio", "number"})


class ItemMaker:
    """Makes the items of one label from its pieces. What it asks and notes goes to the remarks."""

    def __init__(self, cleaned: str, remarks: Remarks) -> None:
        self.cleaned = cleaned
        self.remarks = remarks

    def items(self) -> list[Item]:
        """Everything on the label that has a meaning, in its order. Raises LabelError for an impossible share."""
        pieces = cut(self.cleaned)
        items: list[Item] = []
        at = 0
        while at < len(pieces):
            piece = pieces[at]
            taken = 1
            if piece.kind == "word":
                found = vocabulary().phrase(pieces, at)
                meaning, taken = found if found else (None, 1)
                last = pieces[at + taken - 1]
                items.append(self._word(self.cleaned[piece.start : last.end], piece.start, last.end, meaning))
            elif piece.kind == "cjk":
                start = piece.start
                for run, meaning in vocabulary().cjk(piece.text):
                    items.append(self._word(run, start, start + len(run), meaning))
                    start += len(run)
            elif piece.kind in ("share", "turned"):
                items.append(self._share(piece))
            elif piece.kind == "ratio":
                values = tuple(ratio_numbers(piece.text))
                items.append(Item("ratio", piece.text.strip(), piece.start, piece.end, values=values))
            elif piece.kind == "number":
                items.append(Item("number", piece.text, piece.start, piece.end, said=number(piece.text)))
            else:
                items.append(Item("sep", piece.text, piece.start, piece.end))
            at += taken
        items = self._bounds(self._ranges(items))
        return self._denied(self._codes(self._left_out(items)))

    @staticmethod
    def _word(text: str, start: int, end: int, meaning: Meaning | None) -> Item:
        if meaning is None:
            alone = len(text) == 1 and text.isascii()
            return Item("filler" if alone else "word", text, start, end)
        if meaning.filler and text.casefold() != fold(text):
            # "lã" is wool; only "la" is also an everyday little word
            meaning = replace(meaning, filler=False)
        return Item(meaning.kind, text, start, end, meaning=meaning)

    def _share(self, piece: Piece) -> Item:
        value, repaired = (number(piece.text), False) if piece.kind == "turned" else share_number(piece.text)
        check_share(self.cleaned, piece.text, value, piece.start)
        if repaired:
            self.remarks.note(f"Read '{piece.text}' as {percent(value)}.")
        return Item("share", piece.text, piece.start, piece.end, low=value, high=value, said=value, repaired=repaired)

    def _ranges(self, items: list[Item]) -> list[Item]:
        """Make one share of "70 to 75 %" and "between 70 and 75 %"; the words are fillers elsewhere."""
        result: list[Item] = []
        at = 0
        while at < len(items):
            item = items[at]
            low = result[-1] if result else None
            joins = item.kind == "range" or (item.kind == "joiner" and len(result) > 1 and result[-2].kind == "between")
            if joins and low is not None and low.kind in ("number", "share") and at + 1 < len(items):
                high, more = items[at + 1], items[at + 2] if at + 2 < len(items) else None
                signed = high.kind == "share" or (high.kind == "number" and more is not None and more.kind == "percent")
                if signed and low.said < high.said:
                    check_share(self.cleaned, high.text, high.said, high.start)
                    text = self.cleaned[low.start : high.end]
                    middle = (low.said + high.said) / 2
                    result[-1] = replace(
                        high,
                        kind="share",
                        text=text,
                        start=low.start,
                        low=low.said,
                        said=middle,
                        high=high.said,
                        loose=True,
                    )
                    at += 2 + (high.kind == "number")
                    continue
            result.append(item)
            at += 1
        return [replace(item, kind="filler") if item.kind in ("range", "between") else item for item in result]

    def _bounds(self, items: list[Item]) -> list[Item]:
        """Apply "per cent", "at least", "at most" and "about" to the shares they stand beside."""
        result: list[Item] = []
        bound: Item | None = None
        at = 0
        while at < len(items):
            item = items[at]
            following = items[at + 1] if at + 1 < len(items) else None
            if item.kind == "number" and following is not None and following.kind == "percent":
                check_share(self.cleaned, item.text, item.said, item.start)
                item = replace(item, kind="share", low=item.said, high=item.said, end=following.end)
                at += 1
            elif item.kind == "percent" and following is not None and following.kind == "number":
                check_share(self.cleaned, following.text, following.said, following.start)
                item = replace(following, kind="share", low=following.said, high=following.said)
                at += 1
            if item.kind in ("at least", "at most", "about"):
                bound = item
            elif bound is not None and item.kind in ("share", "number"):
                if item.kind == "number" and item.said <= FULL:
                    item = replace(item, kind="share")
                result.append(self._bounded(item, bound.kind))
                bound = None
                at += 1
                continue
            elif not (item.kind == "filler" or (item.kind == "sep" and item.text in ".:=")):
                bound = None
            result.append(item)
            at += 1
        for n, item in enumerate(result[1:], start=1):
            # "85%以上", "30 % minimum": the bound may stand behind its share
            if item.kind in ("at least", "at most") and result[n - 1].kind == "share":
                ends = n + 1 == len(result) or result[n + 1].kind != "share"
                if ends:
                    result[n - 1] = self._bounded(result[n - 1], item.kind)
        return result

    @staticmethod
    def _bounded(share: Item, kind: str) -> Item:
        if kind == "at least":
            return replace(share, low=share.said, high=FULL, loose=True)
        if kind == "at most":
            return replace(share, low=0.0, high=share.said, loose=True)
        reach = share.said * units().approximations["about"].figure.high / FULL
        return replace(share, low=rounded(share.said - reach), high=min(FULL, rounded(share.said + reach)))

    def _left_out(self, items: list[Item]) -> list[Item]:
        """Take out what the label itself leaves out: "exclusive of trim"."""
        result: list[Item] = []
        at = 0
        while at < len(items):
            if items[at].kind != "left out":
                result.append(items[at])
                at += 1
                continue
            end = at + 1
            while end < len(items) and items[end].kind not in ("share", "ratio", "number"):
                if items[end].kind == "sep" and items[end].text not in "/,&":
                    break
                end += 1
            said = self.cleaned[items[at].start : items[end - 1].end]
            self.remarks.ask(f"The label does not count some parts ('{short(said)}'). What are those parts made of?")
            at = end
        return result

    def _denied(self, items: list[Item]) -> list[Item]:
        """Take out what the label says is not in it: "no acrylic", "contains no wool, silk or cotton"."""
        result: list[Item] = []
        at = 0
        last = max((n for n, item in enumerate(items) if item.kind in _NUMBERS), default=-1)
        while at < len(items):
            item = items[at]
            if item.kind != "denied":
                result.append(item)
                at += 1
                continue
            end = _denial_end(items, at + 1, lists=last < at and not any(other.rank for other in result))
            names = [other.text for other in items[at + 1 : end] if other.rank]
            if names:
                self.remarks.note(f"Taken as not in it: {listed(names)}.")
                if _of_a_part(result):  # "lining: no wool": the lining is still of some fibre
                    text = self.cleaned[item.start : items[end - 1].end]
                    result.append(Item("rest", text, item.start, items[end - 1].end))
                at = end
            else:  # "no. 8", "not washed"
                result.append(replace(item, kind="filler"))
                at += 1
        return result

    @staticmethod
    def _codes(items: list[Item]) -> list[Item]:
        """Turn letters that are a code into one, where they stand beside a share or among codes only."""
        codes = vocabulary().codes
        counted = any(item.kind in ("share", "ratio", "number") for item in items)
        only_codes = all(
            item.text.upper() in codes
            for item in items
            if item.kind in ("word", "filler", "joiner", "at least", "at most", "about")
        )
        result = list(items)
        for n, item in enumerate(items):
            upper = item.text.upper()
            if upper not in codes or not (item.kind == "word" or (item.kind in QUIET and item.text == upper)):
                continue
            counted_here = any(
                0 <= m < len(items) and items[m].kind in ("share", "number", "ratio") for m in beside(items, n)
            )
            if counted_here or (only_codes and (item.text == upper or (counted and item.kind == "word"))):
                fibres = codes[upper]
                if len(fibres) == 1:
                    result[n] = replace(item, kind="name", meaning=Meaning("name", fibre=fibres[0]))
                else:
                    result[n] = replace(item, kind="code" if fibres else "rest", fibres=fibres)
        return result


def _of_a_part(items: Sequence[Item]) -> bool:
    """True where the last words are those of a part and nothing is said of it yet."""
    for item in reversed(items):
        if item.kind == "part":
            return True
        if item.kind != "filler" and item.text not in ":=":
            return False
    return False


def _denial_end(items: Sequence[Item], at: int, *, lists: bool) -> int:
    """Where a denial ends that goes on at `at`: at a share or a new clause, or when it `lists`, after its list."""
    end, named = at, False
    while end < len(items):
        item = items[end]
        if item.kind == "share" and not named:
            named = True  # "not 100% wool": what has that share is denied with it
        elif (
            item.kind in _NUMBERS
            or item.kind in ("part", "piece", "denied")
            or (item.kind == "sep" and item.text not in "/&" and not (lists and item.text == ","))
        ):
            return end
        else:
            named = named or item.rank > 0
        end += 1
    return end


def check_share(cleaned: str, text: str, value: float, start: int) -> None:
    """Refuse a share, which begins at `start` of a label, that is below 0 or above 100 %. Raises LabelError."""
    if not 0.0 <= value <= FULL:
        raise LabelError(f"'{short(text)}' is no share of a whole; accepted: 0 to 100 %")
    before = cleaned[max(0, start - 2) : start]
    if before and before[-1] in "-\u2212" and (len(before) == 1 or before[0] in " \n,;:("):
        dashes = cleaned.count("-") + cleaned.count("\u2212")
        if cleaned.lstrip()[:1] not in "-\u2212" or dashes < 2 or before[-1] == "\u2212":
            raise LabelError(f"'{before[-1]}{short(text)}' is below zero; accepted: 0 to 100 %")
