"""Every word a plan may hold changes some report: a word that nothing listens to would promise what is not there.

For each word of a closed list there is a plan in which it gives other findings, questions or cautions than a neutral
word of the same list (or than leaving it out of the list). Only which rules speak is compared, never their wording,
so that a word which merely shows up in a sentence does not count. Common practice, no outside source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest

from advisor.checking import Checker
from advisor.knowledge import Table, knowledge
from advisor.plan import Plan

Change = Mapping[str, Any]
Load = Callable[..., Plan]

ACID, WOOL, COTTON, VAT = "acid-on-nylon", "acid-on-wool", "reactive-on-cotton", "vat-on-cotton"
POLYESTER, MORDANT, METAL = "disperse-on-polyester", "mordant-on-wool", "metal-complex-on-wool"
BLEACH = {"substance": "sodium hypochlorite bleach", "amount": "50 mL", "strength": "5 %"}
SEALED = {"bath.heat_source": "pressure cooker", "bath.temperature": "110 degC"}  # hotter than an open pot
AMMONIA = {"substance": "ammonia", "amount": "20 mL", "strength": "10 %"}

# plans in which a word may show; the first that tells it from the neutral word settles the matter
GEAR: Sequence[tuple[str, Change]] = (
    (ACID, {}), (COTTON, {}), (VAT, {}), (ACID, {"bath.heat_source": "gas hob"}), (MORDANT, {"assists.2": AMMONIA}),
)  # fmt: skip
PEOPLE: Sequence[tuple[str, Change]] = ((ACID, {}), (COTTON, {}))
SPACES: Sequence[tuple[str, Change]] = (
    (ACID, {}), (COTTON, {}), (ACID, {"bath.heat_source": "gas hob"}), (ACID, {"assists.0.amount": "200 mL"}),
    (ACID, {"bath.heat_source": "camping stove"}),
)  # fmt: skip
AIRING: Sequence[tuple[str, Change]] = (
    (ACID, {}), (COTTON, {}), (VAT, {"space.kind": "studio"}), (MORDANT, {"assists.2": AMMONIA}),
    (ACID, {"assists.0.amount": "200 mL"}), (ACID, {"assists.0.amount": "300 mL"}),
)  # fmt: skip
DRAINS: Sequence[tuple[str, Change]] = (
    (ACID, {}), (METAL, {}), (COTTON, {"assists.2": BLEACH}), (ACID, {"dyes.0.amount": "8 g"}),
)  # fmt: skip
LEFTOVERS: Sequence[tuple[str, Change]] = (
    (ACID, {}), (COTTON, {}), (VAT, {}), (ACID, {"people.present": ["child"]}), (ACID, {"people.present": ["pet"]}),
    (WOOL, {"assists.1": {"substance": "soda ash", "amount": "5 g"}}),
)  # fmt: skip
HEAT: Sequence[tuple[str, Change]] = (
    (ACID, {}), (COTTON, {}), (ACID, {"bath.attended": False}), (ACID, {"vessel.material": "ceramic"}),
    (ACID, {"space.kind": "outdoors"}), (ACID, {"people.present": ["older adult"], "space.kind": "bathroom"}),
)  # fmt: skip
POTS: Sequence[tuple[str, Change]] = (
    (ACID, {}), (COTTON, {}), (VAT, {}), (ACID, {"bath.heat_source": "microwave"}),
    (ACID, {"bath.heat_source": "induction hob"}), (COTTON, {"bath.temperature": "80 degC"}),
    (COTTON, {"bath.heat_source": "electric hob", "bath.temperature": "60 degC"}), (MORDANT, {}),
    (ACID, {"vessel.condition": "chipped"}), (ACID, {"people.present": ["pet"]}),
)  # fmt: skip
TOOLS: Sequence[tuple[str, Change]] = ((ACID, {}), (VAT, {}), (COTTON, {}), (MORDANT, {}), (POLYESTER, SEALED))
CONDITIONS: Sequence[tuple[str, Change]] = (
    (ACID, {}), (ACID, {"vessel.material": "enamel"}), (ACID, {"vessel.material": "non-stick coated"}),
)  # fmt: skip
CLASSES: Sequence[tuple[str, Change]] = ((ACID, {}), (WOOL, {}), (COTTON, {}), ("direct-on-cotton", {}), (METAL, {}))
FORMS: Sequence[tuple[str, Change]] = (
    (ACID, {}), (COTTON, {}), (ACID, {"dyes.0.amount": "5 mL"}),
    (ACID, {"dyes.0.amount": "100 mL", "dyes.0.strength": "1 %"}),
    (ACID, {"dyes.0.amount": "1 tsp"}), (ACID, {"space.kind": "kitchen"}),
    (METAL, {"people.present": ["pregnant"]}),
)  # fmt: skip

k = knowledge()


def said(checker: Checker, plan: Plan) -> tuple[frozenset[str], frozenset[tuple[str, tuple[str, ...]]], frozenset[str]]:
    """Which rules speak, what is asked, and the usual cautions."""
    report = checker.check(plan)
    return (
        frozenset(finding.rule for finding in report.findings),
        frozenset((question.field, tuple(question.settles)) for question in report.questions),
        frozenset(report.cautions),
    )


def differs(checker: Checker, base: Load, contexts: Sequence[tuple[str, Change]], one: Change, other: Change) -> bool:
    """Whether some plan tells the two changes apart."""
    return any(
        said(checker, base(name, {**change, **one})) != said(checker, base(name, {**change, **other}))
        for name, change in contexts
    )


def words(path: str, ids: Sequence[str], neutral: str, contexts: Sequence[tuple[str, Change]]) -> list[Any]:
    """A case a word: set it, or set the neutral word (for the neutral word itself, the next one)."""
    second = next(word for word in ids if word != neutral)
    return [
        pytest.param(path, word, neutral if word != neutral else second, contexts, id=f"{path}={word}") for word in ids
    ]


CASES = [
    *words("space.kind", k.spaces.ids, "studio", SPACES),
    *words("space.ventilation", k.ventilation.ids, "window open", AIRING),
    *words("aftercare.drain", k.drains.ids, "sewer", DRAINS),
    *words("aftercare.leftover", k.leftovers.ids, "none", LEFTOVERS),
    *words("bath.heat_source", k.heat_sources.ids, "electric hob", HEAT),
    *words("vessel.material", k.materials.ids, "stainless steel", POTS),
    *words("utensils.0.material", k.materials.ids, "stainless steel", TOOLS),
    *words("vessel.condition", ("sound", "chipped", "worn coating"), "sound", CONDITIONS),
    *words("goods.0.colour", ("undyed", "dyed"), "undyed", ((ACID, {}),)),
    *words("dyes.0.class", k.dye_classes.ids, "acid levelling", CLASSES),
    *words("dyes.0.form", ("powder", "granules", "liquid", "paste", "solution"), "powder", FORMS),
    *words("dyes.0.safety_data_sheet", ("read", "not read"), "read", ((ACID, {}),)),
    *words("bath.shade", ("even", "mottled"), "even", ((ACID, {"bath.rise": "3 delta_degC/min"}),)),
]  # fmt: skip


@pytest.mark.parametrize(("path", "word", "neutral", "contexts"), CASES)
def test_each_word_of_a_choice_changes_some_report(
    checker: Checker, base: Load, path: str, word: str, neutral: str, contexts: Sequence[tuple[str, Change]]
) -> None:
    assert differs(checker, base, contexts, {path: word}, {path: neutral}), (
        f"no plan tells {path} = {word!r} from {neutral!r}: write a rule or take the word out"
    )


@pytest.mark.parametrize("item", k.gear.ids)
def test_each_kind_of_gear_changes_some_report(checker: Checker, base: Load, item: str) -> None:
    assert differs(checker, base, GEAR, {"people.wearing": [item]}, {"people.wearing": []})


@pytest.mark.parametrize("item", [gear.id for gear in k.gear if not gear.mistaken_for and gear.protects])
def test_each_kind_of_gear_that_protects_takes_a_finding_away(checker: Checker, base: Load, item: str) -> None:
    def rules(name: str, change: Change) -> frozenset[str]:
        return said(checker, base(name, change))[0]

    assert any(
        rules(name, {**change, "people.wearing": []}) - rules(name, {**change, "people.wearing": [item]})
        for name, change in GEAR
    )


@pytest.mark.parametrize("item", [gear.id for gear in k.gear if gear.mistaken_for])
def test_each_kind_of_gear_that_gives_false_comfort_is_told_apart_from_wearing_nothing(
    checker: Checker, base: Load, item: str
) -> None:
    topics = [
        {finding.topic for finding in checker.check(base(name, {**change, "people.wearing": [item]})).findings}
        for name, change in GEAR
    ]
    assert any("gear-inadequate" in found for found in topics)


@pytest.mark.parametrize("kind", k.people.ids)
def test_each_kind_of_person_brings_a_finding(checker: Checker, base: Load, kind: str) -> None:
    for name, change in PEOPLE:
        alone = said(checker, base(name, {**change, "people.present": []}))[0]
        present = said(checker, base(name, {**change, "people.present": [kind]}))[0]
        assert present - alone, f"{kind} changes nothing in {name}"


@pytest.mark.parametrize("finish", k.finishes.ids)
def test_each_finish_that_does_something_to_dye_changes_some_report(checker: Checker, base: Load, finish: str) -> None:
    """The others are accepted so that nobody need leave the question open: no finish is news, and neither is cloth
    bleached ready for dyeing, the best there is to dye.
    """
    contexts: Sequence[tuple[str, Change]] = ((ACID, {}), (WOOL, {}), (COTTON, {}))
    changes = differs(checker, base, contexts, {"goods.0.finishes": [finish]}, {"goods.0.finishes": []})
    assert changes == (k.finishes[finish].effect != "no effect" and finish != "bleached")


@pytest.mark.parametrize(
    "trim",
    [
        "polyester sewing thread",
        "cotton sewing thread",
        "elastane",
        "metal zip",
        "polyester zip",
        "leather",
        "satin label",
    ],
)
def test_each_trim_changes_some_report(checker: Checker, base: Load, trim: str) -> None:
    contexts: Sequence[tuple[str, Change]] = ((ACID, {}), (COTTON, {}))
    assert differs(checker, base, contexts, {"goods.0.trims": [trim]}, {"goods.0.trims": []})


@pytest.mark.parametrize("metal", ["chromium", "cobalt", "copper", "benzidine"])
def test_what_a_dye_contains_changes_some_report(checker: Checker, base: Load, metal: str) -> None:
    contexts: Sequence[tuple[str, Change]] = ((ACID, {}), (ACID, {"aftercare.drain": "septic"}))
    assert differs(checker, base, contexts, {"dyes.0.contains": [metal]}, {"dyes.0.contains": []})


@pytest.mark.parametrize("substance", k.substances.ids)
def test_each_substance_changes_some_report(checker: Checker, base: Load, substance: str) -> None:
    """As a help in the bath, as what was in the pot before, or as what stands in the room."""
    added = {"assists.1": {"substance": substance, "amount": "10 g"}}
    contexts: Sequence[tuple[str, Change]] = ((ACID, {}), (WOOL, {}))
    assert (
        differs(checker, base, contexts, added, {})
        or differs(checker, base, contexts, {"bath.before": [substance]}, {"bath.before": []})
        or differs(checker, base, contexts, {"space.chemicals": [substance]}, {"space.chemicals": []})
    )


YES_OR_NO: Sequence[tuple[str, Sequence[tuple[str, Change]]]] = (
    ("vessel.used_for_food", ((ACID, {}),)),
    ("vessel.lid", ((ACID, {"bath.heat_source": "microwave"}), (ACID, {}))),
    ("utensils.0.used_for_food", ((ACID, {}),)),
    ("space.food_out", ((ACID, {}),)),
    ("bath.attended", ((ACID, {}),)),
    ("bath.stirring", ((ACID, {}), (WOOL, {}))),
    ("bath.heat_source_used_for_food", ((ACID, {"bath.heat_source": "slow cooker"}),)),
    ("goods.0.next_to_skin", ((POLYESTER, {}),)),
    ("dyes.0.old_stock", (("direct-on-cotton", {}),)),
)


@pytest.mark.parametrize(("path", "contexts"), YES_OR_NO, ids=[path for path, _ in YES_OR_NO])
def test_each_yes_or_no_changes_some_report(
    checker: Checker, base: Load, path: str, contexts: Sequence[tuple[str, Change]]
) -> None:
    assert differs(checker, base, contexts, {path: True}, {path: False})


def test_a_word_nothing_listens_to_would_be_found(checker: Checker, base: Load) -> None:
    """The measure itself: a title says nothing to any rule, and so must not count as a change."""
    assert not differs(checker, base, SPACES, {"title": "Ribbon"}, {"title": "Braid"})


def test_the_words_of_the_design_are_all_there() -> None:
    """DESIGN.md section 4, the lists of values."""
    design: dict[Table[Any], str] = {
        k.spaces: "kitchen|laundry room|bathroom|studio|garage|classroom|outdoors",
        k.ventilation: "none|window open|fan to outdoors|fume hood|outdoors",
        k.drains: "sewer|septic|storm drain|ground|collected",
        k.leftovers: "none|labelled jar|food jar|open vessel",
        k.heat_sources: "none|electric hob|induction hob|gas hob|camping stove|charcoal|wood fire|microwave|slow cooker"
        "|pressure cooker|steamer|washing machine|urn",
        k.materials: "stainless steel|enamel|glass|aluminium|copper|cast iron|brass|galvanised steel|non-stick coated"
        "|HDPE plastic|PP plastic|wood|bamboo|silicone|ceramic",
        k.gear: "nitrile gloves|household rubber gloves|latex gloves|thin disposable gloves|heat-resistant gloves"
        "|half-mask respirator P100|N95 respirator|FFP2 respirator|FFP3 respirator|surgical mask|cloth mask"
        "|safety glasses|splash goggles|face shield|apron|long sleeves|closed shoes|lab coat|hair tied back",
        k.people: "child|teenager|pregnant|breastfeeding|asthma|dye allergy|untrained helper|pet|older adult",
    }
    for table, listed in design.items():
        assert set(listed.split("|")) <= set(table.ids)
