"""The liquor: acid and alkali dosed, what the water eats of it, and the pH that comes out."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.factors import THOUSAND
from advisor.interval import Interval
from advisor.knowledge import Knowledge
from advisor.measure import Measure
from advisor.measures import acidity
from advisor.measures.amounts import DosedAssist
from advisor.plan import Plan
from advisor.plan_values import UNKNOWN
from advisor.quantities import format_interval

ANY_PH = (0.0, 14.0)
# roles that put no acid or alkali in the bath, so that the balance may leave them out
_BYSTANDERS = frozenset(
    {"wetting agent", "levelling agent", "thickener", "dye carrier", "binder", "dye", "solvent", "other", "salt"}
)


@dataclass(frozen=True, slots=True)
class LiquorWork:
    """acid, alkali and water_alkali in mmol; `acid_eaten` the share of the acid that the water uses up."""

    doses: tuple[tuple[str, Interval], ...] | None  # None: something is in the bath that the balance does not know
    acid: Interval
    alkali: Interval
    water_alkali: Interval
    acid_eaten: Interval
    ph: Interval
    ph_known: bool
    how: str


def liquor_work(plan: Plan, assists: tuple[DosedAssist, ...], water: Interval, k: Knowledge) -> LiquorWork:
    """Work out acid and alkali (mmol) and pH (at 25 degC, as a strip shows on a cooled sample); `water` L."""
    alkalinity = plan.bath.alkalinity.interval.tagged("bath.alkalinity")
    doses, strange, open_inputs = _doses(plan, assists, k)
    hardness = acidity.water_alkalinity(water, alkalinity)
    known = [(key, moles) for key, moles in doses if acidity.supported(key)]
    acid, alkali = acidity.acid_equivalents(known), acidity.alkali_equivalents(known)
    if open_inputs:
        acid, alkali = (Interval(i.low, max(i.high, THOUSAND), i.because | open_inputs) for i in (acid, alkali))
    if strange or open_inputs:
        ph = Interval(*ANY_PH, open_inputs)
        how = f"{', '.join(strange)} cannot be worked out" if strange else "what goes into the bath is not all known"
    else:
        ph = acidity.bath_ph(known, water, alkalinity)
        parts = [f"{format_interval(moles * THOUSAND, 'mmol')} of {key}" for key, moles in known]
        told = format_interval(alkalinity, "mg/L") if plan.bath.alkalinity.stated else "unknown"
        how = (
            f"{' and '.join(parts) or 'nothing acid or alkaline'} in {format_interval(water, 'L')} of water,"
            f" alkalinity {told}; read cold, to about 0.3"
        )
    return LiquorWork(
        doses=None if strange or open_inputs else tuple(known),
        acid=acid,
        alkali=alkali,
        water_alkali=hardness,
        acid_eaten=_eaten(hardness, acid),
        ph=ph,
        ph_known=not (strange or open_inputs) and plan.bath.water.stated,
        how=how,
    )


def _doses(
    plan: Plan, assists: tuple[DosedAssist, ...], k: Knowledge
) -> tuple[list[tuple[str, Interval]], list[str], frozenset[str]]:
    """Doses in mol by key, names of those the balance does not know, and inputs that hide one."""
    doses, strange, open_inputs = [], [], set[str]()
    for number, (assist, dosed) in enumerate(zip(plan.assists or (), assists, strict=True)):
        if assist.substance == UNKNOWN:
            open_inputs.add(f"assists.{number}.substance")
            continue
        substance = k.substances[assist.substance]
        key = substance.active or substance.id
        if acidity.supported(key) and dosed.moles is not None:
            doses.append((key, dosed.moles / THOUSAND))
        elif not set(substance.roles) <= _BYSTANDERS:
            strange.append(substance.label)
    if plan.assists is None:
        open_inputs.add("assists")
    return doses, strange, frozenset(open_inputs)


def _eaten(hardness: Interval, acid: Interval) -> Interval:
    """Share of the acid that the water's alkalinity uses up, 0 to 1; 0 without acid."""
    if acid.high <= 0:
        return Interval.point(0.0)
    high = hardness.high / acid.low if acid.low > 0 else 1.0
    low = hardness.low / acid.high
    return Interval(low, max(low, high), hardness.because | acid.because).clip(0.0, 1.0)


def liquor_measures(work: LiquorWork) -> dict[str, Measure]:
    """`assist.acid` in mmol and `bath.ph`."""
    return {
        "assist.acid": Measure(
            "assist.acid",
            work.acid,
            "mmol",
            "acid that can be titrated, of all that is dosed",
            "molar masses",
            not work.acid.because,
        ),
        "bath.ph": Measure(
            "bath.ph", work.ph, "pH", work.how, "charge balance, activity by Davies; chemistry table", work.ph_known
        ),
    }
