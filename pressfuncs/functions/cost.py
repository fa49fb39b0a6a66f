"""Cost: what a piece costs, what to quote for it, and from which quantity a tool pays.

Money is a plain number in one currency throughout. Rates per hour and prices per mass carry their units.
"""

from __future__ import annotations

from typing import Literal

from pressfuncs.arrays import sqrt
from pressfuncs.functions._rounding import round_up
from pressfuncs.limits import loss, not_negative, one_of, positive, require
from pressfuncs.quantities import (
    Count,
    Duration,
    HourlyRate,
    Mass,
    MassPrice,
    Money,
    Number,
    PartRate,
    Ratio,
)
from pressfuncs.registry import function

MarginOn = Literal["price", "cost"]


@function(chapter="Cost", source="derived")
def material_cost(gross_mass: Mass, price: MassPrice, net_mass: Mass = 0.0, scrap_price: MassPrice = 0.0) -> Money:
    """Cost of material of one part: the gross mass is paid, and what is left of the strip is sold as scrap.

    c = gross * price - (gross - net) * scrap price

    Arguments:
        gross_mass: mass of strip used for one part, see gross_mass
        price: price of the strip by mass
        net_mass: mass of the finished part; matters only with a scrap price
        scrap_price: what the scrap dealer pays by mass; blank: nothing

    >>> material_cost(gross_mass=4.2855e-05, price=1100, net_mass=3.0827e-05, scrap_price=250)
    0.04413
    """
    positive(gross_mass=gross_mass)
    not_negative(price=price, net_mass=net_mass, scrap_price=scrap_price)
    require(
        net_mass <= gross_mass * (1.0 + 1e-9),
        "net mass {net_mass} is more than gross mass {gross_mass}",
        net_mass=net_mass,
        gross_mass=gross_mass,
    )
    require(
        (scrap_price == 0.0) | (net_mass > 0.0),
        "a scrap price of {scrap_price} is given without the net mass: the whole strip would be sold as scrap",
        scrap_price=scrap_price,
    )
    return gross_mass * price - (gross_mass - net_mass) * scrap_price


@function(chapter="Cost", source="derived")
def press_hourly_rate(
    press_value: Money, service_years: Number, yearly_costs: Money, time_per_year: Duration
) -> HourlyRate:
    """Hourly rate of a press without its operator: its value written off evenly, and its costs of each year.

    r = (value / years + yearly costs) / hours per year

    Arguments:
        press_value: what it costs to replace the press, its feeder and its installation
        service_years: years over which it is written off
        yearly_costs: costs of a year: interest, floor space, energy, upkeep, insurance
        time_per_year: hours that are really sold in a year, not those that the press could run

    >>> press_hourly_rate(press_value=400000, service_years=10, yearly_costs=32000, time_per_year=7200000)
    0.01
    """
    not_negative(press_value=press_value)
    positive(service_years=service_years)
    not_negative(yearly_costs=yearly_costs)
    positive(time_per_year=time_per_year)
    return (press_value / service_years + yearly_costs) / time_per_year


@function(chapter="Cost", source="derived")
def press_cost(part_rate: PartRate, press_rate: HourlyRate, labour_rate: HourlyRate, operators: Number) -> Money:
    """Cost of press and operators for one part.

    c = (press rate + operators * labour rate) / part rate

    The part rate is that of good parts with stops taken off, not strokes times 60.

    Arguments:
        part_rate: good parts per hour, see stroke_rate_throughput
        press_rate: hourly rate of the press
        labour_rate: hourly rate of one operator, on-costs included; write 0 where it is in the rate of the press
        operators: operators at the press; 0.5 for one who minds two presses

    >>> press_cost(part_rate=0.6, press_rate=0.01, labour_rate=0.01, operators=0.5)
    0.025
    """
    positive(part_rate=part_rate)
    not_negative(press_rate=press_rate, labour_rate=labour_rate, operators=operators)
    return (press_rate + operators * labour_rate) / part_rate


