"""Interval arithmetic: every real result of the operands lies inside, and what made it wide is remembered."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.interval import Interval, as_interval, corners, rounded

finite = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False)
paths = st.frozensets(st.sampled_from(["bath.water", "vessel.capacity", "dyes.0.amount"]), max_size=2)
intervals = st.builds(lambda a, b, p: Interval(min(a, b), max(a, b), p), finite, finite, paths)
share = st.floats(min_value=0.0, max_value=1.0)


def inside(value: float, interval: Interval) -> bool:
    """Whether a value lies in the interval, but for the last bits of a float."""
    slack = 1e-9 * max(1.0, abs(interval.low), abs(interval.high))
    return interval.low - slack <= value <= interval.high + slack


def at(interval: Interval, where: float) -> float:
    """A point of the interval."""
    return min(interval.high, interval.low + (interval.high - interval.low) * where)


@pytest.mark.parametrize(
    ("low", "high"),
    [
        (math.nan, 1.0),
        (0.0, math.nan),
        (math.nan, math.nan),
        (2.0, 1.0),
        (-math.inf, 0.0),
        (0.0, math.inf),
        (0.0, 1e300),
        (-1e300, 0.0),
    ],
)
def test_what_is_no_interval_is_refused(low: float, high: float) -> None:
    with pytest.raises(ValueError, match="not an interval"):
        Interval(low, high)


def test_an_exact_value_blames_nobody() -> None:
    assert Interval(2.0, 2.0, frozenset({"bath.water"})).because == frozenset()
    assert Interval(2.0, 3.0, frozenset({"bath.water"})).because == {"bath.water"}
    assert Interval.point(2.0).exact
    assert not Interval(2.0, 3.0).exact


@given(intervals, intervals, share, share)
def test_sum_difference_and_product_hold_every_real_result(a: Interval, b: Interval, x: float, y: float) -> None:
    p, q = at(a, x), at(b, y)
    assert inside(p + q, a + b)
    assert inside(p - q, a - b)
    assert inside(p * q, a * b)
    for result in (a + b, a - b, a * b):
        assert result.exact or result.because == a.because | b.because


@given(intervals, st.floats(min_value=0.01, max_value=1e3), st.floats(min_value=0.0, max_value=1e3), share, share)
def test_quotient_holds_every_real_result(a: Interval, low: float, width: float, x: float, y: float) -> None:
    b = Interval(low, low + width)
    assert inside(at(a, x) / at(b, y), a / b)
    assert inside(at(a, x) / -at(b, y), a / -b)


@pytest.mark.parametrize("divisor", [Interval(-1.0, 1.0), Interval(0.0, 1.0), Interval(-1.0, 0.0), Interval.point(0.0)])
def test_dividing_by_what_may_be_nothing_is_refused(divisor: Interval) -> None:
    with pytest.raises(ZeroDivisionError, match="contains zero"):
        Interval(1.0, 2.0) / divisor
    with pytest.raises(ZeroDivisionError, match="contains zero"):
        1.0 / divisor


def test_plain_numbers_on_either_side() -> None:
    a = Interval(2.0, 4.0)
    assert a + 1 == 1 + a == Interval(3.0, 5.0)
    assert 10 - a == Interval(6.0, 8.0)
    assert a * 2 == 2 * a == Interval(4.0, 8.0)
    assert 8 / a == Interval(2.0, 4.0)
    assert a / 2 == Interval(1.0, 2.0)
    assert as_interval(a) is a
    assert as_interval(3) == Interval.point(3.0)


def test_a_product_with_a_negative_swaps_the_ends() -> None:
    assert Interval(1.0, 2.0) * -3 == Interval(-6.0, -3.0)
    assert -Interval(1.0, 2.0) == Interval(-2.0, -1.0)


def test_clip_at_least_hull_middle_and_tags() -> None:
    a = Interval(-1.0, 5.0, frozenset({"bath.water"}))
    assert a.clip(0.0, 3.0) == Interval(0.0, 3.0, frozenset({"bath.water"}))
    assert a.clip(6.0, 7.0) == Interval.point(6.0)
    assert a.at_least(2.0) == Interval(2.0, 5.0, frozenset({"bath.water"}))
    assert a.at_least(9.0) == Interval.point(9.0)
    assert a.hull(Interval.point(8.0)) == Interval(-1.0, 8.0, frozenset({"bath.water"}))
    assert a.middle == 2.0
    assert a.tagged("scale.resolution").because == {"bath.water", "scale.resolution"}
    assert Interval.point(1.0).tagged("bath.water").because == frozenset()


def test_an_input_that_widened_both_parts_is_still_blamed() -> None:
    """Both came of the same water: it is named once, and never cancelled out."""
    a, b = Interval(1.0, 2.0, frozenset({"bath.water"})), Interval(3.0, 4.0, frozenset({"bath.water", "a.b"}))
    for result in (a + b, a - b, a * b, a / b, a.hull(b), corners(lambda x, y: x + y, a, b)):
        assert result.because == {"bath.water", "a.b"}
    assert a.tagged("bath.water").because == {"bath.water"}


def test_the_middle_of_a_width_that_is_no_even_number() -> None:
    """By hand: halfway from 1 to 4 is 2.5, from -0.5 to 0 it is -0.25."""
    assert Interval(1.0, 4.0).middle == 2.5
    assert Interval(-0.5, 0.0).middle == -0.25


def test_an_interval_cannot_be_changed_once_made() -> None:
    """One interval stands in many facts, and is a key of what is remembered."""
    a = Interval(1.0, 2.0)
    with pytest.raises(FrozenInstanceError):
        a.low = 0.0  # type: ignore[misc]
    assert len({a, Interval(1.0, 2.0)}) == 1


def test_rounding_to_nine_digits_moves_a_unit_conversion_back_onto_its_limit() -> None:
    fahrenheit_140 = (140 - 32) / 1.8  # 60.00000000000001 in floats
    assert rounded(fahrenheit_140) == 60.0
    assert rounded(60.0000001) > 60.0
    assert rounded(0.1 + 0.2) == 0.3
    assert [rounded(123456789.4), rounded(12345678.94)] == [123456789.0, 12345678.9], "nine digits, not ten nor eight"
    wide = Interval(fahrenheit_140, fahrenheit_140 + 1, frozenset({"bath.temperature"}))
    assert wide.rounded() == Interval(60.0, 61.0, frozenset({"bath.temperature"}))
    assert Interval.point(fahrenheit_140).rounded() == Interval.point(60.0)


@given(intervals)
def test_rounding_keeps_order_and_is_done_once(a: Interval) -> None:
    once = a.rounded()
    assert once.low <= once.high
    assert once.rounded() == once


@given(intervals, st.floats(min_value=0.0, max_value=50.0), st.floats(min_value=0.0, max_value=50.0), share, share)
def test_corners_bound_a_function_monotone_in_each_argument(
    a: Interval, low: float, width: float, x: float, y: float
) -> None:
    b = Interval(low, low + width)

    def slope(p: float, q: float) -> float:
        return p * q - q  # for q >= 0: rises in p, and in q rises or falls by the sign of p - 1

    found = corners(slope, a, b)
    assert inside(slope(at(a, x), at(b, y)), found)
    assert found.exact or found.because == a.because | b.because
