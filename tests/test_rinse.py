"""Rinses against a rinse-by-rinse simulation."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.interval import Interval
from advisor.measures import exhaustion, rinse

P = Interval.point
WIDE = Interval(0, 1e9)
MG_PER_L = 1e-3  # g/L


def simulate(carried: float, held: float, water: float, clear: float) -> tuple[int, float]:
    """Pour, stir, drain, rinse by rinse: how often until the water is clear, and how clear it is then."""
    concentration, times = carried / held, 0
    while concentration > clear and times < 100:
        dye_in_goods = concentration * held
        concentration = dye_in_goods / (water + held)
        times += 1
    return times, concentration


@pytest.mark.parametrize(
    ("retained", "water", "times", "end_mg"),
    [(3, 20, 3, 0.0740), (1, 20, 2, 0.0756), (0.5, 20, 2, 0.0198), (1, 10, 3, 0.0250), (1, 5, 4, 0.0257)],
)
def test_counts_equal_a_simulation(retained: float, water: float, times: int, end_mg: float) -> None:
    """1 kg, 2 % dye, 95 % exhausted at 30 L/kg: 33.33 mg/L; to 0.1 mg/L. Mass balance, no source needed."""
    start = 10 * 2 * (1 - 0.95) / 30
    assert start == pytest.approx(33.33 * MG_PER_L, abs=0.01 * MG_PER_L)
    carried = start * retained
    assert simulate(carried, retained, water, 0.1 * MG_PER_L)[0] == times
    assert simulate(carried, retained, water, 0.1 * MG_PER_L)[1] == pytest.approx(end_mg * MG_PER_L, abs=1e-6)
    result = rinse.rinses(P(carried), P(1000), P(retained), P(water))
    assert result.number == P(times)
    assert result.water == P(times * water)
    assert rinse.concentration_after(times, carried, retained, water) == pytest.approx(end_mg * MG_PER_L, abs=1e-6)


@pytest.mark.parametrize(("clear_mg", "big", "small"), [(0.02, 3, 5), (0.1, 2, 4), (1, 2, 2)])
def test_how_clear_is_clear(clear_mg: float, big: int, small: int) -> None:
    carried = 10 * 2 * 0.05 / 30
    clear = P(clear_mg * MG_PER_L)
    assert rinse.rinses(P(carried), P(1000), P(1), P(20), clear).number == P(big)
    assert rinse.rinses(P(carried), P(1000), P(1), P(5), clear).number == P(small)


def test_many_small_rinses_beat_one_large() -> None:
    """40 L in all: 1 rinse leaves 2.44 %, 2 leave 0.227 %, 4 leave 0.0068 %."""
    left = [rinse.concentration_after(n, 1, 1, 40 / n) for n in (1, 2, 4)]
    assert left == pytest.approx([0.0244, 0.00227, 0.000068], rel=0.01)


def test_nothing_carried_needs_no_rinse() -> None:
    assert rinse.rinses(P(0), P(200), P(1), P(4)).number == P(0)


def test_no_water_never_gets_clear() -> None:
    result = rinse.rinses(P(1), P(200), P(1), P(0))
    assert result.number == P(100)
    assert result.water == P(0)


def test_unknown_everything_gives_the_whole_range() -> None:
    result = rinse.rinses(WIDE, WIDE, WIDE, WIDE)
    assert (result.number.low, result.number.high) == (0, 100)
    extra = rinse.extra_rinses_for_one_percent_more(WIDE, WIDE, WIDE, WIDE, WIDE)
    assert (extra.number.low, extra.number.high) == (0, 100)


def test_a_widening_input_widens_the_count_and_is_blamed() -> None:
    exact = rinse.rinses(P(0.2), P(200), P(1), P(4)).number
    wide = rinse.rinses(P(0.2), P(200), P(1), Interval(2, 8, frozenset({"aftercare.rinse_water"}))).number
    assert exact.exact
    assert wide.low < wide.high
    assert wide.low <= exact.low <= wide.high
    assert wide.because == {"aftercare.rinse_water"}


def test_every_input_that_widens_the_count_is_blamed() -> None:
    def wide(low: float, high: float, *paths: str) -> Interval:
        return Interval(low, high, frozenset(paths))

    # each input has a path of its own, and shares another with the next
    result = rinse.rinses(
        wide(0.1, 9, "dye", "1"), wide(100, 300, "goods", "1", "2"), wide(1, 3, "drained", "2", "3"),
        wide(2, 8, "water", "3", "4"), wide(1e-5, 1e-3, "eye", "4"),
    )  # fmt: skip
    assert result.number.because == {"dye", "goods", "drained", "water", "eye", "1", "2", "3", "4"}
    carried = rinse.carried_over(
        exhaustion.divide(wide(5, 10, "dye"), wide(20, 40, "water"), "acid levelling"), wide(20, 40, "water"), P(1)
    )
    assert carried.because == {"dye", "water"}


def test_half_as_much_again_by_hand() -> None:
    """1 g and 0.5 g more, 1 L held and 1 L a rinse: ln 1.5 / ln 2 = 0.58496; 1.5 L a rinse: ln 1.5 / ln 2.5."""
    half = rinse.extra_rinses_for_one_percent_more(P(1), P(0.5), P(1000), P(1), P(1))
    assert half.number.low == half.water.low == pytest.approx(0.58496, abs=1e-5)
    more_water = rinse.extra_rinses_for_one_percent_more(P(1), P(0.5), P(1000), P(1), P(1.5))
    assert more_water.number.low == pytest.approx(0.44251, abs=1e-5)


def test_no_more_dye_costs_no_rinse_whatever_else() -> None:
    """By hand: ln(1 + 0) is 0, even where there is no dye yet or no water to rinse with."""
    for carried, water in ((0.0, 4.0), (0.5, 0.0), (0.0, 0.0)):
        assert rinse.extra_rinses_for_one_percent_more(P(carried), P(0), P(500), P(2), P(water)).number == P(0)
    for carried, water in ((0.0, 4.0), (0.5, 0.0)):
        assert rinse.extra_rinses_for_one_percent_more(P(carried), P(1), P(500), P(2), P(water)).number == P(100)


def test_at_the_threshold_counts_as_clear() -> None:
    """1 g in 1 L held, 9 L a rinse: by hand 1, 0.1, 0.01 g/L after 0, 1, 2 rinses; just above needs one more."""
    counts = [
        rinse.rinses(P(1), P(1000), P(1), P(9), P(clear)).number.low for clear in (1.0, 0.1, 0.01, 0.0999, 0.00999)
    ]
    assert counts == [0, 1, 2, 2, 3]


def test_never_clear_is_a_hundred_rinses() -> None:
    """A thousandth of the held liquor a rinse: ln(1e4)/ln(1.001) is over 9000."""
    assert rinse.rinses(P(1), P(1000), P(1), P(0.001)).number == P(100)


def test_the_worst_liquor_held_may_lie_between_the_ends() -> None:
    """For 1 g of dye after 2 rinses of 1 L: 1/h x (h/(1 + h))^2 is 0.25 g/L for h = 1 L, and 0.2222 for 0.5 and 2 L."""
    at = [rinse.concentration_after(2, 1, held, 1) for held in (0.5, 1, 2)]
    assert at == pytest.approx([0.22222, 0.25, 0.22222], abs=1e-5)
    whole = rinse.rinses(P(1), P(1000), Interval(0.5, 2), P(1), P(0.23)).number
    assert (whole.low, whole.high) == (2, 3), "clear after two at either end, but not in between"


def test_no_more_than_all_of_the_bath_is_carried_over() -> None:
    """Goods that hold 4 L/kg in a bath of 4 L/kg, the least there is, take all of it along."""
    division = exhaustion.Division(fixed=P(0), loose=P(1), in_bath=P(2))
    assert rinse.carried_over(division, P(4), P(4)) == P(3)
    assert rinse.carried_over(division, P(1), P(4)) == P(3)
    assert rinse.carried_over(division, P(8), P(4)) == P(2)


def test_retained_liquor_of_unknown_draining_spans_all_three() -> None:
    """Common practice, no source: dripping 2.5 to 4, wrung 1 to 2, spun 0.3 to 0.7 L/kg."""
    whole = rinse.retained_liquor()
    for how in ("dripping", "wrung", "spun"):
        one = rinse.retained_liquor(how)
        assert whole.low <= one.low < one.high <= whole.high
    assert (whole.low, whole.high) == (0.3, 4)


def test_carried_over_is_less_than_all_that_is_unfixed() -> None:
    division = exhaustion.divide(P(10), P(30), "acid levelling")
    carried = rinse.carried_over(division, P(30), P(1))
    assert carried.low == pytest.approx(division.loose.low + division.in_bath.low / 30)
    assert carried.high < (division.loose + division.in_bath).high


def test_overdose_costs_rinses() -> None:
    """More dye is seen to cost: from 1 % to 4 % on nylon that holds 2 %, in rinses and in litres."""
    goods, ratio = P(500), P(30)

    def counted(percent: float) -> rinse.Rinsing:
        parts = exhaustion.divide(P(5 * percent), ratio, "acid levelling", holdable=P(10))
        return rinse.rinses(rinse.carried_over(parts, ratio, P(2)), goods, P(2), P(5))

    assert counted(4).number.low > counted(1).number.low
    assert counted(4).water.high > counted(1).water.high


def test_extra_rinses_multiply_out() -> None:
    """After the extra rinses, the dye of the larger dose is down to that of the smaller one."""
    extra = rinse.extra_rinses_for_one_percent_more(P(0.5), P(1.5), P(500), P(2), P(5))
    held = 0.5 * 2
    assert 2.0 * (held / (5 + held)) ** extra.number.low == pytest.approx(0.5)
    assert extra.water.low == pytest.approx(5 * extra.number.low)
    assert rinse.extra_rinses_for_one_percent_more(P(0.5), P(0), P(500), P(2), P(5)).number == P(0)


@given(
    carried=st.floats(0.001, 20),
    span=st.floats(1, 3),
    goods=st.floats(50, 2000),
    retained=st.floats(0.3, 2),
    water=st.floats(0.5, 30),
    x=st.floats(0, 1),
    y=st.floats(0, 1),
)
def test_interval_holds_every_simulation_inside(
    carried: float, span: float, goods: float, retained: float, water: float, x: float, y: float
) -> None:
    whole = rinse.rinses(
        Interval(carried, carried * span),
        P(goods),
        Interval(retained, retained * 2),
        Interval(water, water * span),
    )
    grams = carried * (1 + (span - 1) * x)
    litres = water * (1 + (span - 1) * y)
    times, end = simulate(grams, goods / 1000 * retained * (1 + y), litres, 1e-4)
    if abs(end - 1e-4) > 1e-10:  # on the threshold itself rounding decides
        assert whole.number.low <= times <= whole.number.high
        assert whole.water.low - 1e-9 <= times * litres <= whole.water.high + 1e-9


@given(st.floats(0.001, 50), st.floats(1.01, 3), st.floats(0.5, 30))
def test_more_dye_never_needs_fewer_rinses_and_more_water_never_more(carried: float, more: float, water: float) -> None:
    here = rinse.rinses(P(carried), P(300), P(2), P(water)).number.low
    assert rinse.rinses(P(carried * more), P(300), P(2), P(water)).number.low >= here
    assert rinse.rinses(P(carried), P(300), P(2), P(water * more)).number.low <= here
