"""Laws, boundaries and refusals of the cost chapter, and one quote worked by hand."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import (
    break_even_quantity,
    changeover_quantity,
    economic_lot,
    material_cost,
    piece_cost,
    press_cost,
    press_hourly_rate,
    price_margin,
    quote_price,
    setup_cost,
    sharpening_cost,
    tooling_cost,
)
from pressfuncs.errors import Impossible, OutOfRange, WrongChoice
from pressfuncs.functions.throughput import stroke_rate_throughput
from pressfuncs.registry import FUNCTIONS

HOUR = 3600.0

money = st.floats(0.001, 1e6)
margins = st.floats(0, 0.99)


def test_quote_worked_by_hand():
    """An invented washer: strip 3.2 EUR/kg, 0.05 kg gross, 0.03 kg net; press 90 EUR/h; 1800 parts/h.

    material 0.05 * 3.20 - 0.02 * 0.50 = 0.16 - 0.01      = 0.15
    press    (90 + 0.5 * 36) / 1800                       = 0.06
    setup    1.5 h * 120 EUR/h / 9000 parts               = 0.02
    tooling  (21 000 + 3 000) / 1 200 000                 = 0.02
    sum 0.25, packing 0.035, 5 % scrap: 0.285 / 0.95      = 0.30
    price with 25 % margin: 0.30 / 0.75                   = 0.40; with 25 % mark-up 0.375
    """
    material = material_cost(0.05e-3, 3200, 0.03e-3, 500)
    press = press_cost(1800 / HOUR, 90 / HOUR, 36 / HOUR, 0.5)
    setup = setup_cost(1.5 * HOUR, 120 / HOUR, 9000)
    tooling = tooling_cost(21000, 1_200_000, sharpening_cost(1_200_000, 100_000, 250))
    assert [material, press, setup, tooling] == pytest.approx([0.15, 0.06, 0.02, 0.02])
    cost = piece_cost(material, press, setup, tooling, 0.035, 0.05)
    assert cost == pytest.approx(0.30)
    assert quote_price(cost, 0.25) == pytest.approx(0.40)
    assert quote_price(cost, 0.25, "cost") == pytest.approx(0.375)
    assert break_even_quantity(21000, quote_price(cost, 0.25), 0.26) == 150_000


# Material


@given(st.floats(1e-6, 1), st.floats(0.01, 1), st.floats(0, 1e5), st.floats(0, 1))
def test_scrap_money_is_for_the_scrap_only(gross, share, price, scrap_share):
    full = gross * price
    cost = material_cost(gross, price, share * gross, scrap_share * price)
    assert cost <= full * (1 + 1e-12)
    assert cost == pytest.approx(full - (1 - share) * gross * scrap_share * price, rel=1e-9, abs=1e-7)


def test_material_without_a_scrap_price_is_gross_mass_times_price():
    assert material_cost(0.05e-3, 3200) == pytest.approx(0.16)
    assert material_cost(0.05e-3, 3200, 0.03e-3) == pytest.approx(0.16)


def test_strip_that_would_all_be_sold_as_scrap_is_refused():
    with pytest.raises(Impossible, match="without the net mass: the whole strip would be sold as scrap"):
        material_cost(0.05e-3, 3200, 0.0, 500)


def test_part_heavier_than_its_strip_is_refused():
    assert material_cost(0.05e-3, 3200, 0.05e-3, 500) == pytest.approx(0.16)
    with pytest.raises(Impossible):
        material_cost(0.05e-3, 3200, 0.05e-3 * (1 + 1e-7), 500)
    with pytest.raises(Impossible, match=r"net mass 5.1e-05 tonne is more than gross mass 5e-05 tonne"):
        material_cost(0.05e-3, 3200, 0.051e-3, 500)


# Press, setup, tools


def test_press_costs_more_a_part_when_stops_are_counted():
    planned = press_cost(stroke_rate_throughput(1, 1, 1.0, 0), 0.025, 0, 1)
    real = press_cost(stroke_rate_throughput(1, 1, 0.75, 0), 0.025, 0, 1)
    assert real == pytest.approx(planned / 0.75)


def test_labour_is_left_out_when_it_is_in_the_rate():
    assert press_cost(0.5, 0.025, 0, 1) == pytest.approx(0.05)
    assert press_cost(0.5, 0.025, 0.01, 0) == pytest.approx(0.05)
    assert press_cost(0.5, 0.025, 0.01, 2) == pytest.approx(0.09)
    assert press_cost(0.5, 0.025, 0.01, 1) == pytest.approx(0.07)


def test_hourly_rate_brings_in_the_press_over_its_life():
    rate = press_hourly_rate(400_000, 10, 32_000, 2000 * HOUR)
    assert rate * HOUR == pytest.approx(36.0)
    assert rate * 2000 * HOUR * 10 == pytest.approx(400_000 + 10 * 32_000)


@given(st.floats(0, 1e6), st.floats(0, 10), st.integers(1, 10**6))
def test_setup_of_all_parts_of_the_lot_is_the_setup(setup, rate, lot):
    assert setup_cost(setup, rate, lot) * lot == pytest.approx(setup * rate)


@given(money, money, st.integers(1, 10**7))
def test_tooling_of_all_parts_is_tool_and_upkeep(tool, upkeep, quantity):
    assert tooling_cost(tool, quantity, upkeep) * quantity == pytest.approx(tool + upkeep)


def test_sharpening_begun_is_paid_whole():
    assert sharpening_cost(80_000, 80_000, 250) == 250
    assert sharpening_cost(80_001, 80_000, 250) == 500
    assert sharpening_cost(0, 80_000, 250) == 0


# Piece and price


@given(money, money, money, money, money, st.floats(0, 0.9))
def test_good_parts_bear_the_bad_ones(material, press, setup, tooling, other, scrap):
    cost = piece_cost(material, press, setup, tooling, other, scrap)
    assert cost * (1 - scrap) == pytest.approx(material + press + setup + tooling + other)


@given(money, margins)
def test_margin_is_a_share_of_the_price(cost, margin):
    price = quote_price(cost, margin)
    assert price - cost == pytest.approx(margin * price, rel=1e-9, abs=1e-7)
    assert price_margin(price, cost) == pytest.approx(margin, rel=1e-9, abs=1e-7)


@given(money, st.floats(0, 5))
def test_mark_up_is_a_share_of_the_cost(cost, mark_up):
    price = quote_price(cost, mark_up, "cost")
    assert price - cost == pytest.approx(mark_up * cost, rel=1e-9, abs=1e-7)
    assert price_margin(price, cost, "cost") == pytest.approx(mark_up, rel=1e-9, abs=1e-7)


@given(money, st.floats(0.01, 0.9))
def test_margin_asks_more_than_a_mark_up_of_the_same_share(cost, share):
    assert quote_price(cost, share) > quote_price(cost, share, "cost")


def test_margin_of_the_whole_price_is_refused_and_such_a_mark_up_is_not():
    with pytest.raises(OutOfRange, match=r"margin must be 0 or more and less than 1 \(10 % is 0.1\), got 1"):
        quote_price(0.8, 1.0)
    with pytest.raises(OutOfRange, match="got 25"):
        quote_price(0.8, 25.0)
    assert quote_price(0.8, 1.0, "cost") == pytest.approx(1.6)


def test_price_below_cost_has_a_negative_margin():
    assert price_margin(0.8, 1.0) == pytest.approx(-0.25)
    assert price_margin(0.8, 1.0, "cost") == pytest.approx(-0.2)
    assert price_margin(1.0, 1.0) == 0.0


def test_difference_of_margin_and_mark_up_is_told():
    notes = FUNCTIONS["quote_price"].docs.notes
    assert "margin is a share of the price" in notes
    assert "mark-up a share of the cost" in notes


@pytest.mark.parametrize("call", [quote_price, price_margin])
def test_margin_on_something_else_is_refused(call):
    with pytest.raises(WrongChoice, match="choose from price, cost"):
        call(1.0, 0.5, "sales")


def test_costs_that_there_are_not_are_written_as_0():
    assert piece_cost(0.15, 0.06, 0, 0, 0, 0) == pytest.approx(0.21)
    assert tooling_cost(18000, 600_000, 0) == pytest.approx(0.03)


# Quantities


@given(st.integers(0, 10**6), st.integers(1, 1000), st.integers(0, 10**4))
def test_break_even_is_the_first_quantity_without_loss(fixed, gain_cents, variable_cents):
    price, variable = (variable_cents + gain_cents) / 100, variable_cents / 100
    exact = math.ceil(Fraction(fixed) * 100 / gain_cents)
    found = break_even_quantity(fixed, price, variable)
    assert found == pytest.approx(exact, abs=1, rel=1e-9)
    assert found * gain_cents >= fixed * 100 * (1 - 1e-9)


def test_break_even_on_the_boundary():
    assert break_even_quantity(1000, 3, 1) == 500
    assert break_even_quantity(1001, 3, 1) == 501
    assert break_even_quantity(0, 3, 1) == 0


@pytest.mark.parametrize("price", [1.0, 0.9])
def test_price_that_earns_nothing_never_breaks_even(price):
    with pytest.raises(Impossible, match="no quantity brings the fixed cost back"):
        break_even_quantity(1000, price, 1.0)


def test_only_the_parts_that_earn_nothing_are_marked_in_a_column():
    with pytest.raises(Impossible) as refusal:
        break_even_quantity(1000, np.array([2.0, 1.0, 3.0]), 1.0)
    assert refusal.value.bad.tolist() == [False, True, False]


@given(st.integers(0, 10**5), st.integers(0, 10**5), st.integers(1, 100), st.integers(0, 100))
def test_better_tool_pays_from_the_changeover_on(fixed, more, gain, better):
    quantity = changeover_quantity(fixed, better + gain, fixed + more, better)

    def saved(n: int) -> int:
        return (fixed + n * (better + gain)) - (fixed + more + n * better)

    assert saved(quantity) >= 0
    assert quantity == 0 or saved(quantity - 1) < 0


def test_tool_that_never_or_always_pays_is_refused():
    with pytest.raises(Impossible, match="it never pays"):
        changeover_quantity(4000, 0.1, 18000, 0.1)
    with pytest.raises(Impossible, match="it pays from the first part"):
        changeover_quantity(4000, 0.3, 3999, 0.1)
    assert changeover_quantity(4000, 0.3, 4000, 0.1) == 0


@given(st.integers(1000, 10**6), st.floats(10, 1000), st.floats(0.001, 1))
def test_economic_lot_costs_least(yearly, setup, holding):
    def yearly_cost(lot: float) -> float:
        return yearly / lot * setup + lot / 2 * holding

    lot = economic_lot(yearly, setup, holding)
    assert yearly_cost(lot) <= yearly_cost(lot + 1) * (1 + 1e-12)
    assert lot <= 2 or yearly_cost(lot - 1) <= yearly_cost(lot - 2) * (1 + 1e-12)
    exact = math.sqrt(2 * yearly * setup / holding)
    assert yearly_cost(2 * exact) == pytest.approx(1.25 * yearly_cost(exact))


@pytest.mark.parametrize(
    ("call", "arguments"),
    [
        (press_cost, (0.0, 0.02, 0, 1)),
        (press_cost, (0.5, -0.02, 0, 1)),
        (setup_cost, (3600, 0.02, 0)),
        (tooling_cost, (18000, 0, 0)),
        (press_hourly_rate, (400000, 0, 32000, 7.2e6)),
        (press_hourly_rate, (400000, 10, 32000, 0)),
        (piece_cost, (-0.1, 0.1, 0, 0, 0, 0)),
        (piece_cost, (0.1, 0.1, 0, 0, 0, 1.0)),
        (sharpening_cost, (100, 0, 250)),
        (economic_lot, (0, 135, 0.02)),
        (economic_lot, (600000, 135, 0)),
        (price_margin, (0, 1)),
        (quote_price, (1, -0.1)),
        (quote_price, (1, -0.1, "cost")),
        (material_cost, (0, 3200)),
    ],
)
def test_figures_without_meaning_are_refused(call, arguments):
    with pytest.raises(OutOfRange):
        call(*arguments)


def test_mark_up_below_nothing_is_refused():
    with pytest.raises(OutOfRange, match="margin must not be less than 0"):
        quote_price(1.0, -0.1, "cost")


def test_part_may_outweigh_its_strip_by_float_noise_only():
    assert material_cost(0.3, 1.0, 0.1 + 0.2) == pytest.approx(0.3)
    with pytest.raises(Impossible, match="more than"):
        material_cost(0.3, 1.0, 0.3 * (1 + 1e-7))
