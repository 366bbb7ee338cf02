"""What a field of a plan takes as an answer: typed words -> plan data, and the accepted words for who asks.

The plan model stays the judge: an answer is only brought into its form here, and read by the model afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import BaseModel

from advisor.knowledge import knowledge, units
from advisor.plan import Plan, models_in
from advisor.plan_values import Chosen, Listed, Measured, read_contents, read_fibres, yes_no

FieldKind = Literal["text", "fibres", "quantity", "choice", "yes or no", "words", "texts", "entries"]
_MOST_UNITS = 8  # named of each kind
NONE = frozenset({"[]", "none", "nothing", "nobody"})
_NAMES = {"assists": "substance", "utensils": "name"}  # what one word of an answer about a whole list stands for


@dataclass(frozen=True)
class Asked:
    """A field of a plan that can be asked about. `reads` is what the model reads it with."""

    path: str
    kind: FieldKind
    reads: Any = None

    def value(self, answer: str) -> Any:
        """The answer as plan data, unjudged."""
        match self.kind:
            case "yes or no":
                return {"y": True, "yes": True, "true": True, "n": False, "no": False, "false": False}.get(
                    answer.casefold(), answer
                )
            case "words" | "texts":
                return _split(answer)
            case "entries":
                return [{_NAMES[self.path]: word} for word in _split(answer)]
            case _:
                return answer

    def words(self) -> tuple[str, ...]:
        """The accepted words of a closed list; none for an open one."""
        match self.reads:
            case Chosen():
                return self.reads.accepted()
            case Listed():
                return self.reads.chosen.accepted()
            case _ if self.kind == "yes or no":
                return ("yes", "no")
            case _ if self.path == "assists":
                return asked_at("assists.0.substance").words()
            case _:
                return ()

    def help(self) -> Iterator[str]:
        """What is accepted, a sentence a line."""
        words, example = self.words(), knowledge().example(self.path)
        if words:
            yield f"Accepted: {', '.join(words)}."
        if self.kind == "choice" or (self.kind in ("words", "entries") and words):
            yield "Many other words for the same are understood."
        if isinstance(self.reads, Measured):
            for kind in self.reads.kinds:
                listed = [unit.id for unit in units().units if unit.kind == kind]
                more = " ..." if len(listed) > _MOST_UNITS else ""
                yield f"A {kind}, a number with its unit: {', '.join(listed[:_MOST_UNITS])}{more}"
            yield "A range with 'to' between two of them, and 'about' before one, are taken as well."
        if self.kind == "fibres":
            yield "The words of the sewn-in label, in any language it is printed in, with the percentages."
        if self.kind in ("words", "texts", "entries"):
            yield "Several with commas between them; 'none' if there are none."
        if example:
            yield f"For example: {example}"


def _split(answer: str) -> list[str]:
    if answer.casefold() in NONE:
        return []
    plain = answer.strip("[] ") if answer.startswith("[") else answer
    # percentages belong together: "80% nylon, 20% elastane lace; polyester thread"
    between = ";" if ";" in plain or "%" in plain else ","
    return [word.strip(" \"'") for word in plain.split(between) if word.strip(" \"'")]


def asked_at(path: str) -> Asked:
    """What can be asked at a dotted path such as "goods.0.fibres". Raises KeyError for what is no such field."""
    model: type[BaseModel] = Plan
    steps = [step for step in path.split(".") if not step.isdigit()]
    for step in steps[:-1]:
        field = _field(model, step)
        inner = next(models_in(field.annotation), None)
        if inner is None:
            raise KeyError(path)
        model = inner
    field = _field(model, steps[-1])
    if next(models_in(field.annotation), None) is not None:
        if path not in _NAMES:
            raise KeyError(path)
        return Asked(path, "entries")
    reads = field.metadata[0] if field.metadata else None
    match reads:
        case Measured():
            return Asked(path, "quantity", reads)
        case Chosen():
            return Asked(path, "choice", reads)
        case Listed():
            return Asked(path, "words", reads)
    plain = getattr(reads, "_read", None)
    kinds: dict[Any, FieldKind] = {yes_no: "yes or no", read_fibres: "fibres", read_contents: "texts"}
    kind: FieldKind = "texts" if steps[-1] == "trims" else kinds.get(plain, "text")
    return Asked(path, kind, reads)


def _field(model: type[BaseModel], step: str) -> Any:
    for name, field in model.model_fields.items():
        if step == (field.alias or name):
            return field
    raise KeyError(step)