@function(chapter="Cost", source="derived")
def setup_cost(setup: Duration, hourly_rate: HourlyRate, lot_size: Count) -> Money:
    """Cost of setting up for one part of a lot.

    c = setup * rate / lot

    Arguments:
        setup: time to set up and to take down, trial parts included
        hourly_rate: hourly rate of the press and of the setters while they set up
        lot_size: good parts made in one setup

    >>> setup_cost(setup=5400, hourly_rate=0.025, lot_size=10000)
    0.0135
    """
    not_negative(setup=setup, hourly_rate=hourly_rate)
    positive(lot_size=lot_size)
    return setup * hourly_rate / lot_size


@function(chapter="Cost", source="derived")
def tooling_cost(tool_cost: Money, quantity: Count, upkeep: Money) -> Money:
    """Cost of tools for one part: the tool written off over all parts that are sure to be ordered.

    c = (tool + upkeep) / quantity

    Arguments:
        tool_cost: cost of the die; 0 if the customer pays it apart
        quantity: parts over which it is written off, not more than it lasts for
        upkeep: sharpening, spare punches and repair over that quantity, see sharpening_cost

    >>> tooling_cost(tool_cost=18000, quantity=600000, upkeep=3000)
    0.035
    """
    not_negative(tool_cost=tool_cost)
    positive(quantity=quantity)
    not_negative(upkeep=upkeep)
    return (tool_cost + upkeep) / quantity


@function(chapter="Cost", source="derived")
def sharpening_cost(quantity: Count, parts_per_sharpening: Count, cost_each: Money) -> Money:
    """Cost of sharpening a die over a quantity; a last, partly used sharpening counts whole.

    C = ceil(quantity / parts per sharpening) * cost each

    Arguments:
        quantity: parts to be made
        parts_per_sharpening: parts that the die makes from one sharpening to the next
        cost_each: cost of one sharpening, taking the die apart and trying it included

    >>> sharpening_cost(quantity=600000, parts_per_sharpening=80000, cost_each=262.5)
    2100.0
    """
    not_negative(quantity=quantity)
    positive(parts_per_sharpening=parts_per_sharpening)
    not_negative(cost_each=cost_each)
    return round_up(quantity / parts_per_sharpening) * cost_each


@function(chapter="Cost", source="derived")
def piece_cost(
    material: Money,
    press: Money,
    setup: Money,
    tooling: Money,
    other: Money,
    scrap_share: Ratio,
) -> Money:
    """Cost of one good part: the sum of its costs, borne by the parts that are good.

    c = (material + press + setup + tooling + other) / (1 - scrap)

    Where the part rate counts good parts only, scrap is in the press cost already: then put it into the
    material (mass_to_order) and write 0 here.

    Arguments:
        material: cost of material of one part, see material_cost
        press: cost of press and operators of one part, see press_cost
        setup: cost of setting up for one part, see setup_cost
        tooling: cost of tools for one part, see tooling_cost
        other: further costs of one part: washing, coating, packing, freight; write 0 for none
        scrap_share: share of the parts that are not good

    >>> piece_cost(material=0.044, press=0.025, setup=0.0135, tooling=0.035, other=0.01, scrap_share=0.02)
    0.1301
    """
    not_negative(material=material, press=press, setup=setup, tooling=tooling, other=other)
    loss(scrap_share=scrap_share)
    return (material + press + setup + tooling + other) / (1.0 - scrap_share)


@function(chapter="Cost", source="derived")
def quote_price(cost: Money, margin: Ratio, margin_on: MarginOn = "price") -> Money:
    """Price to quote for a cost and a margin.

    price: cost / (1 - margin); cost: cost * (1 + margin)

    A margin is a share of the price, a mark-up a share of the cost. They are not the same: 20 % of the price is
    25 % on the cost, and a mark-up of 20 % leaves a margin of 16.7 % only.

    Arguments:
        cost: cost of one part, see piece_cost
        margin: share to be earned, 0.2 for 20 %
        margin_on: price (default: a margin, share of the price) or cost (a mark-up, share of the cost)

    >>> quote_price(cost=0.8, margin=0.2)
    1.0
    """
    not_negative(cost=cost)
    one_of(("price", "cost"), margin_on=margin_on)
    if margin_on == "cost":
        not_negative(margin=margin)
        return cost * (1.0 + margin)
    loss(margin=margin)
    return cost / (1.0 - margin)


