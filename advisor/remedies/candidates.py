"""Candidates for a way out of a finding: changes made from the plan's own data, smallest and likeliest first.

Each way out of rules/knowledge/remedies.toml has a function in the table here. It may guess: what it yields is tried
by checking the changed plan, and only what is proved is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from advisor.remedies.assist_ways import add_assist, less_assist, more_acid, remove_substance, usual_amounts
from advisor.remedies.bench import Bench, Candidate, Maker
from advisor.remedies.dose_ways import reduce_dye, replace_form, stock_solution
from advisor.remedies.dye_class_ways import other_dye_class, two_baths
from advisor.remedies.heat_ways import attend, longer_hold, lower_heat, other_heat, raise_heat, slower_rise
from advisor.remedies.people_and_place_ways import (
    add_gear,
    better_air,
    keep_away,
    other_container,
    other_drain,
    other_space,
    read_sheet,
    remove_food,
)
from advisor.remedies.water_and_pot_ways import larger_pot, more_water, other_utensil, other_vessel, split_batches

MAKERS: Mapping[str, Maker] = {
    "reduce-dye": reduce_dye,
    "more-water": more_water,
    "larger-pot": larger_pot,
    "split-batches": split_batches,
    "stock-solution": stock_solution,
    "more-acid": more_acid,
    "less-assist": less_assist,
    "add-assist": add_assist,
    "other-vessel": other_vessel,
    "add-gear": add_gear,
    "replace-form": replace_form,
    "other-dye-class": other_dye_class,
    "longer-hold": longer_hold,
    "lower-heat": lower_heat,
    "raise-heat": raise_heat,
    "slower-rise": slower_rise,
    "other-drain": other_drain,
    "other-container": other_container,
    "other-utensil": other_utensil,
    "other-space": other_space,
    "better-air": better_air,
    "remove-substance": remove_substance,
    "attend": attend,
    "read-sheet": read_sheet,
    "keep-away": keep_away,
    "other-heat": other_heat,
    "remove-food": remove_food,
    "two-baths": two_baths,
}


def candidates(bench: Bench) -> Iterator[Candidate]:
    """Everything worth trying for the target, the rule's own way out first, then those that may stand in for it."""
    first = bench.target.rule.remedy
    if first is None:
        return
    if first == "better-air":  # vapour of more than is usual is no matter of air
        yield from (Candidate("less-assist", changes) for changes in usual_amounts(bench) if changes)
    ways = [first]
    for way in ways:  # grows while it is read: what stands in for a way may have its own stand-ins
        ways += [other for other in bench.k.ways_out[way].instead if other not in ways]
    for way in ways:
        for changes in MAKERS[way](bench):
            if changes:
                yield Candidate(way, changes)
