"""Reads one label: pieces, items, parts, shares.

A label is cut into pieces (`label_words`), the pieces become items (`label_items`), the items are split
into the parts of the goods, and in each part every share finds its fibre.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from advisor.composition import (
    FULL,
    UNKNOWN,
    WHOLE,
    Component,
    Composition,
    Confidence,
    LabelError,
    Part,
    unique,
)
from advisor.interval import Interval, rounded
from advisor.knowledge import units
from advisor.label_items import (
    ALWAYS_ASK,
    GOODS,
    MAY_BE_FIBRE,
    QUIET,
    Item,
    assign,
    beside,
    counts,
    has_content,
    names_near,
    outside_brackets,
    part_name,
    run_names,
    said_already,
    segments,
    tails,
    words_around,
)
from advisor.label_text import NAMES_ACCEPTED, listed, misspelt, of_part, percent, short, suggest
from advisor.label_words import Meaning, Piece, cut, fold, number, ratio_numbers, share_number, vocabulary

# A whole is 100 %; rounding on labels is let through to one point either side.
_SLACK = 1.0
LOWEST_SUM = FULL - _SLACK
HIGHEST_SUM = FULL + _SLACK
_NUMBERED = "part {}"


@dataclass(slots=True)
class _Entry:
    """One line of a part while it is being worked out; `low` is None when no share is stated."""

    fibre: str
    text: str
    confidence: Confidence
    low: float | None = None
    high: float = FULL
    said: float = 0.0
    strange: bool = False  # read from a word that is in no table


class _Contradiction(Exception):
    """The stated shares of a part add to more than 101 %; holds the entries."""

    def __init__(self, entries: list[_Entry]) -> None:
        super().__init__()
        self.entries = entries


class Reader:
    """Reads one label. Collects questions and notes on the way."""

    def __init__(self, text: str, cleaned: str, strict: bool) -> None:
        self.text = text
        self.cleaned = cleaned
        self.strict = strict
        self.asks: list[str] = []
        self.notes: list[str] = []

    def read(self) -> Composition:
        """What the label says. Raises LabelError for what is impossible."""
        items = self._items(cut(self.cleaned))
        parts: list[Part] = []
        for names, part_items in self._split_parts(items):
            wholes = self._part(names[0], part_items)
            for n, components in enumerate(wholes, start=1):
                told = names if len(wholes) == 1 else [_NUMBERED.format(n)]
                parts += [Part(name, components) for name in told]
        parts = self._without_repeats(parts) or [self._nothing()]
        if len(parts) == 1 and any(item.kind == "piece" for item in items):
            parts = [replace(parts[0], name=WHOLE)]
        asks, notes = (unique(_sentence(text) for text in texts) for texts in (self.asks, self.notes))
        return Composition(tuple(parts), asks, notes, self.text)

    def _nothing(self) -> Part:
        """The part of a label that names no fibre at all."""
        if not any(letter.isalpha() for letter in self.cleaned):
            raise LabelError("no fibre name stands in it; accepted: text such as '75% wool, 25% nylon'")
        self.asks.append(f"'{short(self.text)}' names no fibre. What is it made of?")
        return Part(WHOLE, (Component(UNKNOWN, Interval.point(FULL), self.text, "assumed"),))

    # ------------------------------------------------------------------ items

    def _items(self, pieces: list[Piece]) -> list[Item]:
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
        items = self._bounds(items)
        return self._codes(self._left_out(items))

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
        self._check_share(piece.text, value, piece.start)
        if repaired:
            self.notes.append(f"Read '{piece.text}' as {percent(value)}.")
        return Item("share", piece.text, piece.start, piece.end, low=value, high=value, said=value, repaired=repaired)

    def _check_share(self, text: str, value: float, start: int) -> None:
        if not 0.0 <= value <= FULL:
            raise LabelError(f"'{short(text)}' is no share of a whole; accepted: 0 to 100 %")
        before = self.cleaned[max(0, start - 2) : start]
        if before and before[-1] in "-\u2212" and (len(before) == 1 or before[0] in " \n,;:("):
            dashes = self.cleaned.count("-") + self.cleaned.count("\u2212")
            if self.cleaned.lstrip()[:1] not in "-\u2212" or dashes < 2 or before[-1] == "\u2212":
                raise LabelError(f"'{before[-1]}{short(text)}' is below zero; accepted: 0 to 100 %")

    def _bounds(self, items: list[Item]) -> list[Item]:
        """Apply "per cent", "at least", "at most" and "about" to the shares they stand beside."""
        result: list[Item] = []
        bound: Item | None = None
        at = 0
        while at < len(items):
            item = items[at]
            following = items[at + 1] if at + 1 < len(items) else None
            if item.kind == "number" and following is not None and following.kind == "percent":
                self._check_share(item.text, item.said, item.start)
                item = replace(item, kind="share", low=item.said, high=item.said, end=following.end)
                at += 1
            elif item.kind == "percent" and following is not None and following.kind == "number":
                self._check_share(following.text, following.said, following.start)
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
            elif not (item.kind == "filler" or (item.kind == "sep" and item.text in ".:")):
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
            self.asks.append(f"The label does not count some parts ('{short(said)}'). What are those parts made of?")
            at = end
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

    # ------------------------------------------------------------------ parts

    def _split_parts(self, items: list[Item]) -> list[tuple[list[str], list[Item]]]:
        """The items of each part, with the name or names of the part."""
        heads = [n for n, item in enumerate(items) if self._heads(items, n)]
        ends = [n for n, item in enumerate(items) if item.meaning and item.meaning.part and tails(items, n)]
        solid = [n for n, item in enumerate(items) if item.kind not in ("sep", "filler", "joiner")]
        named_behind = bool(ends) and solid[-1] == ends[-1] and solid[0] not in heads
        if named_behind and not self._colon(items, heads):
            starts = [0, *(n + 1 for n in ends)]
            blocks = [([part_name(items[end])], items[start:end]) for start, end in zip(starts, ends, strict=False)]
            return [(names, block) for names, block in blocks if has_content(block)]
        if not heads:
            return [([WHOLE], items)]
        blocks = [([WHOLE], items[: heads[0]])]
        n = 0
        while n < len(heads):
            run = [heads[n]]
            while n + 1 < len(heads) and not has_content(items[heads[n] + 1 : heads[n + 1]]):
                n += 1
                run.append(heads[n])
            end = heads[n + 1] if n + 1 < len(heads) else len(items)
            blocks.append((run_names(items, run), items[run[-1] + 1 : end]))
            n += 1
        stated = [any(item.kind in ("share", "ratio") for item in block) for _, block in blocks]
        if any(stated[1:]) and not stated[0]:
            self._note_title(blocks[0][1])
            blocks = blocks[1:]
        return [(names, block) for names, block in blocks if has_content(block)]

    def _note_title(self, items: list[Item]) -> None:
        said = [item.text for item in items if item.rank]
        if said:
            self.notes.append(f"Words before the first part were not counted: {listed(said)}.")

    @staticmethod
    def _colon(items: list[Item], heads: list[int]) -> bool:
        return any(n + 1 < len(items) and items[n + 1].text in (":", "=") for n in heads)

    @staticmethod
    def _heads(items: list[Item], at: int) -> bool:
        """True for a part word that begins a part: "Lining: ...", "lining 100 % ..."."""
        item = items[at]
        if item.meaning is None or not item.meaning.part:
            return False
        colon = False
        for later in items[at + 1 :]:
            if later.kind == "sep" and later.text in ":=":
                colon = True
            elif (
                (later.kind == "sep" and later.text in "/&(),\n")
                or later.kind in ("filler", "joiner")
                or (later.meaning and later.meaning.part)
            ):
                continue
            elif colon:
                return True
            elif item.kind == "name":
                return False
            else:
                return later.kind in ("share", "ratio")
        return False

    # ------------------------------------------------------------------ one part

    def _part(self, name: str, items: list[Item]) -> list[tuple[Component, ...]]:
        """The components of the part; of several where the label clearly lists several wholes."""
        items = [replace(item, kind="filler") if item.kind in ("part", "piece") else item for item in items]
        try:
            entries = self._entries(items)
        except _Contradiction as problem:
            repeated = self._repeated(name, problem.entries)
            if repeated is not None:
                return repeated
            outside = outside_brackets(items)
            if len(outside) == len(items):
                raise self._too_much(name, problem.entries) from None
            try:
                entries = self._entries(outside)
            except _Contradiction:
                raise self._too_much(name, problem.entries) from None
            self.notes.append("Shares in brackets were taken as an explanation and not added.")
        return [self._components(name, entries)]

    def _too_much(self, name: str, entries: list[_Entry]) -> LabelError:
        return LabelError(f"{of_part(name)}the percentages add to {percent(_sum(entries))}; accepted: 99 to 101 %")

    def _entries(self, items: list[Item]) -> list[_Entry]:
        items, paired = self._ratios(items)
        best: list[tuple[Item, Item | None, Item | None]] | None = None
        loose = [n for n, item in enumerate(items) if item.kind == "number" and counts(items, n)]
        if loose:
            counted = [
                replace(item, kind="share", low=item.said, high=item.said, repaired=True) if n in loose else item
                for n, item in enumerate(items)
            ]
            pairs = assign(counted)
            total = sum(share.said for share, _, _ in pairs) + sum(entry.said for entry in paired)
            if LOWEST_SUM <= total <= HIGHEST_SUM:
                items, best = counted, pairs
                for share, _, _ in pairs:
                    if share.kind == "share" and share.text.strip().replace(",", ".").replace(".", "").isalnum():
                        self.notes.append(f"Read '{share.text}' as {percent(share.said)}.")
            else:
                said = listed(items[n].text for n in loose)
                if self.strict and not any(item.kind == "share" for item in items):
                    raise LabelError(f"the numbers {said} do not add to 100; accepted: percentages that do")
                self.notes.append(f"Numbers without a percent sign were not counted: {said}.")
        if best is None:
            best = assign(items)
        entries: list[_Entry] = list(paired)
        used = {id(item) for _, item, _ in best if item is not None}
        named = sum(share.said for share, item, _ in best if item is not None)
        for share, item, rival in best:
            if item is None:
                if named >= LOWEST_SUM:
                    self.notes.append(f"'{share.text}' names no fibre and was not counted.")
                else:
                    entries.append(self._stated(share, _Entry(UNKNOWN, share.text, "stated")))
                    self.asks.append(f"The label names no fibre for {percent(share.said)}. Which fibre is it?")
            elif rival is not None and named < LOWEST_SUM:
                self.asks.append(
                    f"'{short(share.text)}' stands between '{rival.text}' and '{item.text}'. Whose share is it?"
                )
                entries += [*self._read_item(rival, items), *self._read_item(item, items)]
                used.add(id(rival))
            else:
                entries += self._split_blend(share, self._read_item(item, items))
        left = [item for item in items if id(item) not in used and item.rank]
        if not entries:
            return self._without_shares(items)
        return self._with_leftovers(entries, left, items)

    def _stated(self, share: Item, entry: _Entry) -> _Entry:
        confidence: Confidence = "read with repair" if share.repaired else entry.confidence
        return replace(entry, low=share.low, high=share.high, said=share.said, confidence=confidence)

    def _split_blend(self, share: Item, found: list[_Entry]) -> list[_Entry]:
        if len(found) == 1:
            return [self._stated(share, found[0])]
        # the share of a union of two fibres: each may be nothing or all of it
        first, *others = found
        wide = [replace(entry, low=0.0, high=share.high, said=0.0) for entry in others]
        return [replace(first, low=0.0, high=share.high, said=share.said), *wide]

    def _ratios(self, items: list[Item]) -> tuple[list[Item], list[_Entry]]:
        """Resolve "80/20 nylon/elastane" and "nylon/elastane 80/20"; other ratios are no shares."""
        entries: list[_Entry] = []
        result = list(items)
        for ratio in [item for item in items if item.kind == "ratio"]:
            at = next(n for n, item in enumerate(result) if item is ratio)
            values = [value for value, _ in ratio.values]
            signs = [sign for _, sign in ratio.values]
            whole = LOWEST_SUM <= sum(values) <= HIGHEST_SUM
            names = names_near(result, at, len(values)) if whole else None
            if names is not None:
                for value, item in zip(values, names, strict=True):
                    share = replace(ratio, kind="share", low=value, high=value, said=value)
                    entries += self._split_blend(share, self._read_item(item, result))
                drop = {id(item) for item in names} | {id(ratio)}
                result = [item for item in result if id(item) not in drop]
                continue
            made: list[Item] = []
            ranged = len(values) == 2 and signs == [False, True] and values[0] < values[1]
            if ranged and "/" not in ratio.text and ":" not in ratio.text:
                self._check_share(ratio.text, values[1], ratio.start)
                middle = sum(values) / 2
                made.append(replace(ratio, kind="share", low=values[0], high=values[1], said=middle, loose=True))
            else:
                for value, sign in ratio.values:
                    if sign:
                        self._check_share(ratio.text, value, ratio.start)
                        share = replace(ratio, kind="share", low=value, high=value, said=value)
                        made += [share, replace(ratio, kind="sep", text="/")]
                made = made[:-1]
            result[at : at + 1] = made
        return result, entries

    def _read_item(self, item: Item, items: list[Item]) -> list[_Entry]:
        """The fibre or fibres an item stands for."""
        if item.kind == "name" and item.meaning is not None:
            return [_Entry(item.meaning.fibre, item.text, "stated")]
        if item.kind == "blend" and item.meaning is not None and item.meaning.row is not None:
            self.asks.append(item.meaning.row.ask)
            return [_Entry(fibre, item.text, "stated") for fibre in item.meaning.row.may_hide]
        if item.kind == "code":
            fibres = " or ".join(item.fibres)
            self.asks.append(f"'{item.text}' on a label may mean {fibres}. Which one is it?")
            return [_Entry(UNKNOWN, item.text, "stated")]
        if item.kind == "rest":
            self.asks.append(f"The label says '{short(item.text)}'. Which fibres are those?")
            return [_Entry(UNKNOWN, item.text, "stated")]
        # goods words
        if item.meaning is not None and item.meaning.row is not None:
            self.asks.append(item.meaning.row.ask)
            return [_Entry(UNKNOWN, item.text, "stated")]
        return [self._strange(words_around(item, items))]

    def _strange(self, words: Sequence[Item]) -> _Entry:
        """A fibre from words in no table: repaired where one letter is off and only one fibre is near."""
        near: dict[str, str] = {}
        for word in words:
            candidates = vocabulary().nearly(word.text)
            near |= candidates
            if len(set(candidates.values())) == 1:
                name, fibre = next(iter(candidates.items()))
                self.notes.append(f"Read '{short(word.text)}' as '{name}' ({fibre}).")
                return _Entry(fibre, word.text, "read with repair")
        text = " ".join(word.text for word in words)
        shown = short(text)
        if near:
            options = " or ".join(sorted(set(near.values())))
            self.asks.append(f"'{shown}' may be meant for {options}. Which one is it?")
        else:
            self.asks.append(
                f"'{shown}' is not a generic fibre name; it may be a brand or trade word. "
                "Which generic name stands on the sewn-in label?"
            )
        return _Entry(UNKNOWN, text, "stated", strange=True)

    def _with_leftovers(self, entries: list[_Entry], left: list[Item], items: list[Item]) -> list[_Entry]:
        """Add fibres named without a share to those with one."""
        total = _sum(entries)
        if total > HIGHEST_SUM:
            raise _Contradiction(entries)
        complete = total >= LOWEST_SUM
        stated = {entry.fibre for entry in entries}
        bare: list[_Entry] = []
        unread: list[str] = []
        for item in left:
            if item.names_fibre:
                if said_already(item, stated, complete):
                    continue
                if item.kind == "name" and item.meaning is not None and item.meaning.everyday and complete:
                    unread.append(item.text)
                    continue
                new = [entry for entry in self._read_item(item, items) if entry.fibre not in stated]
                stated |= {entry.fibre for entry in new}
                bare += new
            elif item.kind == "word":
                unread.append(item.text)
            elif item.meaning is not None and item.meaning.row is not None:
                row = item.meaning.row
                if row.kind in ALWAYS_ASK or (row.kind == "property" and not stated & set(row.may_hide)):
                    self.asks.append(row.ask)
        if unread:
            self.notes.append(f"Not read as fibres: {listed(unread)}.")
        return entries + bare

    def _without_shares(self, items: list[Item]) -> list[_Entry]:
        """Fibres of a part that gives no percentages at all."""
        entries: list[_Entry] = []
        weak: list[Item] = []
        unread: list[str] = []
        for segment in segments(items):
            named = [item for item in segment if item.names_fibre]
            solid = [item for item in named if not (item.meaning and item.meaning.filler)]
            claims = [item for item in segment if item.kind in MAY_BE_FIBRE and item.kind != "blend"]
            words = [item for item in segment if item.kind == "word"]
            for item in solid:
                if item.kind == "code" and {e.fibre for e in entries} & set(item.fibres):
                    continue
                entries += self._read_item(item, items)
            if claims and not (solid and all(claim.kind in ("source", "component") for claim in claims)):
                entries += self._read_item(claims[0], items)
            elif words and not claims:
                # "cotton Flomenta" may be cotton of some make, or cotton and something else
                if not solid and any(item.kind in GOODS for item in segment):
                    unread += [word.text for word in words]
                else:
                    entries.append(self._strange(words))
            if not solid and not claims:
                weak += [item for item in segment if item.kind in GOODS]
        if not entries and weak:
            entries += self._read_item(weak[0], items)
        if unread:
            self.notes.append(f"Not read as fibres: {listed(unread)}.")
        if any(item.kind == "mix" for item in items) and len({entry.fibre for entry in entries}) == 1:
            entries.append(_Entry(UNKNOWN, "blend", "stated"))
            self.asks.append("It is a blend. Which other fibre is in it, and how much of each?")
        kept: dict[str, _Entry] = {}
        for entry in entries:
            kept.setdefault(entry.fibre + (entry.text if entry.fibre == UNKNOWN else ""), entry)
        entries = list(kept.values())
        if len(entries) == 1 and any(item.kind == "whole" for item in items):
            entry = entries[0]
            return [replace(entry, low=FULL, high=FULL, said=FULL)]
        return entries

    def _repeated(self, name: str, entries: list[_Entry]) -> list[tuple[Component, ...]] | None:
        """Several wholes in a row: one composition in several languages, or parts without a name."""
        groups: list[list[_Entry]] = [[]]
        for entry in entries:
            if entry.low is None or entry.low != entry.high:
                return None
            groups[-1].append(entry)
            total = _sum(groups[-1])
            if total > HIGHEST_SUM:
                return None
            if total >= LOWEST_SUM:
                groups.append([])
        if groups.pop() or len(groups) < 2:
            return None
        merged = _merge_groups(groups)
        if merged is not None:
            self.notes.append(
                f"{of_part(name)}the same composition stands there {len(groups)} times; it was read once."
            )
            if any(entry.fibre != UNKNOWN for entry in merged):
                known = [entry.text for group in groups for entry in group if entry.strange]
                self.asks = [ask for ask in self.asks if not any(f"'{short(text)}'" in ask for text in known)]
            return [self._components(name, merged)]
        if self.strict:
            return None
        self.asks.append(
            f"The label lists {len(groups)} compositions of 100 % each. Which part of the goods is which, "
            "and how heavy is each part?"
        )
        return [self._components(name, group) for group in groups]

    # ------------------------------------------------------------------ shares

    def _components(self, name: str, entries: list[_Entry]) -> tuple[Component, ...]:
        if not entries:
            return ()
        if self.strict:
            for entry in entries:
                if entry.strange and misspelt(entry.text):
                    raise LabelError(
                        f"{of_part(name)}'{short(entry.text)}' is no generic fibre name"
                        f"{suggest(entry.text)}; accepted: {NAMES_ACCEPTED}"
                    )
        stated = [entry for entry in entries if entry.low is not None]
        bare = [entry for entry in entries if entry.low is None]
        if not stated:
            return self._all_bare(name, bare)
        low, high = _sum(stated, low=True), _sum(stated, high=True)
        if low > HIGHEST_SUM:
            raise self._too_much(name, stated)
        said = _sum(stated)
        rest = rounded(FULL - said)
        exact = low == high
        if bare and said >= LOWEST_SUM and exact:
            names = listed(entry.fibre for entry in bare)
            self.asks.append(
                f"{of_part(name)}the percentages add to {percent(said)}, yet {names} is named as well. "
                "How much of each fibre is in it?"
            )
            widened = [replace(entry, low=0.0, confidence="assumed") for entry in stated]
            return _as_components([*widened, *(replace(entry, low=0.0, confidence="assumed") for entry in bare)])
        if bare:
            if len(bare) == 1 and exact:
                only = bare[0]
                if only.fibre != UNKNOWN:
                    self.notes.append(
                        f"{of_part(name)}{only.fibre} has no share; it was given the rest, {percent(rest)}."
                    )
                bare = [replace(only, low=rest, high=rest, confidence="assumed")]
            else:
                self.asks.append(f"{of_part(name)}how many per cent are in it of: {listed(e.fibre for e in bare)}?")
                top = max(0.0, rounded(FULL - low))
                bare = [replace(entry, low=0.0, high=top, confidence="assumed") for entry in bare]
        elif said < LOWEST_SUM:
            if self.strict and exact:
                raise LabelError(f"{of_part(name)}the percentages add to {percent(said)}; accepted: 99 to 101 %")
            missing = Interval(max(0.0, rounded(FULL - high)), rounded(FULL - low))
            shown = percent(missing.high) if missing.exact else f"up to {percent(missing.high)}"
            self.notes.append(f"{of_part(name)}the percentages leave {shown} without a fibre.")
            self.asks.append(f"{of_part(name)}which fibre makes up the remaining {shown}?")
            bare = [_Entry(UNKNOWN, "", "assumed", missing.low, missing.high)]
        everything = [*stated, *bare]
        return _as_components(
            everything if exact and not any(e.low != e.high for e in everything) else _tightened(everything)
        )

    def _all_bare(self, name: str, bare: list[_Entry]) -> tuple[Component, ...]:
        if len(bare) == 1:
            only = bare[0]
            confidence: Confidence = "assumed" if only.confidence == "stated" else only.confidence
            return _as_components([replace(only, low=FULL, high=FULL, confidence=confidence)])
        known = [entry.fibre for entry in bare if entry.fibre != UNKNOWN]
        if len(known) > 1 and len({entry.text for entry in bare}) > 1:
            self.asks.append(f"{of_part(name)}how many per cent of each fibre are in it ({listed(known)})?")
        return _as_components([replace(entry, low=0.0, confidence="assumed") for entry in bare])

    def _without_repeats(self, parts: list[Part]) -> list[Part]:
        """Drop a part that stands there again in another language; number those that differ."""
        kept: list[Part] = []
        for part in parts:
            if not part.components:
                continue
            same = [other for other in kept if other.name.split(" #")[0] == part.name]
            shares = _shares(part)
            if any(_shares(other) == shares for other in same):
                self.notes.append(f"{of_part(part.name)}the same composition stands there more than once.")
                continue
            kept.append(replace(part, name=f"{part.name} #{len(same) + 1}") if same else part)
        return [replace(part, name=part.name.replace(" #", " ")) for part in kept]


def _merge_groups(groups: Sequence[Sequence[_Entry]]) -> list[_Entry] | None:
    """One composition from several that say the same; a language that was not read may fill a place."""
    first = groups[0]
    wanted = sorted((entry.fibre, entry.said) for entry in first)
    if all(sorted((entry.fibre, entry.said) for entry in group) == wanted for group in groups):
        return list(first)
    if any([entry.said for entry in group] != [entry.said for entry in first] for group in groups):
        return None
    merged = []
    for place in zip(*groups, strict=True):
        known = [entry for entry in place if not entry.strange]
        if len({entry.fibre for entry in known}) > 1:
            return None
        merged.append((known or place)[0])
    return merged


def _sum(entries: Iterable[_Entry], *, low: bool = False, high: bool = False) -> float:
    stated = [entry for entry in entries if entry.low is not None]
    if low:
        return rounded(math.fsum(entry.low or 0.0 for entry in stated))
    return rounded(math.fsum(entry.high if high else entry.said for entry in stated))


def _tightened(entries: Sequence[_Entry]) -> list[_Entry]:
    """Cut each share to what the other shares leave of 100 %."""
    lows = [entry.low or 0.0 for entry in entries]
    highs = [entry.high for entry in entries]
    result = []
    for entry, low, high in zip(entries, lows, highs, strict=True):
        at_least = FULL - (sum(highs) - high)
        at_most = FULL - (sum(lows) - low)
        tight = rounded(max(low, at_least)), rounded(min(high, at_most))
        if tight[0] > tight[1]:  # rounding on the label, within the slack
            tight = (low, high)
        result.append(replace(entry, low=tight[0], high=tight[1]))
    return result


def _as_components(entries: Iterable[_Entry]) -> tuple[Component, ...]:
    return tuple(
        Component(entry.fibre, Interval(entry.low or 0.0, entry.high), entry.text, entry.confidence)
        for entry in entries
    )


def _shares(part: Part) -> list[tuple[str, float, float]]:
    return sorted((c.fibre, c.share.low, c.share.high) for c in part.components)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