@function(chapter="Cost", source="derived")
def price_margin(price: Money, cost: Money, margin_on: MarginOn = "price") -> Ratio:
    """Margin that a price leaves over a cost; negative: every part loses money.

    price: (price - cost) / price; cost: (price - cost) / cost

    Arguments:
        price: price of one part
        cost: cost of one part, see piece_cost
        margin_on: price (default: a margin, share of the price) or cost (a mark-up, share of the cost)

    >>> price_margin(price=0.96, cost=0.8)
    0.1667
    """
    positive(price=price, cost=cost)
    one_of(("price", "cost"), margin_on=margin_on)
    return (price - cost) / (price if margin_on == "price" else cost)


@function(chapter="Cost", source="derived")
def break_even_quantity(fixed_cost: Money, price: Money, variable_cost: Money) -> Count:
    """Smallest quantity at which the price has brought back the fixed cost, rounded up.

    n = ceil(fixed / (price - variable))

    Arguments:
        fixed_cost: cost that does not depend on the quantity: die, first setup, samples
        price: price of one part
        variable_cost: cost of one more part: material, press, share of setup

    >>> break_even_quantity(fixed_cost=18000, price=0.16, variable_cost=0.1)
    300000
    """
    not_negative(fixed_cost=fixed_cost, price=price, variable_cost=variable_cost)
    require(
        price > variable_cost,
        "price {price} is not above the variable cost {variable_cost}: no quantity brings the fixed cost back",
        price=price,
        variable_cost=variable_cost,
    )
    return round_up(fixed_cost / (price - variable_cost))


@function(chapter="Cost", source="derived")
def changeover_quantity(
    fixed_cost: Money, part_cost: Money, better_fixed_cost: Money, better_part_cost: Money
) -> Count:
    """Smallest quantity from which the dearer tool with the cheaper part is no dearer in all, rounded up.

    n = ceil((better fixed - fixed) / (part - better part))

    Arguments:
        fixed_cost: cost of the simple tool: single dies, laser programme
        part_cost: cost of one part made with it
        better_fixed_cost: cost of the better tool: compound or progressive die
        better_part_cost: cost of one part made with it

    >>> changeover_quantity(fixed_cost=4000, part_cost=0.3, better_fixed_cost=18000, better_part_cost=0.1)
    70000
    """
    not_negative(
        fixed_cost=fixed_cost,
        part_cost=part_cost,
        better_fixed_cost=better_fixed_cost,
        better_part_cost=better_part_cost,
    )
    require(
        better_part_cost < part_cost,
        "a part costs {better_part_cost} with the better tool, not less than {part_cost}: it never pays",
        better_part_cost=better_part_cost,
        part_cost=part_cost,
    )
    require(
        better_fixed_cost >= fixed_cost,
        "the better tool costs {better_fixed_cost}, less than {fixed_cost}: it pays from the first part",
        better_fixed_cost=better_fixed_cost,
        fixed_cost=fixed_cost,
    )
    return round_up((better_fixed_cost - fixed_cost) / (part_cost - better_part_cost))


@function(chapter="Cost", source="derived", place="square-root formula of the economic lot, Harris 1913")
def economic_lot(yearly_quantity: Count, cost_per_setup: Money, holding_cost: Money) -> Count:
    """Lot size at which setting up and keeping stock together cost least in a year, rounded up.

    n = ceil(sqrt(2 * yearly quantity * setup / holding))

    The minimum is flat: half or double the lot costs a quarter more of these two, no more.

    Arguments:
        yearly_quantity: parts wanted in a year, called off evenly
        cost_per_setup: cost of one setup, trial parts included
        holding_cost: cost of keeping one part in stock for a year: interest, space, loss

    >>> economic_lot(yearly_quantity=600000, cost_per_setup=135, holding_cost=0.02)
    90000
    """
    positive(yearly_quantity=yearly_quantity)
    not_negative(cost_per_setup=cost_per_setup)
    positive(holding_cost=holding_cost)
    return round_up(sqrt(2.0 * yearly_quantity * cost_per_setup / holding_cost))
