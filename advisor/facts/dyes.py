"""Facts about the dose, each dye, each assist, and what each dye class needs and stands."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Literal

from advisor.contents import contents_of
from advisor.fact import Fact
from advisor.factors import HUNDRED, THOUSAND
from advisor.facts.answers import agreed, best, one_of, worst, yes_no
from advisor.facts.recipes import acid_bath, acid_planned
from advisor.facts.traits import dye_substances, trait_words
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measures import Workings, acidity
from advisor.measures.amounts import grams_per_ml
from advisor.measures.dose import DyeDose
from advisor.plan_values import UNKNOWN
from advisor.quantities import Quantity, format_interval
from advisor.rows import AssistUse, DyeClass, Figure

MOST_RATIO = 1e6  # upper end of a ratio of which nothing is known


def facts(work: Workings, k: Knowledge) -> Iterator[Fact]:
    """The dose as a whole, then dyes, assists, and needs and windows of each dye class."""
    yield _dose(work, k)
    for number in range(len(work.plan.dyes)):
        yield _dye(work, number, k)
    for number in range(len(work.plan.assists or ())):
        yield _assist(work, number, k)
    for token in dict.fromkeys(dye.dye_class for dye in work.plan.dyes):
        members = k.members(token)
        yield _process(work, token, members, k)
        for role in dict.fromkeys(use.role for member in members for use in member.assists):
            uses = [[use for use in _assists(work, member, k) if use.role == role] for member in members]
            if all(uses):  # an unsure class needs only what all it may be need
                yield _need(work, token, uses, k)


def _assists(work: Workings, member: DyeClass, k: Knowledge) -> list[AssistUse]:
    """What a class wants beside the dye; no alkali where it is used by its acid recipe."""
    from_acid = acid_bath(work, member, k) is not None
    return [use for use in member.assists if not (from_acid and use.role == "alkali")]


def _dose(work: Workings, k: Knowledge) -> Fact:
    dose, goods = work.dose, work.goods
    how = {
        "share_owf": work.measures["dye.share_owf"].how,
        "share_owf_dyeable": work.measures["dye.share_owf_dyeable"].how,
        "share_of_maximum": work.measures["dye.share_of_maximum"].how,
        "share_of_maximum_dyeable": work.measures["dye.share_of_maximum_dyeable"].how,
        "dyeable_share": work.measures["goods.dyeable_mass"].how,
        "unfixed_mass": work.measures["dye.unfixed_mass"].how,
        "rinse_count": work.measures["rinse.count"].how,
    }
    return Fact(
        type="dose",
        subject="dyes" if len(dose.dyes) > 1 else "dyes.0.amount",
        values={
            "share_owf": dose.share_owf,
            "share_owf_dyeable": dose.share_owf_dyeable,
            "share_of_maximum": dose.share_of_maximum,
            "share_of_maximum_dyeable": dose.share_of_maximum_dyeable,
            "share_of_ceiling": work.fate.share_of_ceiling,
            "share_of_usual_deep": dose.share_of_usual_deep,
            "share_of_usual_pale": dose.share_of_usual_pale,
            "all_maxima_stated": yes_no(all(dye.maximum.stated for dye in work.plan.dyes)),
            "dye_count": Interval.point(len(dose.dyes)),
            "dyeable_mass": goods.dyeable_mass,
            "dyeable_share": goods.dyeable_share,
            "dry_mass": goods.dry_mass,
            "unfixed_mass": worst(work.fate.unfixed),
            "unfixed_share_least": best(work.fate.unfixed_share),
            "rinse_count": worst(work.fate.rinses),
        },
        texts={
            "rinses": format_interval(work.fate.rinses, ""),
            "ceiling": "not known" if work.fate.ceiling is None else format_interval(work.fate.ceiling, "%"),
            "one_percent_more": f"{format_interval(work.fate.extra_rinses, '')} more rinses"
            f" and {format_interval(work.fate.extra_water, 'L')} of water",
            "dyes": " and ".join(dye.name for dye in work.plan.dyes),
            "mass_at_maximum": _to_maximum(work),
            "mass_at_maximum_dyeable": _to_maximum_dyeable(work),
        },
        how=how,
    )


def _to_maximum(work: Workings) -> str:
    """How much of each dye keeps the sum at the maximum, in proportion."""
    share = work.dose.share_of_maximum.high
    return _each(work, [d.weighed.mass.low / share if share > 0 else d.weighed.mass.low for d in work.dose.dyes])


def _to_maximum_dyeable(work: Workings) -> str:
    share = work.dose.share_of_maximum_dyeable.high
    return _each(work, [d.weighed.mass.low / share if share > 0 else d.weighed.mass.low for d in work.dose.dyes])


def _each(work: Workings, masses: Iterable[float]) -> str:
    shown = [format_interval(Interval.point(mass), "g") for mass in masses]
    if len(shown) == 1:
        return shown[0]
    return " and ".join(f"{mass} of {dye.name}" for mass, dye in zip(shown, work.plan.dyes, strict=True))


def _dye(work: Workings, number: int, k: Knowledge) -> Fact:
    dye, dose, path = work.plan.dyes[number], work.dose.dyes[number], f"dyes.{number}"
    substances = dye_substances(dye.dye_class, k)
    traits, trait_inputs = trait_words(substances, None, k, f"{path}.class")
    contents = contents_of(dye.contains or ())

    def contains(what: bool) -> str:
        return UNKNOWN if dye.contains is None else yes_no(what)

    inherent = {metal for s in substances for metal in k.substances[s].metals}
    return Fact(
        type="dye",
        subject=path,
        values={
            "dye_class": dye.dye_class,
            "form": dye.form,
            "mass": dose.weighed.mass,
            "share_owf": dose.share_owf,
            "maximum": dose.maximum,
            "maximum_stated": yes_no(dye.maximum.stated),
            "share_of_maximum": dose.share_of_maximum,
            "share_of_usual_deep": dose.share_of_usual_deep,
            "amount_kind": dose.weighed.kind,
            "amount_stated": yes_no(dye.amount.stated),
            "strength_stated": yes_no(dye.strength.stated),
            "weighing_error": dose.weighing_error,
            "scale_stated": yes_no(work.plan.scale.resolution.stated),
            "sheet": dye.safety_data_sheet,
            "sheet_stated": yes_no(dye.safety_data_sheet != UNKNOWN),
            "substance": one_of(substances),
            "contains_metal": contains(bool(contents.metals())),
            "contains_benzidine": contains("benzidine" in (row.id for row in contents.rows)),
            "contains_other": yes_no(bool(contents.others)),
            "contains_stated": yes_no(dye.contains is not None),
            "old_stock": yes_no(dye.old_stock),
            "old_stock_stated": yes_no(dye.old_stock is not None),
            **traits,
        },
        texts={
            "name": dye.name,
            "stock": _stock(dose, work.plan.scale.resolution, k),
            "mass_at_maximum": format_interval(Interval.point(dose.mass_at_maximum.low), "g"),
            "metals": ", ".join(sorted(inherent)),
            "others": ", ".join(contents.others),
        },
        inputs={
            **trait_inputs,
            "dye_class": frozenset({f"{path}.class"}),
            "form": frozenset({f"{path}.form"}),
            "amount_kind": frozenset({f"{path}.amount"}),
            "sheet": frozenset({f"{path}.safety_data_sheet"}),
            "substance": frozenset({f"{path}.class"}),
            "old_stock": frozenset({f"{path}.old_stock"}),
            **{f"contains_{what}": frozenset({f"{path}.contains"}) for what in ("metal", "benzidine")},
        },
        how={
            "mass": dose.weighed.how,
            "share_of_maximum": work.measures["dye.share_of_maximum"].how if len(work.dose.dyes) == 1 else "",
            "weighing_error": work.measures["dye.weighing_error"].how,
        },
    )


def _stock(dose: DyeDose, step: Quantity, k: Knowledge) -> str:
    """The stock solution to make on a coarse scale: enough to weigh well, and how much of it holds the dose."""
    strength = k.limits["stock_strength"].figure.low
    least = step.interval.high / k.limits["weighing_error_coarse"].figure.low if step.stated else strength
    grams = max(strength, least)
    litres = [mass * HUNDRED / strength / THOUSAND for mass in (Interval.point(grams), dose.weighed.mass)]
    return (
        f"{format_interval(Interval.point(grams), 'g')} of dye in {format_interval(litres[0], 'L')} of water;"
        f" {format_interval(litres[1], 'L')} of it holds {format_interval(dose.weighed.mass, 'g')}"
    )


def _assist(work: Workings, number: int, k: Knowledge) -> Fact:
    assert work.plan.assists is not None
    assist, dosed, path = work.plan.assists[number], work.assists[number], f"assists.{number}"
    known = assist.substance != UNKNOWN
    substance = k.substances[assist.substance] if known else None
    ids = [assist.substance] if known else list(k.substances.ids)
    traits, trait_inputs = trait_words(ids, dosed.strength, k, f"{path}.substance", f"{path}.strength")
    roles: set[str] = set(substance.roles) if substance else set()
    wanted = _over_dyes(  # something else of a role the class uses is a matter of the need, not of the assist
        work,
        lambda member: (
            _uses(member, assist.substance)
            or assist.substance in member.welcome
            or any(use.role in roles for use in member.assists)
            or ("acid" in roles and acid_planned(work, member, k))
        ),
        k,
    )
    unwanted = _over_dyes(
        work,
        lambda member: (
            bool({assist.substance, *roles} & set(member.unwanted))
            and not _uses(member, assist.substance)
            and not ("acid" in roles and acid_planned(work, member, k))
        ),
        k,
    )
    neutralised = _neutralised(work, roles, k)
    return Fact(
        type="assist",
        subject=path,
        values={
            "substance": assist.substance,
            "role": substance.roles[0] if substance else UNKNOWN,
            "form": substance.form if substance else UNKNOWN,
            "mass": dosed.weighed.mass,
            "active_mass": dosed.active_mass,
            "per_litre": dosed.active_mass / work.vessel.water,
            "share_owf": dosed.active_mass * HUNDRED / work.goods.dry_mass,
            "strength": dosed.strength,
            "amount_stated": yes_no(assist.amount.stated),
            "wanted": wanted[0] if known else UNKNOWN,
            "unwanted": unwanted[0] if known else UNKNOWN,
            "neutralised": neutralised[0] if known else UNKNOWN,
            **traits,
        },
        texts={"name": substance.label if substance else "an unknown chemical"},
        inputs={
            **trait_inputs,
            **{n: frozenset({f"{path}.substance"}) for n in ("substance", "role", "form")},
            "wanted": wanted[1] if known else frozenset({f"{path}.substance"}),
            "unwanted": unwanted[1] if known else frozenset({f"{path}.substance"}),
            "neutralised": neutralised[1] if known else frozenset({f"{path}.substance"}),
        },
        how={"mass": dosed.weighed.how, "active_mass": dosed.weighed.how},
    )


def _uses(dye_class: DyeClass, substance: str) -> bool:
    return any(substance in use.substances for use in dye_class.assists)


def _over_dyes(work: Workings, holds: Callable[[DyeClass], bool], k: Knowledge) -> tuple[str, frozenset[str]]:
    """Whether something holds for the class of at least one dye, and the classes that leave it open."""
    answers = {
        f"dyes.{number}.class": agreed(holds(member) for member in k.members(dye.dye_class))
        for number, dye in enumerate(work.plan.dyes)
    }
    if "yes" in answers.values():
        return "yes", frozenset()
    unsure = frozenset(path for path, answer in answers.items() if answer == UNKNOWN)
    return (UNKNOWN, unsure) if unsure else ("no", frozenset())


def _neutralised(work: Workings, roles: set[str], k: Knowledge) -> tuple[str, frozenset[str]]:
    """Whether the bath also holds the opposite of this acid or alkali, and the inputs that leave it open."""
    opposite = {"acid": "alkali", "alkali": "acid"}
    wanted = {opposite[role] for role in roles & set(opposite)}
    unsure = set()
    for number, assist in enumerate(work.plan.assists or ()):
        if assist.substance == UNKNOWN:
            unsure.add(f"assists.{number}.substance")
        elif wanted & set(k.substances[assist.substance].roles):
            return "yes", frozenset()
    return (UNKNOWN, frozenset(unsure)) if wanted and unsure else ("no", frozenset())


def _process(work: Workings, token: str, members: Sequence[DyeClass], k: Knowledge) -> Fact:
    path = next(f"dyes.{i}.class" for i, dye in enumerate(work.plan.dyes) if dye.dye_class == token)
    bath = work.plan.bath

    def window(figures: list[Figure], end: str) -> Interval:
        ends = [getattr(figure, end) for figure in figures]
        return Interval(min(ends), max(ends), frozenset({path}))

    hold = bath.hold.interval.tagged("bath.hold")
    hold_low, hold_high = (window([m.hold for m in members], end) for end in ("low", "high"))
    baths = [acid_bath(work, m, k) or m for m in members]
    ph_low, ph_high = (window([m.ph for m in baths], end) for end in ("low", "high"))
    return Fact(
        type="process",
        subject="bath",
        values={
            "dye_class": token,
            "temperature": bath.temperature.interval.tagged("bath.temperature"),
            "temperature_low": window([m.temperature for m in baths], "low"),
            "temperature_high": window([m.temperature for m in baths], "high"),
            "hold": hold,
            "hold_low": hold_low,
            "share_of_hold": (hold / hold_low).clip(0.0, MOST_RATIO),
            "hold_high": hold_high,
            "share_of_hold_high": (hold / hold_high).clip(0.0, MOST_RATIO),
            "rise": bath.rise.interval.tagged("bath.rise"),
            "rise_limit": window([m.rise_limit for m in members], "low"),
            "ph": work.liquor.ph,
            "ph_low": ph_low,
            "ph_high": ph_high,
            "ph_under": (ph_low - work.liquor.ph).at_least(0.0),
            "ph_over": (work.liquor.ph - ph_high).at_least(0.0),
            "other_classes": Interval.point(len({dye.dye_class for dye in work.plan.dyes}) - 1),
        },
        texts={
            "name": members[0].label
            if len(members) == 1
            else f"{token} dye"
            if token != UNKNOWN
            else "a dye of unknown class"
        },
        inputs={"dye_class": frozenset({path})},
        how=dict.fromkeys(("ph", "ph_under", "ph_over"), work.liquor.how),
    )


def _need(work: Workings, token: str, uses: list[list[AssistUse]], k: Knowledge) -> Fact:
    """One role of one class. Each class it may be has its own rows; several rows stand in for one another."""
    role, assists = uses[0][0].role, work.plan.assists
    class_path = next(f"dyes.{i}.class" for i, dye in enumerate(work.plan.dyes) if dye.dye_class == token)
    unsure = {f"assists.{i}.substance" for i, a in enumerate(assists or ()) if a.substance == UNKNOWN}
    open_inputs = frozenset(unsure | ({"assists"} if assists is None else set()))
    others = any(a.substance != UNKNOWN and role in k.substances[a.substance].roles for a in assists or ())
    needed = [[use for use in rows if use.importance == "required"] or rows for rows in uses]
    found = [any(a.substance in use.substances for a in assists or () for use in rows) for rows in needed]
    present, wrong_kind = agreed(found), agreed(others and not there for there in found)
    blame = frozenset({class_path} if present == UNKNOWN else ())
    if present != "yes" and open_inputs:
        present, blame = UNKNOWN, blame | open_inputs
    if not any(found):
        # nothing to measure: full uncertainty if it may be there, an unremarkable amount if it is known to be absent
        share_low = Interval(0.0, MOST_RATIO, open_inputs) if open_inputs else Interval.point(1.0)
        share_high = share_low if open_inputs else Interval.point(0.0)
    else:
        share_low = _hull([_share_of_usual(work, rows, "low", k) for rows in needed], class_path)
        share_high = _hull([_share_of_usual(work, rows, "high", k) for rows in needed], class_path)
    accepted = [use for rows in needed for use in rows]
    dosed = [(i, use) for i, a in enumerate(assists or ()) for use in accepted if a.substance in use.substances]
    shown = dosed[0][1] if dosed else needed[0][0]
    substance = _token(work, dosed[0][0]) if dosed else shown.substances[0]
    unit = shown.amount.unit
    same = {i: use for i, use in reversed(dosed) if use.amount.unit == unit}
    amount = sum((_amount_of(work, i, unit, k) for i in same), start=Interval.point(0.0))
    how = ", ".join(work.assists[i].weighed.how for i in same)
    return Fact(
        type="need",
        subject="assists",
        values={
            "dye_class": token,
            "role": role,
            "importance": one_of({rows[0].importance for rows in needed}),
            "present": present,
            "wrong_kind": wrong_kind,
            "share_of_usual_low": share_low,
            "share_of_usual_high": share_high,
        },
        texts={
            "name": k.members(token)[0].label if len(uses) == 1 else f"{token} dye",
            "usual": f"{format_interval(shown.amount.interval, _amount_unit(unit))}{_amount_words(unit)}",
            "substances": " or ".join(_within(k.substances[s].label) for use in needed[0] for s in use.substances),
            "amount": _amount_text(amount, unit, how) if same else "none",
            "usual_grams": _usual_grams(work, shown, substance, k),
        },
        inputs={"present": blame, **dict.fromkeys(("wrong_kind", "importance", "dye_class"), frozenset({class_path}))},
        how=dict.fromkeys(("present", "share_of_usual_low", "share_of_usual_high"), how),
    )


def _amount_text(amount: Interval, unit: str, how: str) -> str:
    """An amount in words: nobody doses in mmol, so there the amount as dosed."""
    return how if unit == "mmol/kg" else f"{format_interval(amount, _amount_unit(unit))}{_amount_words(unit)}"


def _hull(intervals: list[Interval], path: str) -> Interval:
    """The hull over all classes a dye may be, blamed on the class when it makes a difference."""
    whole = intervals[0]
    for interval in intervals[1:]:
        whole = whole.hull(interval)
    return whole if all(interval == whole for interval in intervals) else whole.tagged(path)


def _share_of_usual(work: Workings, rows: list[AssistUse], end: Literal["low", "high"], k: Knowledge) -> Interval:
    """Amount against one end of what is usual; what stands in for one another adds up, each by its own measure."""
    shares = Interval.point(0.0)
    for number, assist in enumerate(work.plan.assists or ()):
        for use in rows:
            if assist.substance in use.substances and getattr(use.amount, end) > 0:
                shares = shares + _amount_of(work, number, use.amount.unit, k) / getattr(use.amount, end)
    return shares.clip(0.0, MOST_RATIO)


def _amount_unit(unit: str) -> str:
    return "%" if unit == "% owf" else unit


def _amount_words(unit: str) -> str:
    return {"% owf": " of the weight of goods", "mmol/kg": " of goods (as acid)", "g/L": " of bath"}[unit]


def _amount_of(work: Workings, number: int, unit: str, k: Knowledge) -> Interval:
    """The amount of one assist in the unit of a need: mmol H+ per kg of goods, g/L, or % of goods."""
    dosed = work.assists[number]
    if unit == "g/L":
        return dosed.active_mass / work.vessel.water
    if unit == "% owf":
        return dosed.active_mass * HUNDRED / work.goods.dry_mass
    substance = k.substances[_token(work, number)]
    if dosed.moles is None:
        return Interval(0.0, MOST_RATIO)
    acid = acidity.acid_equivalents([(substance.active or substance.id, dosed.moles / THOUSAND)])
    return acid * THOUSAND / work.goods.dry_mass


def _token(work: Workings, number: int) -> str:
    assert work.plan.assists is not None
    return work.plan.assists[number].substance


def _within(label: str) -> str:
    """A label as it stands inside a sentence."""
    return label[:1].lower() + label[1:]


def _usual_grams(work: Workings, use: AssistUse, token: str, k: Knowledge) -> str:
    """The usual range of a need for this bath, in grams (or mL of a solution) of one of its substances."""
    substance, usual = k.substances[token], use.amount.interval
    kilograms = work.goods.dry_mass / THOUSAND
    if use.amount.unit == "g/L":
        grams = usual * work.vessel.water if work.vessel.water.exact else None
    elif not kilograms.exact:
        grams = None
    elif use.amount.unit == "% owf":
        grams = usual * kilograms * 10.0
    elif substance.molar_mass:
        acid = acidity.acid_equivalents([(substance.active or substance.id, Interval.point(1.0))])
        grams = usual * kilograms * substance.molar_mass.middle_value / acid.low
    else:
        grams = None
    if grams is None:
        return f"{format_interval(usual, _amount_unit(use.amount.unit))}{_amount_words(use.amount.unit)}"
    if substance.strength is None:
        return f"{format_interval(grams, 'g')} of {_within(substance.label)}"
    stated = [a.strength.interval for a in work.plan.assists or () if a.substance == token and a.strength.stated]
    strength = stated[0] if stated and stated[0].exact else Interval.point(substance.strength.low)
    litres = grams / strength.low * HUNDRED / grams_per_ml(substance).middle / THOUSAND
    return f"{format_interval(litres, 'L')} of {_within(substance.label)} at {format_interval(strength, '%')}"
