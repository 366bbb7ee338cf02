"""Reading rule files: what is right is read right, and each single mistake is refused with file, rule and word."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from making import made_rules, rule_text

from advisor.fact_types import vocabularies
from advisor.knowledge import knowledge
from advisor.reading import Wanted, chosen, rule_data, withdrawn_words
from advisor.rows import Withdrawn
from advisor.rulebook import Ref, RuleError, load_rules, make_rulebook, rulebook

BROKEN = sorted((Path(__file__).parent / "broken_rules").glob("*.toml"))
Withdraw = Callable[..., None]
_MARK = "# expected in the error: "


@pytest.mark.parametrize("file", BROKEN, ids=lambda file: file.stem)
def test_one_mistake_a_file_is_refused_by_name(file: Path, tmp_path: Path) -> None:
    """Each file is a right rule with one mistake; its first line lists what the error must name."""
    first, _, _ = file.read_text(encoding="utf-8").partition("\n")
    assert first.startswith(_MARK)
    shutil.copy(file, tmp_path / file.name)
    with pytest.raises(RuleError) as caught:
        load_rules(tmp_path, knowledge())
    message = str(caught.value)
    assert message.startswith(f"{file.name}: ")
    for word in first.removeprefix(_MARK).split(" | "):
        assert word in message, f"{word!r} is not in {message!r}"
    assert "\n" not in message


def test_the_broken_rules_are_broken_by_their_one_mistake_only(tmp_path: Path) -> None:
    rules = made_rules(tmp_path, {"made-dose": {"dose": ["share_of_maximum > 1"]}})
    assert [rule.id for rule in rules] == ["made-dose"]
    assert len(BROKEN) >= 50


def test_an_id_that_is_taken_is_an_error_across_folders(tmp_path: Path) -> None:
    made_rules(tmp_path, {"dose-over-maximum": {"dose": ["share_of_maximum > 1"]}})
    (tmp_path / "made.toml").rename(tmp_path / "dose.toml")
    told = f"{tmp_path}/dose.toml: rule 'dose-over-maximum': this id is already taken by rules/checks/dose.toml"
    with pytest.raises(RuleError, match=f"^{re.escape(told)}$"):
        make_rulebook(tmp_path)


def test_an_id_that_is_taken_is_an_error_within_a_folder(tmp_path: Path) -> None:
    for name in ("one.toml", "two.toml"):
        (tmp_path / name).write_text(rule_text("twin", {"dose": ["share_owf > 1"]}), encoding="utf-8")
    with pytest.raises(RuleError, match=r"two\.toml: rule 'twin': this id is already taken by .*/one\.toml"):
        make_rulebook(tmp_path)


def test_a_folder_without_rules_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="no rule in this folder"):
        make_rulebook(tmp_path)
    with pytest.raises(RuleError, match="no such folder"):
        make_rulebook(tmp_path / "nowhere")


def test_a_folder_of_ones_own_adds_rules_and_changes_the_digest(tmp_path: Path) -> None:
    made_rules(tmp_path, {"my-own": {"dose": ["share_owf > 1"]}})
    shipped, mine = make_rulebook(), make_rulebook(tmp_path)
    assert len(mine.rules) == len(shipped.rules) + 1
    assert mine.rule("my-own").file == "made.toml"
    assert mine.digest != shipped.digest
    assert make_rulebook().digest == shipped.digest
    with pytest.raises(KeyError):
        shipped.rule("my-own")


@pytest.fixture
def withdraw(monkeypatch: pytest.MonkeyPatch) -> Withdraw:
    """Withdraws the id of a rule, or of a topic, for the length of a test."""

    def call(name: str, *instead: str, topic: bool = False) -> None:
        row = Withdrawn(id=name, on=date(2030, 1, 31), why="It counted the lining twice.", instead=instead)
        monkeypatch.setitem(knowledge().withdrawn_topics if topic else knowledge().withdrawn_rules, name, row)

    return call


def test_a_withdrawn_id_is_not_given_again(tmp_path: Path, withdraw: Withdraw) -> None:
    made_rules(tmp_path, {"made-old": {"dose": ["share_of_maximum > 1"]}})
    make_rulebook(tmp_path)
    withdraw("made-old")
    with pytest.raises(RuleError, match=r"/made\.toml: rule 'made-old': this id was withdrawn on 2030-01-31"):
        make_rulebook(tmp_path)


def test_a_withdrawn_topic_is_not_given_again(withdraw: Withdraw) -> None:
    """A topic may bear the name of a rule; the one may go while the other stays."""
    withdraw("lift-heavy", topic=True)
    with pytest.raises(RuleError, match=r"^topics\.toml: topic 'lift-heavy': this id was withdrawn on 2030-01-31"):
        make_rulebook()


def test_a_withdrawn_id_leads_to_what_is_there(withdraw: Withdraw) -> None:
    withdraw("made-old", "dose-too-low", "made-older")
    with pytest.raises(RuleError, match=r"^withdrawn\.toml: 'made-old': instead: 'made-older' is no rule and no topic"):
        make_rulebook()
    withdraw("made-older", topic=True)
    make_rulebook()
    assert withdrawn_words("made-old", knowledge().withdrawn_rules) == (
        "'made-old' was withdrawn on 2030-01-31. It counted the lining twice. In its place: dose-too-low, made-older."
    )
    assert withdrawn_words("made-older", knowledge().withdrawn_topics).endswith("Nothing took its place.")
    assert withdrawn_words("dose-too-low", knowledge().withdrawn_rules) == ""


def lost(released: str) -> list[str]:
    """Lines of a list of released ids that lead nowhere."""
    k, book = knowledge(), rulebook()
    there = {"rule": {*book.by_id, *k.withdrawn_rules}, "topic": {*book.topics, *k.withdrawn_topics}}
    lines = [line.split() for line in released.splitlines() if not line.startswith("#")]
    return [name for kind, name in lines if name not in there[kind]]


def test_no_id_of_a_release_is_lost(withdraw: Withdraw) -> None:
    """A rule that goes leaves a row in withdrawn.toml behind; it is not just taken out."""
    assert not lost((Path(__file__).parent / "released_ids.txt").read_text(encoding="utf-8"))
    released = "rule made-old\nrule dose-too-low\ntopic made-topic\n"
    assert lost(released) == ["made-old", "made-topic"]
    withdraw("made-old")
    assert lost(released) == ["made-topic"]


def test_known_gaps_are_read_shown_and_found(tmp_path: Path) -> None:
    text = rule_text("made-gap", {"dose": ["share_of_maximum > 1"]})
    (tmp_path / "made.toml").write_text(text + 'gaps = "Looks at no moonsilk."\n', encoding="utf-8")
    (rule,) = load_rules(tmp_path, knowledge())
    assert rule_data(rule, knowledge())["gaps"] == "Looks at no moonsilk."
    assert chosen(make_rulebook(tmp_path), Wanted(search="MOONSILK")) == [rule]
    for wrong, says in (("Not {dose.mass}.", "gaps: holds no placeholders"), ("", "gaps: ")):
        (tmp_path / "made.toml").write_text(text + f'gaps = "{wrong}"\n', encoding="utf-8")
        with pytest.raises(RuleError, match=rf"^made\.toml: rule 'made-gap': {says}"):
            load_rules(tmp_path, knowledge())


def test_gaps_are_sentences_in_plain_words() -> None:
    told = {rule.id: rule.gaps for rule in rulebook().rules if rule.gaps}
    assert len(told) >= 20
    for rule_id, gaps in told.items():
        assert re.match(r"[A-Z]", gaps) and gaps.endswith("."), rule_id
        assert not re.search(r"\b(un)?safe", gaps, re.IGNORECASE), rule_id


def test_conditions_are_read_as_written(tmp_path: Path) -> None:
    (rule,) = made_rules(
        tmp_path,
        [
            {
                "part": [
                    "take in ['none', 'stain']",
                    "role != 'trim'",
                    "share >= 1",
                    "temperature > heat_limit",
                    "share < limit.dyeable_share_full",
                ],
                "goods": ["dry_mass > 0"],
                "goods_2": ["dry_mass <= goods.dry_mass"],
            }
        ],
    )
    take, role, share, hot, limit, mass, twin = rule.conditions
    assert dict(rule.aliases) == {"part": "part", "goods": "goods", "goods_2": "goods"}
    assert (take.op, take.operand) == ("in", frozenset({"none", "stain"}))
    assert role.operand == {"goods"}
    assert (share.op, share.operand) == (">=", 1.0)
    assert hot.operand == Ref("part", "heat_limit")
    assert limit.operand == knowledge().limits["dyeable_share_full"].figure.low
    assert (mass.alias, mass.operand) == ("goods", 0.0)
    assert twin.operand == Ref("goods", "dry_mass")
    assert rule.own("part") == (take, role, share, hot, limit)
    assert rule.joins == (twin,)


def test_a_family_name_stands_for_its_members(tmp_path: Path) -> None:
    acid = set(knowledge().dye_class_families["acid"])
    every = set(vocabularies()["dye class"].words)
    inside, outside = made_rules(
        tmp_path, [{"dye": ["dye_class == 'acid'"]}, {"dye": ["dye_class not in ['acid', 'vat']"]}]
    )
    assert inside.conditions[0].operand == acid
    assert outside.conditions[0].operand == every - acid - {"vat"}


def test_placeholders_of_facts_texts_and_limits_are_known(tmp_path: Path) -> None:
    text = rule_text("told", {"dye": ["share_owf > limit.dose_far_over"], "dye_2": []})
    text = text.replace("A message.", "{dye.name}, {dye_2.share_owf}, {limit.dose_far_over}")
    (tmp_path / "made.toml").write_text(text.replace('dose_far_over"]', 'maximum_plausible"]'), encoding="utf-8")
    (rule,) = load_rules(tmp_path, knowledge())
    assert "{limit.dose_far_over}" in rule.message


def test_a_rule_file_with_hostile_nesting_is_refused_at_once(tmp_path: Path) -> None:
    for text in (
        "(" * 5000 + "share_owf" + ")" * 5000 + " > 1",
        "share_owf > " + "-" * 20000 + "1",
        "share_owf > 1\0",
    ):
        with pytest.raises(RuleError, match="made"):
            made_rules(tmp_path, {"made-hostile": {"dose": [text]}})
