"""Accidents that happened, and some that nearly do: each, written as a plan, is stopped or flagged.

The accidents are those of the researched facts (25, `A01` to `A25`); each is told here in our own world, as a change
to one of the well-made plans. Where an accident was published its document is named beside the plan; the others are
plausible ones, common practice, no source. A plan names the rule that must speak, or a topic, when more than one rule
may do it, and whether the bath must be held back.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import pytest

from advisor.checking import Checker
from advisor.findings import Report
from advisor.plan import Plan

HELD = ("do not start", "change first")


@dataclass(frozen=True)
class Accident:
    """What happened, as a changed plan; the topics that must be found; whether the bath must not go ahead."""

    id: str
    story: str
    source: str
    plan: str
    change: Mapping[str, Any]
    topics: frozenset[str]
    held: bool
    rules: frozenset[str] = frozenset()


def accident(
    name: str,
    story: str,
    source: str,
    plan: str,
    change: Mapping[str, Any],
    topics: str,
    *,
    held: bool,
    rules: str = "",
) -> Accident:
    """One accident; topics and rules are lists of words."""
    return Accident(name, story, source, plan, change, frozenset(topics.split()), held, frozenset(rules.split()))


PLAUSIBLE = "common practice, no source"
ACCIDENTS = [
    accident(
        "A01", "the tub of reducing agent stood damp in the wardrobe store, smouldered and filled it with gas",
        "published: Fire Engineering, Delayed alarm at chemical fire (Charlotte NC)",
        "reactive-on-cotton", {"space.chemicals": ["sodium hydrosulfite"]},
        "oxidiser-fire", held=False, rules="damp-hydrosulfite",
    ),
    accident(
        "A02", "the vat was set in a closed studio; the dyer breathed the gas over the wetted powder",
        "published: Middle East Journal of Family Medicine, May 2004, cases of acute sulfur dioxide inhalation",
        "vat-on-cotton", {"space.kind": "studio", "space.ventilation": "none"},
        "ventilation-poor", held=True, rules="ventilation-poor-reducing",
    ),
    accident(
        "A03", "reducing agent went into the hot vat all at once, made a plug, and the vat erupted",
        "published: UK Health and Safety Executive, Dyes and dyeing",
        "vat-on-cotton", {"bath.temperature": "75 degC"},
        "oxidiser-fire temperature-over-window", held=True, rules="hydrosulfite-into-a-hot-bath",
    ),
    accident(
        "A04", "reducing agent was wetted beside what it reacts with: fire (industry scale, the lesson only)",
        "from memory: EPA and OSHA joint report on Napp Technologies, Lodi NJ (title seen)",
        "vat-on-cotton", {"assists.2": {"substance": "hydrogen peroxide", "amount": "50 mL", "strength": "6 %"}},
        "incompatible-pair oxidiser-fire", held=True, rules="oxidiser-and-reducer damp-hydrosulfite",
    ),
    accident(
        "A05", "bleach was left in the pot, and the acid bath went in: chlorine",
        "published: CDC, Morbidity and Mortality Weekly Report 1991 (five episodes)",
        "acid-on-nylon", {"bath.before": ["sodium hypochlorite bleach"]},
        "incompatible-pair", held=True, rules="bleach-and-acid",
    ),
    accident(
        "A06", "the pot was bleached clean, then ammonia went in to shift a cochineal shade: chloramine",
        "published: poison centre of the Children's Hospital of Philadelphia",
        "mordant-on-wool",
        {
            "bath.before": ["sodium hypochlorite bleach"],
            "assists.2": {"substance": "ammonia", "amount": "20 mL", "strength": "10 %"},
        },
        "incompatible-pair", held=True, rules="bleach-and-ammonia",
    ),
    accident(
        "A07", "reactive powder was weighed for years with a cloth mask on; asthma",
        "published: Docker and others, British Journal of Industrial Medicine 44 (1987) 534",
        "reactive-on-cotton", {"people.wearing.1": "cloth mask"},
        "gear-inadequate", held=True, rules="gear-inadequate-lungs-sensitiser",
    ),
    accident(
        "A08", "a child drank strong vinegar essence that stood on the worktop",
        "published: Atici and others, Archives of Industrial Hygiene and Toxicology 74 (2023) 288",
        "acid-on-nylon",
        {"assists.0": {"substance": "acetic acid", "amount": "2 mL", "strength": "85 %"}, "people.present": ["child"]},
        "corrosive child-supervision", held=True, rules="corrosive-and-child",
    ),
    accident(
        "A09", "what was left of the acid bath was kept in a water bottle, and a toddler drank it",
        "published: news report from Pune, December 2025",
        "acid-on-nylon", {"aftercare.leftover": "water bottle", "people.present": ["toddler"]},
        "food-container", held=True, rules="food-container",
    ),
    accident(
        "A10", "an infant was given a liquid from a bottle without a label",
        "published: Arab Journal of Forensic Sciences and Forensic Medicine, case report on battery acid",
        "acid-on-wool", {"dyes.0.old_stock": True, "aftercare.leftover": "drinks bottle", "people.present": ["baby"]},
        "food-container cancer-hazard", held=True, rules="food-container old-dye-of-any-class",
    ),
    accident(
        "A11", "strong alkali was put into an aluminium can, which swelled and burst",
        "published: National Institute of Technology and Evaluation (Japan), notice of 2 November 2012",
        "vat-on-cotton", {"vessel.material": "aluminium", "aftercare.leftover": "food jar"},
        "vessel-material food-container", held=True, rules="vessel-material-hydrogen food-container",
    ),
    accident(
        "A12", "the bath was heated in a microwave and burst into the face when it was moved",
        "published: US Food and Drug Administration, 2007",
        "acid-on-nylon",
        {"bath.heat_source": "microwave", "bath.heat_source_used_for_food": False, "vessel.material": "glass"},
        "scald-risk", held=False, rules="scald-risk-microwave",
    ),
    accident(
        "A13", "a charcoal burner was brought into the shed on a rainy day: carbon monoxide",
        "published: US Consumer Product Safety Commission, document 5012",
        "mordant-on-wool", {"bath.heat_source": "charcoal", "space.kind": "garage"},
        "combustion-indoors", held=True, rules="combustion-indoors",
    ),
    accident(
        "A14", "an old tin of direct black from grandmother's attic, made from benzidine",
        "published: NIOSH Current Intelligence Bulletin 24",
        "direct-on-cotton", {"dyes.0.old_stock": True},
        "cancer-hazard", held=False, rules="old-direct-dye",
    ),
    accident(
        "A15", "dark tights dyed with a disperse dye: a rash wherever they were tight",
        "published: Hausen, Contact Dermatitis 28 (1993) 169",
        "disperse-on-acetate", {"goods.0.next_to_skin": True},
        "sensitiser", held=False, rules="disperse-next-to-skin",
    ),
    accident(
        "A16", "a pupil tipped soda ash into a simmering vinegar bath: it foamed over his arm",
        PLAUSIBLE,
        "acid-on-nylon",
        {
            "assists.1": {"substance": "soda ash", "amount": "30 g"},
            "people.present": ["teenager"], "space.kind": "classroom",
        },
        "incompatible-pair scald-risk child-supervision", held=True, rules="acid-on-carbonate-foams",
    ),
    accident(
        "A17", "hot water was poured on lye for an indigo vat by a helper with glasses on: a splash in the eye",
        PLAUSIBLE,
        "indigo-on-cotton", {"people.wearing.2": "safety glasses", "people.present": ["untrained helper"]},
        "gear-inadequate corrosive person-at-risk", held=True,
        rules="gear-inadequate-eyes-corrosive lye-into-water helper-corrosive",
    ),
    accident(
        "A18", "a full pot at 90 °C was carried to the sink, and a handle slipped",
        PLAUSIBLE,
        "acid-on-nylon",
        {
            "bath.water": "18 L", "vessel.capacity": "25 L", "bath.temperature": "90 degC",
            "people.wearing.5": "long sleeves",
        },
        "lift-heavy gear-missing", held=True, rules="gear-missing-hot-feet",
    ),
    accident(
        "A19", "a copper mordant bath was tipped into the septic tank",
        PLAUSIBLE,
        "mordant-on-wool",
        {"assists.2": {"substance": "copper(II) sulfate", "amount": "6 g"}, "aftercare.drain": "septic tank"},
        "drain-metals toxic", held=True, rules="drain-metals-own-ground copper-mordant",
    ),
    accident(
        "A20", "oxalic acid was taken for citric acid in a class of children",
        PLAUSIBLE,
        "acid-on-wool",
        {
            "assists.0": {"substance": "oxalic acid", "amount": "8 g"},
            "people.present": ["child"], "space.kind": "classroom",
        },
        "toxic child-supervision", held=True, rules="oxalic-acid-looks-like-food",
    ),
    accident(
        "A21", "the family's soup pot was used for alum and copper",
        PLAUSIBLE,
        "mordant-on-wool",
        {"vessel.used_for_food": True, "assists.2": {"substance": "copper(II) sulfate", "amount": "6 g"}},
        "food-vessel toxic", held=True, rules="food-vessel copper-mordant",
    ),
    accident(
        "A22", "ammonia went into a hot cochineal bath in a closed kitchen",
        PLAUSIBLE,
        "mordant-on-wool",
        {
            "assists.2": {"substance": "ammonia", "amount": "30 mL", "strength": "10 %"},
            "space.kind": "kitchen", "space.ventilation": "none",
        },
        "ventilation-poor vapour-over-limit", held=True, rules="ventilation-poor-hot-ammonia",
    ),
    accident(
        "A23", "a bottle of glacial acetic acid froze and cracked in the closed shed",
        "plausible; melting point 16.7 °C in the safety data sheets of the substance table",
        "acid-on-nylon",
        {
            "assists.0": {"substance": "acetic acid", "amount": "2 mL", "strength": "99 %"},
            "space.kind": "shed", "space.ventilation": "none",
        },
        "corrosive ventilation-poor", held=True, rules="ventilation-poor",
    ),
    accident(
        "A24", "dye at 90 °C was poured into a jam jar, which cracked in the hand",
        PLAUSIBLE,
        "acid-on-nylon",
        {"vessel.material": "glass", "people.wearing.6": "long sleeves", "aftercare.leftover": "jam jar"},
        "vessel-heat-limit gear-missing food-container", held=True, rules="gear-missing-hot-hands food-container",
    ),
    accident(
        "A25", "a pregnant teacher weighed powder and used methyl salicylate on polyester",
        PLAUSIBLE,
        "disperse-on-polyester",
        {"assists.0": {"substance": "methyl salicylate", "amount": "4 g"}, "people.present": ["pregnant"]},
        "person-at-risk toxic", held=True, rules="person-at-risk reproductive-hazard-and-pregnancy",
    ),
]  # fmt: skip

# plans that a sceptic found the advisor silent or too mild about, once: common practice, no source, but where told
OVERLOOKED = [
    accident(
        "S01", "half a kilogram of lye went into a 6 L vat, for five spoons read as five scoops",
        "from memory: Regulation (EC) No 1272/2008 Annex VI, sodium hydroxide burns from 2 % on",
        "vat-on-cotton", {"assists.0.amount": "500 g"}, "corrosive assist-excess", held=True,
        rules="lye-makes-the-bath-burn",
    ),
    accident(
        "S02", "kilograms were written for grams of hydrosulfite", PLAUSIBLE,
        "vat-on-cotton", {"assists.1.amount": "2.4 kg"}, "assist-excess", held=True, rules="assist-excess-slip-of-unit",
    ),
    accident(
        "S03", "essence of 25 % from beside the vinegar was taken for vinegar",
        "from memory: Regulation (EC) No 1272/2008 Annex VI, acetic acid burns from 25 % on",
        "acid-on-nylon", {"assists.0": {"substance": "vinegar", "amount": "6 mL", "strength": "25 %"}},
        "corrosive", held=True, rules="vinegar-that-burns",
    ),
    accident(
        "S04", "a bag with a metal zip was dyed in a microwave: sparks, and the dry end caught fire", PLAUSIBLE,
        "acid-on-nylon",
        {
            "bath.heat_source": "microwave", "bath.heat_source_used_for_food": False, "vessel.material": "glass",
            "goods.0.trims": ["metal zip"],
        },
        "oxidiser-fire", held=True, rules="metal-in-a-microwave",
    ),
    accident(
        "S05", "acrylic was kept at 70 °C, as wool is started, and came out pale and rubbing", PLAUSIBLE,
        "basic-on-acrylic", {"bath.temperature": "70 degC"},
        "temperature-under-window", held=True, rules="temperature-under-window-acrylic",
    ),
    accident(
        "S06", "triacetate was dyed like acetate, at 82 °C", PLAUSIBLE,
        "disperse-on-acetate", {"goods.0.fibres": "100% triacetate"},
        "temperature-under-window", held=True, rules="temperature-under-window-triacetate",
    ),
    accident(
        "S07", "a pinch of a basic pink was put to an acid bath to brighten it: specks", PLAUSIBLE,
        "basic-on-acrylic",
        {"dyes.1": {"name": "plum", "class": "acid levelling", "form": "powder", "amount": "0.2 g", "maximum": "2 %"}},
        "incompatible-pair", held=True, rules="two-dyes-clump",
    ),
    accident(
        "S08", "wool went into a lime vat of cotton strength and came out harsh", PLAUSIBLE,
        "indigo-on-cotton",
        {
            "goods.0.fibres": "100% wool",
            "assists": [{"substance": "lime", "amount": "20 g"}, {"substance": "fructose", "amount": "30 g"}],
        },
        "fibre-harmed", held=False, rules="fibre-harmed-sharp-vat",
    ),
    accident(
        "S09", "a jumper simmered all afternoon because the water stayed red", PLAUSIBLE,
        "acid-on-wool", {"bath.hold": "6 h"}, "fibre-harmed", held=False, rules="fibre-harmed-long-heat",
    ),
    accident(
        "S10", "leftover dye was kept in a spice jar", PLAUSIBLE,
        "mordant-on-wool", {"aftercare.leftover": "spice jar"}, "food-container", held=True, rules="food-container",
    ),
]  # fmt: skip
CASES = [*ACCIDENTS, *OVERLOOKED]


def test_all_25_accidents_are_there() -> None:
    assert [a.id for a in ACCIDENTS] == [f"A{number:02}" for number in range(1, 26)]


LYE = {"assists.1": {"substance": "sodium hydroxide", "amount": "100 g"}}
SODA = {"assists": [{"substance": "soda ash", "amount": "100 g"}]}
BLEACHED = {"bath.before": ["sodium hypochlorite bleach"]}


@pytest.mark.parametrize(
    ("plan", "change"),
    [
        ("reactive-on-cotton", BLEACHED | LYE),
        ("reactive-on-cotton", BLEACHED | {"assists.1": {"substance": "sodium hydroxide", "amount": "4 g"}}),
        ("reactive-on-cotton", BLEACHED | {"space.kind": "studio"}),
        ("reactive-on-cotton", BLEACHED | {"aftercare.drain": "septic"}),
        ("sulphur-on-cotton", SODA | {"aftercare.drain": "ground"}),
        ("sulphur-on-cotton", SODA | {"space.kind": "studio"}),
        ("indigo-on-cotton", SODA | {"aftercare.drain": "ground", "bath.before": ["sodium hydrosulfite"]}),
    ],
)
def test_no_advice_puts_acid_where_it_frees_gas(
    checker: Checker, base: Callable[..., Plan], plan: str, change: Mapping[str, Any]
) -> None:
    """Chlorine from bleach, hydrogen sulfide from sulphur dye, sulfur dioxide from a vat: never "stir in acid"."""
    for finding in checker.check(base(plan, dict(change))).findings:
        for advice in finding.do:
            assert "stir in" not in advice.casefold(), (finding.rule, advice)
            assert not advice.startswith("Stir citric acid"), finding.rule


@pytest.mark.parametrize("plan", ["acid-on-nylon", "acid-on-wool", "milling-on-wool", "metal-complex-on-wool"])
@pytest.mark.parametrize("acid", [None, "lactic acid", "hydrochloric acid"])
def test_no_advice_on_a_missing_acid_names_a_dangerous_one(
    checker: Checker, base: Callable[..., Plan], plan: str, acid: str | None
) -> None:
    """Sulfuric, formic and oxalic acid do dye wool; that is no reason to send a home dyer to buy them."""
    assists = [] if acid is None else [{"substance": acid, "amount": "5 mL", "strength": "30 %"}]
    findings = [f for f in checker.check(base(plan, {"assists": assists})).findings if f.topic.startswith("assist")]
    assert findings
    for finding in findings:
        words = " ".join((finding.message, *finding.do)).casefold()
        assert not any(f"{strong} acid" in words for strong in ("sulfuric", "formic", "oxalic")), finding.rule


def _report(checker: Checker, base: Callable[..., Plan], case: Accident) -> Report:
    return checker.check(base(case.plan, dict(case.change)))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_the_accident_is_stopped_or_flagged(checker: Checker, base: Callable[..., Plan], case: Accident) -> None:
    report = _report(checker, base, case)
    missing = case.topics - {finding.topic for finding in report.findings}
    assert not missing, f"{case.story}: nothing is said on {', '.join(sorted(missing))}"
    silent = case.rules - {finding.rule for finding in report.findings}
    assert not silent, f"{case.story}: silent: {', '.join(sorted(silent))}"


@pytest.mark.parametrize("case", [a for a in CASES if a.held], ids=lambda case: case.id)
def test_the_bath_that_led_to_the_accident_is_held_back(
    checker: Checker, base: Callable[..., Plan], case: Accident
) -> None:
    assert _report(checker, base, case).verdict in HELD


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_without_the_mistake_the_same_topics_are_not_all_raised(
    checker: Checker, base: Callable[..., Plan], case: Accident
) -> None:
    """The plan it was made from is well made: at least one of the topics is new, and the bath is not held back."""
    report = checker.check(base(case.plan))
    assert report.verdict not in HELD
    before = {finding.rule for finding in report.findings}
    assert {finding.rule for finding in _report(checker, base, case).findings} - before
    assert case.topics - {finding.topic for finding in report.findings}
