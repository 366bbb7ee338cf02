"""Reads one label: pieces, items, parts, shares.

A label is cut into pieces (`label_words`), the pieces become items (`label_pieces`), the items are split
into the parts of the goods, and in each part every share finds its fibre; `label_shares` adds up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

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
from advisor.interval import Interval
from advisor.label_items import (
    ALWAYS_ASK,
    GOODS,
    MAY_BE_FIBRE,
    NUMBERED,
    Item,
    assign,
    counts,
    doubt_beside,
    has_content,
    names_near,
    outside_brackets,
    part_name,
    run_names,
    said_already,
    segments,
    tails,
    told_by,
    union_beside,
    words_around,
)
from advisor.label_pieces import ItemMaker, check_share
from advisor.label_shares import (
    HIGHEST_SUM,
    LOWEST_SUM,
    Entry,
    components_of,
    merge_groups,
    shares_of,
    sum_of,
    too_much,
)
from advisor.label_text import Remarks, listed, of_part, percent, short
from advisor.label_words import vocabulary

_NUMBERED = "part {}"
_WITH = ("with", "contains")  # rows of labels.toml


class _Contradiction(Exception):
    """The stated shares of a part add to more than 101 %; holds the entries."""

    def __init__(self, entries: list[Entry]) -> None:
        super().__init__()
        self.entries = entries


class Reader:
    """Reads one label. Collects questions and notes on the way."""

    def __init__(self, text: str, cleaned: str, strict: bool) -> None:
        self.text = text
        self.cleaned = cleaned
        self.strict = strict
        self.remarks = Remarks()

    def read(self) -> Composition:
        """What the label says. Raises LabelError for what is impossible."""
        items = ItemMaker(self.cleaned, self.remarks).items()
        parts: list[Part] = []
        for names, part_items in self._split_parts(items):
            wholes = self._part(names[0], part_items)
            for n, components in enumerate(wholes, start=1):
                told = names if len(wholes) == 1 else [_NUMBERED.format(n)]
                parts += [Part(name, components) for name in told]
        parts = self._without_repeats(parts) or [self._nothing()]
        if len(parts) == 1 and any(item.kind == "piece" for item in items):
            parts = [replace(parts[0], name=WHOLE)]
        asks, notes = (unique(_sentence(text) for text in texts) for texts in (self.remarks.asks, self.remarks.notes))
        return Composition(tuple(parts), asks, notes, self.text)

    def _nothing(self) -> Part:
        """The part of a label that names no fibre at all."""
        if not any(letter.isalpha() for letter in self.cleaned):
            raise LabelError("no fibre name stands in it; accepted: text such as '75% wool, 25% nylon'")
        self.remarks.ask(f"'{short(self.text)}' names no fibre. What is it made of?")
        return Part(WHOLE, (Component(UNKNOWN, Interval.point(FULL), self.text, "assumed"),))

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
            self.remarks.note(f"Words before the first part were not counted: {listed(said)}.")

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
                raise too_much(name, problem.entries) from None
            try:
                entries = self._entries(outside)
            except _Contradiction:
                raise too_much(name, problem.entries) from None
            self.remarks.note("Shares in brackets were taken as an explanation and not added.")
        return [components_of(name, entries, self.remarks, strict=self.strict)]

    def _entries(self, items: list[Item]) -> list[Entry]:
        items, paired = self._ratios(items)
        best: list[tuple[Item, Item | None, Item | None]] | None = None
        numbers = [n for n, item in enumerate(items) if item.kind == "number"]
        loose = [n for n in numbers if counts(items, n, NUMBERED[0])]
        tried: list[int] = []
        for lowest in NUMBERED if numbers else ():  # the surest reading whose numbers make a whole
            found = [n for n in numbers if counts(items, n, lowest)]
            if found == tried:
                continue
            tried = found
            counted = [
                replace(item, kind="share", low=item.said, high=item.said, repaired=True) if n in found else item
                for n, item in enumerate(items)
            ]
            pairs = assign(counted)
            total = sum(share.said for share, _, _ in pairs) + sum(entry.said for entry in paired)
            if LOWEST_SUM <= total <= HIGHEST_SUM:
                items, best = counted, pairs
                for share, _, _ in pairs:
                    if share.kind == "share" and share.text.strip().replace(",", ".").replace(".", "").isalnum():
                        self.remarks.note(f"Read '{share.text}' as {percent(share.said)}.")
                break
        if loose and best is None:
            said = listed(items[n].text for n in loose)
            if self.strict and not any(item.kind == "share" for item in items):
                raise LabelError(f"the numbers {said} do not add to 100; accepted: percentages that do")
            self.remarks.note(f"Numbers without a percent sign were not counted: {said}.")
        if best is None:
            best = assign(items)
        entries: list[Entry] = list(paired)
        used = {id(item) for _, item, _ in best if item is not None}
        named = sum(share.said for share, item, _ in best if item is not None)
        for share, item, rival in best:
            if item is None:
                if named >= LOWEST_SUM:
                    self.remarks.note(f"'{share.text}' names no fibre and was not counted.")
                else:
                    entries.append(self._stated(share, Entry(UNKNOWN, share.text, "stated")))
                    self.remarks.ask(f"The label names no fibre for {percent(share.said)}. Which fibre is it?")
            elif rival is not None and named < LOWEST_SUM:
                self.remarks.ask(
                    f"'{short(share.text)}' stands between '{rival.text}' and '{item.text}'. Whose share is it?"
                )
                entries += [*self._read_item(rival, items), *self._read_item(item, items)]
                used.add(id(rival))
            else:
                read, doubt = self._read_beside(item, items, used)
                entries += self._split_blend(share, read)
                if doubt is not None:
                    used.add(id(doubt))
        left = [item for item in items if id(item) not in used and item.rank]
        if not entries:
            return self._without_shares(items)
        return self._with_leftovers(entries, left, items)

    def _stated(self, share: Item, entry: Entry) -> Entry:
        confidence: Confidence = "read with repair" if share.repaired else entry.confidence
        return replace(entry, low=share.low, high=share.high, said=share.said, confidence=confidence)

    def _split_blend(self, share: Item, found: list[Entry]) -> list[Entry]:
        if len(found) == 1:
            return [self._stated(share, found[0])]
        # the share of a union of two fibres: each may be nothing or all of it
        first, *others = found
        wide = [replace(entry, low=0.0, high=share.high, said=0.0) for entry in others]
        return [replace(first, low=0.0, high=share.high, said=share.said), *wide]

    def _shared_out(self, values: Sequence[float], found: list[Entry]) -> list[Entry]:
        """A union of fibres with a ratio, "65/35 polycotton": nobody says which comes first, unless they are alike."""
        low, high = min(values), max(values)
        if low == high:
            self.remarks.asks.pop()  # how much of each is said
        return [replace(entry, low=low, high=high, said=value) for entry, value in zip(found, values, strict=True)]

    def _ratios(self, items: list[Item]) -> tuple[list[Item], list[Entry]]:
        """Resolve "80/20 nylon/elastane" and "nylon/elastane 80/20"; other ratios are no shares."""
        entries: list[Entry] = []
        result = list(items)
        for ratio in [item for item in items if item.kind == "ratio"]:
            at = next(n for n, item in enumerate(result) if item is ratio)
            values = [value for value, _ in ratio.values]
            signs = [sign for _, sign in ratio.values]
            whole = LOWEST_SUM <= sum(values) <= HIGHEST_SUM
            ranged = len(values) == 2 and signs == [False, True] and values[0] < values[1]
            ranged = ranged and "/" not in ratio.text and ":" not in ratio.text
            names = names_near(result, at, len(values)) if whole and not ranged else None
            if names is not None:
                drop = {id(item) for item in names} | {id(ratio)}
                for value, item in zip(values, names, strict=True):
                    share = replace(ratio, kind="share", low=value, high=value, said=value)
                    read, doubt = self._read_beside(item, result, drop)
                    entries += self._split_blend(share, read)
                    if doubt is not None:
                        drop.add(id(doubt))
                result = [item for item in result if id(item) not in drop]
                continue
            if whole and (union := union_beside(result, at, len(values))) is not None:
                entries += self._shared_out(values, self._read_item(union, result))
                result = [item for item in result if item is not union and item is not ratio]
                continue
            made: list[Item] = []
            if whole and not any(signs) and not entries and (partly := self._partly(ratio, values, result)):
                found, used = partly
                entries += found
                result = [item for item in result if id(item) not in used and item is not ratio]
                continue
            if ranged:
                check_share(self.cleaned, ratio.text, values[1], ratio.start)
                middle = sum(values) / 2
                made.append(replace(ratio, kind="share", low=values[0], high=values[1], said=middle, loose=True))
            else:
                for value, sign in ratio.values:
                    if sign:
                        check_share(self.cleaned, ratio.text, value, ratio.start)
                        share = replace(ratio, kind="share", low=value, high=value, said=value)
                        made += [share, replace(ratio, kind="sep", text="/")]
                made = made[:-1]
            result[at : at + 1] = made
        return result, entries

    def _partly(self, ratio: Item, values: Sequence[float], items: list[Item]) -> tuple[list[Entry], set[int]] | None:
        """A ratio of a whole with too few fibres named, "merino 80/20": who has which share is asked.

        None where the label states shares in per cent, or names no fibre.
        """
        named = [item for item in items if item.names_fibre and not (item.meaning and item.meaning.filler)]
        if not named or any(item.kind == "share" for item in items):
            return None
        found = [entry for item in named for entry in self._read_item(item, items)]
        known = list({entry.fibre: entry for entry in found}.values())
        missing = max(1, len(values) - len(known))
        self.remarks.ask(
            f"The label gives '{short(ratio.text)}' but does not name every fibre. "
            "Which other fibre is in it, and how much of each?"
        )
        low, high = min(values), max(values)
        entries = [replace(entry, low=low, high=high, said=0.0) for entry in known]
        entries += [Entry(UNKNOWN, "", "stated", low, high) for _ in range(missing)]
        for entry, value in zip(entries, values, strict=False):
            entry.said = value
        return entries, {id(item) for item in named}

    def _read_item(self, item: Item, items: list[Item]) -> list[Entry]:
        """The fibre or fibres an item stands for."""
        if item.kind == "name" and item.meaning is not None:
            return [Entry(item.meaning.fibre, item.text, "stated")]
        if item.kind == "blend" and item.meaning is not None and item.meaning.row is not None:
            self.remarks.ask(item.meaning.row.ask)
            return [Entry(fibre, item.text, "stated") for fibre in item.meaning.row.may_hide]
        if item.kind == "code":
            fibres = " or ".join(item.fibres)
            self.remarks.ask(f"'{item.text}' on a label may mean {fibres}. Which one is it?")
            return [Entry(UNKNOWN, item.text, "stated")]
        if item.kind == "rest":
            self.remarks.ask(f"The label says '{short(item.text)}'. Which fibres are those?")
            return [Entry(UNKNOWN, item.text, "stated")]
        # goods words
        if item.meaning is not None and item.meaning.row is not None:
            self.remarks.ask(item.meaning.row.ask)
            return [Entry(UNKNOWN, item.text, "stated")]
        return [self._strange(words_around(item, items))]

    def _read_beside(self, item: Item, items: list[Item], used: set[int]) -> tuple[list[Entry], Item | None]:
        """The fibre an item stands for, and beside it what a word right before or behind makes of it."""
        entries = self._read_item(item, items)
        doubt = doubt_beside(items, item) if item.kind == "name" else None
        if doubt is None or id(doubt) in used:
            return entries, None
        if doubt.kind == "word" and entries[0].fibre in vocabulary().nearly(doubt.text).values():
            return entries, None
        if doubt.kind == "name":
            self.remarks.ask(f"The label says '{short(f'{doubt.text} {item.text}')}'. Which of the two fibres is it?")
        return [*entries, *self._read_item(doubt, items)], doubt

    def _strange(self, words: Sequence[Item]) -> Entry:
        """A fibre from words in no table: repaired where one letter is off and only one fibre is near."""
        near: dict[str, str] = {}
        for word in words:
            candidates = vocabulary().nearly(word.text)
            near |= candidates
            if len(set(candidates.values())) == 1:
                name, fibre = next(iter(candidates.items()))
                self.remarks.note(f"Read '{short(word.text)}' as '{name}' ({fibre}).")
                return Entry(fibre, word.text, "read with repair")
        text = " ".join(word.text for word in words)
        shown = short(text)
        if near:
            options = " or ".join(sorted(set(near.values())))
            self.remarks.ask(f"'{shown}' may be meant for {options}. Which one is it?")
        else:
            self.remarks.ask(
                f"'{shown}' is not a generic fibre name; it may be a brand or trade word. "
                "Which generic name stands on the sewn-in label?"
            )
        return Entry(UNKNOWN, text, "stated", strange=True)

    def _with_leftovers(self, entries: list[Entry], left: list[Item], items: list[Item]) -> list[Entry]:
        """Add fibres named without a share to those with one."""
        total = sum_of(entries)
        if total > HIGHEST_SUM:
            raise _Contradiction(entries)
        complete = total >= LOWEST_SUM
        stated = {entry.fibre for entry in entries}
        bare: list[Entry] = []
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
                    self.remarks.ask(row.ask)
        if unread:
            self.remarks.note(f"Not read as fibres: {listed(unread)}.")
        return entries + bare

    def _without_shares(self, items: list[Item]) -> list[Entry]:
        """Fibres of a part that gives no percentages at all."""
        entries: list[Entry] = []
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
            open_claims = [claim for claim in claims if not told_by(claim, solid)] if solid else claims
            if open_claims:
                entries += self._read_item(open_claims[0], items)
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
        woven = [item for item in items if item.kind in ("construction", "property")]
        if woven and entries and not any(item.names_fibre and not _beside_cloth(item) for item in items):
            # "metallic brocade": the metal is a thread or a colour, the cloth is something else
            entries += self._read_item(woven[0], items)
        for item in items:
            if item.kind == "finish" and entries and item.meaning is not None and item.meaning.row is not None:
                self.remarks.ask(item.meaning.row.ask)
        if unread:
            self.remarks.note(f"Not read as fibres: {listed(unread)}.")
        whole = any(item.kind == "whole" for item in items)
        partly = any(item.kind == "mix" for item in items) or (not whole and _with_more(items))
        if partly and len({entry.fibre for entry in entries}) == 1:
            entries.append(Entry(UNKNOWN, "blend", "stated"))
            self.remarks.ask("It is a blend. Which other fibre is in it, and how much of each?")
        kept: dict[str, Entry] = {}
        for entry in entries:
            kept.setdefault(entry.fibre + (entry.text if entry.fibre == UNKNOWN else ""), entry)
        entries = list(kept.values())
        if len(entries) == 1 and whole:
            entry = entries[0]
            return [replace(entry, low=FULL, high=FULL, said=FULL)]
        return entries

    def _repeated(self, name: str, entries: list[Entry]) -> list[tuple[Component, ...]] | None:
        """Several wholes in a row: one composition in several languages, or parts without a name."""
        groups: list[list[Entry]] = [[]]
        for entry in entries:
            if entry.low is None or entry.low != entry.high:
                return None
            groups[-1].append(entry)
            total = sum_of(groups[-1])
            if total > HIGHEST_SUM:
                return None
            if total >= LOWEST_SUM:
                groups.append([])
        if groups.pop() or len(groups) < 2:
            return None
        merged = merge_groups(groups)
        if merged is not None:
            self.remarks.note(
                f"{of_part(name)}the same composition stands there {len(groups)} times; it was read once."
            )
            if any(entry.fibre != UNKNOWN for entry in merged):
                known = [entry.text for group in groups for entry in group if entry.strange]
                self.remarks.asks = [
                    ask for ask in self.remarks.asks if not any(f"'{short(text)}'" in ask for text in known)
                ]
            return [components_of(name, merged, self.remarks, strict=self.strict)]
        if self.strict:
            return None
        self.remarks.ask(
            f"The label lists {len(groups)} compositions of 100 % each. Which part of the goods is which, "
            "and how heavy is each part?"
        )
        return [components_of(name, group, self.remarks, strict=self.strict) for group in groups]

    def _without_repeats(self, parts: list[Part]) -> list[Part]:
        """Drop a part that stands there again in another language; number those that differ."""
        kept: list[Part] = []
        for part in parts:
            if not part.components:
                continue
            same = [other for other in kept if other.name.split(" #")[0] == part.name]
            shares = shares_of(part)
            if any(shares_of(other) == shares for other in same):
                self.remarks.note(f"{of_part(part.name)}the same composition stands there more than once.")
                continue
            kept.append(replace(part, name=f"{part.name} #{len(same) + 1}") if same else part)
        return [replace(part, name=part.name.replace(" #", " ")) for part in kept]


def _with_more(items: Sequence[Item]) -> bool:
    """True where a fibre is named as one thing in the goods: "made with wool"."""
    for n, item in enumerate(items):
        if item.meaning is not None and item.meaning.row is not None and item.meaning.row.id in _WITH:
            following = next((later for later in items[n + 1 :] if later.kind not in ("qualifier", "filler")), None)
            if following is not None and following.names_fibre:
                return True
    return False


def _beside_cloth(item: Item) -> bool:
    """True for a name that beside the word for a cloth is more likely its thread or its colour."""
    meaning = item.meaning
    return meaning is not None and (meaning.everyday or meaning.fibre in vocabulary().effects)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
