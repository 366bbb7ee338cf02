"""Acidity of the bath: acid and alkali dosed, the pH they give in this water, and what brings it to another.

Amounts are intervals of mol, by the key of the substance in rules/knowledge/chemistry.toml; the caller has
made them from grams, millilitres and strength (vinegar of 5 % is 5 g of acetic acid in 100 mL).

The pH is the one a strip or a meter would show on a cooled sample, at 25 degC, whatever the bath's
temperature: that is how people read it and how the windows of dyes and fibres are given. (Hot, the numbers
mean something else: pure water is at 6.2 at 90 degC.) Fibre and dye are not in the balance. They bind acid,
so a true acid bath lies a little higher; with a known alkalinity expect 0.3 either way, with an unknown one
0.5 or no answer. This belongs into the words; the interval holds only what the inputs leave open, and
what carbonic acid may do (below).

Carbonic acid: the low end keeps it all (a fresh, still bath), the high end lets go what the open air does
not hold (a stirred, warmed bath). Below pH 5 the two are within 0.05.

How the interval is found: substances that push every bath one way (the acids; lye, lime, ammonia) are taken
at the ends that push together. Water and its alkalinity draw a bath towards the water's own pH, steadily
from whichever side; a buffer, and soda ash, draws towards its own pH in the same way. So all corners of
water, alkalinity, buffers, soda ash and salts are tried. The ionic strength bends this slightly: when an
input is wide, both ends are moved out by `GUARD`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from typing import Literal

from advisor.chemistry import Bath, CarbonDioxide, Dose, amount_for_ph, chemistry, doses, ph, water_totals
from advisor.factors import THOUSAND
from advisor.interval import Interval

Doses = Sequence[tuple[str, Interval]]
"""Substance key and mol of it in the bath."""

End = Literal["acidest", "mildest"]
ACIDEST: End = "acidest"
MILDEST: End = "mildest"
AT_ROOM = Interval.point(25.0)
GUARD = 0.02
_BINDS_ALUMINIUM = frozenset({"acetic", "citric", "formic", "lactic", "oxalic", "tartaric"})


def supported(key: str) -> bool:
    """Whether the balance knows this substance.

    A substance that has no acid or alkali in it (urea, wetting agent, dye) may be left out of the balance;
    one that has, and is not supported, makes the pH unknown. By hand, from the rows of chemistry.toml:

    >>> supported("acetic acid"), supported("urea")
    (True, False)
    """
    return key in doses()


def acid_equivalents(given: Doses) -> Interval:
    """mmol of H+ that all doses can set free; ammonium counts, though it gives its H+ only as ammonia leaves.

    Doses in mol. Raises ValueError for a substance that is not supported or a negative amount.
    By hand: citric acid has three H+ to give.

    >>> acid_equivalents([("citric acid", Interval.point(0.01))]).low
    30.0
    """
    return _sum(given, {key: dose.acid for key, dose in doses().items()})


def alkali_equivalents(given: Doses) -> Interval:
    """mmol of OH- (or of H+ taken up, carbonate to carbonic acid) that all doses can give.

    Doses in mol. Raises ValueError for a substance that is not supported or a negative amount.
    By hand: carbonate takes up two H+.

    >>> alkali_equivalents([("soda ash", Interval.point(0.01))]).low
    20.0
    """
    return _sum(given, {key: dose.alkali for key, dose in doses().items()})


def water_alkalinity(water: Interval, alkalinity: Interval) -> Interval:
    """mmol of acid that the water itself (L; mg/L as CaCO3) eats before the bath turns acid.

    By hand, with 50.0435 mg of CaCO3 for each mmol (IUPAC atomic weights): 20 * 100 / 50.0435.

    >>> round(water_alkalinity(Interval.point(20), Interval.point(100)).low, 2)
    39.97
    """
    return water * alkalinity / chemistry().water.alkalinity_equivalent.interval


def bath_ph(given: Doses, water: Interval, alkalinity: Interval, temperature: Interval = AT_ROOM) -> Interval:
    """pH of these doses in this much water (L; alkalinity in mg/L as CaCO3), read at `temperature` (degC).

    Wide without anyone to blame (`because` empty) when only the fate of carbonic acid is open. With alum the
    low end is moved down by a figure of the table; with alum beside an acid that may hold aluminium the
    answer runs from all aluminium turned to hydroxide to all of it held.

    Raises ValueError for an unsupported substance, a negative amount, no water, or a temperature outside
    0 to 100 degC. Acetic acid, 0.01 mol/L, by PHREEQC with minteq.v4.dat: 3.388.

    >>> round(bath_ph([("acetic acid", Interval.point(0.2))], Interval.point(20), Interval.point(0)).low, 2)
    3.39
    """
    inputs = _checked(given, water, alkalinity)
    low, high = (
        pick(_reading(*box, end) for box in _boxes(given, water, alkalinity, temperature, end))
        for end, pick in ((ACIDEST, min), (MILDEST, max))
    )
    low, high = min(low, high), max(low, high)  # the two ends may cross in the last digit
    wide = [i for i in (*inputs, temperature) if not i.exact]
    if wide:
        low, high = low - GUARD, high + GUARD
    return Interval(low, high, frozenset[str]().union(*(i.because for i in wide)))


def base_to_reach(given: Doses, water: Interval, alkalinity: Interval, target_ph: float, base: str) -> Interval | None:
    """Grams of `base` (any supported substance, an acid too) that bring this bath to the target pH.

    0 where the bath is there or beyond already. The low end lets carbonic acid go, the high end keeps it:
    add the low amount, stir, wait half an hour, look again. None when it may never get there, as with
    bicarbonate and a pH near 8.3. Read at 25 degC; fibre and dye left out. `given` mol, `water` L, `alkalinity` mg/L.

    Raises ValueError as `bath_ph` does. By hand: 0.02 mol of a strong acid takes 0.02 * 40.00 g of lye to pH 7.

    >>> spent = [("hydrochloric acid", Interval.point(0.02))]
    >>> round(base_to_reach(spent, Interval.point(2), Interval.point(0), 7, "sodium hydroxide").low, 3)
    0.8
    """
    dose = _known(base)
    inputs = _checked(given, water, alkalinity)
    modes: tuple[CarbonDioxide, ...] = ("closed", "vented")
    found: list[float | None] = []
    for end in (ACIDEST, MILDEST):
        for amounts, litres, hard, degrees in _boxes(given, water, alkalinity, AT_ROOM, end, middles=True):
            for mode in modes:
                bath = Bath(_per_litre(amounts, litres, hard), degrees, mode)
                need = amount_for_ph(bath, dose.makes, target_ph)
                if need is not None and need < 0 and (dose.alkali > 0) == (ph(bath) < target_ph):
                    need = None  # more of it leads away
                found.append(None if need is None else need * litres * dose.molar_mass.interval.middle)
    return _range(found, inputs)


def _known(key: str) -> Dose:
    try:
        return doses()[key]
    except KeyError:
        raise ValueError(f"{key!r} is not in the charge balance; known: {', '.join(doses())}") from None


def _checked(given: Doses, water: Interval, alkalinity: Interval) -> tuple[Interval, ...]:
    for key, amount in given:
        _known(key)
        if amount.low < 0:
            raise ValueError(f"{key}: {amount.low} mol is negative")
    if water.low <= 0:
        raise ValueError(f"water: {water.low} L is not above zero")
    if alkalinity.low < 0:
        raise ValueError(f"alkalinity: {alkalinity.low} mg/L is negative")
    return (*(amount for _, amount in given), water, alkalinity)


def _sum(given: Doses, per_mol: Mapping[str, float]) -> Interval:
    _checked(given, Interval.point(1.0), Interval.point(0.0))
    total = Interval.point(0.0)
    for key, amount in given:
        if per_mol[key]:
            total += amount * (per_mol[key] * THOUSAND)
    return total


def _range(values: Sequence[float | None], inputs: Sequence[Interval]) -> Interval | None:
    numbers = [max(value, 0.0) for value in values if value is not None]
    if len(numbers) < len(values):
        return None
    return Interval(min(numbers), max(numbers), frozenset[str]().union(*(i.because for i in inputs)))


def _boxes(
    given: Doses,
    water: Interval,
    alkalinity: Interval,
    temperature: Interval,
    end: End,
    *,
    middles: bool = False,
) -> Iterator[tuple[dict[str, float], float, float, float]]:
    """Points to try: one-way substances at the ends that push together (ACIDEST: acid most)."""
    columns = []
    for key, amount in given:
        moves = _known(key).moves
        if moves == "either":
            columns.append(_points(amount, middle=middles))
        else:
            columns.append((amount.high if (moves == "down") == (end == ACIDEST) else amount.low,))
    columns.append(_points(water, middle=middles))
    columns.append(_points(alkalinity, middle=middles))
    columns.append(_points(temperature, middle=False))
    for *point, litres, hard, degrees in itertools.product(*columns):
        amounts: dict[str, float] = {}
        for (key, _), amount_here in zip(given, point, strict=True):
            amounts[key] = amounts.get(key, 0.0) + amount_here
        yield amounts, litres, hard, degrees


def _points(value: Interval, *, middle: bool) -> tuple[float, ...]:
    if value.exact:
        return (value.low,)
    return (value.low, value.middle, value.high) if middle else (value.low, value.high)


def _per_litre(amounts: Mapping[str, float], litres: float, alkalinity: float) -> dict[str, float]:
    totals = water_totals(alkalinity)
    for key, amount in amounts.items():
        for name, count in _known(key).makes.items():
            totals[name] = totals.get(name, 0.0) + count * amount / litres
    return totals


def _reading(amounts: Mapping[str, float], litres: float, alkalinity: float, degrees: float, end: End) -> float:
    """Least (ACIDEST) or greatest (MILDEST) pH of a bath whose inputs are all known."""
    totals = _per_litre(amounts, litres, alkalinity)
    vented = end == MILDEST and "carbonate" in totals
    readings = [ph(Bath(totals, degrees, "vented" if vented else "closed"))]
    if totals.get("calcium") and totals.get("carbonate"):
        # chalk comes down, at once or slowly: tried with all of it out
        chalk = min(totals["calcium"], totals["carbonate"])
        readings.append(ph(Bath(totals | {n: totals[n] - chalk for n in ("calcium", "carbonate")}, degrees)))
    if totals.get("aluminium"):
        readings.append(readings[0] - chemistry().aluminium_below.interval.high)
        if _BINDS_ALUMINIUM & totals.keys():
            aluminium = totals.pop("aluminium")
            readings.append(ph(Bath(totals, degrees)))  # every Al+3 turned to hydroxide: three H+ each
            totals["hardness"] = totals.get("hardness", 0.0) + 3 * aluminium  # every Al+3 held: none
            readings.append(ph(Bath(totals, degrees, "vented")))
    return min(readings) if end == ACIDEST else max(readings)
