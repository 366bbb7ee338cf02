"""Reading rule files: what is right is read right, and each single mistake is refused with file, rule and word."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from making import made_rules, rule_text

from advisor.fact_types import vocabularies
from advisor.knowledge import knowledge
from advisor.rulebook import Ref, RuleError, load_rules, make_rulebook

BROKEN = sorted((Path(__file__).parent / "broken_rules").glob("*.toml"))
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
    with pytest.raises(
        RuleError, match=r"made\.toml: rule 'dose-over-maximum': this id is already taken by dose\.toml"
    ):
        make_rulebook(tmp_path)


def test_an_id_that_is_taken_is_an_error_within_a_folder(tmp_path: Path) -> None:
    for name in ("one.toml", "two.toml"):
        (tmp_path / name).write_text(rule_text("twin", {"dose": ["share_owf > 1"]}), encoding="utf-8")
    with pytest.raises(RuleError, match=r"two\.toml: rule 'twin': this id is already taken by one\.toml"):
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
