"""All measures of one plan, worked out once and in order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.knowledge import Knowledge
from advisor.measure import Measure
from advisor.measures.amounts import DosedAssist, assists_of
from advisor.measures.dose import DoseWork, dose_measures, dose_work
from advisor.measures.fate import FateWork, fate_measures, fate_work
from advisor.measures.fumes import FumesWork, fumes_measures, fumes_work
from advisor.measures.goods import GoodsWork, goods_measures, goods_work
from advisor.measures.liquor import LiquorWork, liquor_measures, liquor_work
from advisor.measures.sides import Side, bath_sides
from advisor.measures.vessel import VesselWork, vessel_measures, vessel_work
from advisor.measures.warmth import WarmthWork, warmth_measures, warmth_work
from advisor.measures.waste import WasteWork, waste_measures, waste_work
from advisor.plan import Plan


@dataclass(frozen=True, slots=True)
class Workings:
    """What the facts are made from."""

    plan: Plan
    goods: GoodsWork
    dose: DoseWork
    vessel: VesselWork
    liquor: LiquorWork
    fate: FateWork
    warmth: WarmthWork
    fumes: FumesWork
    waste: WasteWork
    assists: tuple[DosedAssist, ...]
    sides: Mapping[str, Side]
    measures: Mapping[str, Measure]


def work_out(plan: Plan, k: Knowledge) -> Workings:
    """Work out everything a plan implies, each measure in the unit it names."""
    goods = goods_work(plan, k, [dye.dye_class for dye in plan.dyes])
    dose = dose_work(plan, goods, k)
    vessel = vessel_work(plan, goods, k)
    assists = assists_of(plan, goods.dry_mass, k)
    liquor = liquor_work(plan, assists, vessel.water, k)
    fate = fate_work(plan, goods, dose, vessel, k)
    warmth = warmth_work(plan, goods, vessel, k)
    fumes = fumes_work(plan, assists, vessel, warmth, k)
    sides = bath_sides(plan, k)
    waste = waste_work(plan, liquor, vessel, fate, sides, k)
    measures = {
        **goods_measures(plan, goods),
        **dose_measures(plan, goods, dose),
        **vessel_measures(plan, goods, vessel, k),
        **liquor_measures(liquor),
        **fate_measures(fate, plan),
        **warmth_measures(plan, warmth),
        **fumes_measures(plan, fumes),
        **waste_measures(waste, liquor),
    }
    return Workings(
        plan=plan,
        goods=goods,
        dose=dose,
        vessel=vessel,
        liquor=liquor,
        fate=fate,
        warmth=warmth,
        fumes=fumes,
        waste=waste,
        assists=assists,
        sides=sides,
        measures=measures,
    )
