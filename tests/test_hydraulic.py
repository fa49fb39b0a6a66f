"""The hydraulic chapter: laws that hold for any cylinder, boundaries, refusals, and checks by integration."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from pressfuncs import (
    bore_for_force,
    cylinder_flow,
    cylinder_speed,
    hydraulic_capacity,
    hydraulic_cycle_time,
    hydraulic_power,
    hydraulic_return_capacity,
    piston_area,
    pressure_for_force,
    pump_flow,
    regenerative_capacity,
    regenerative_speed,
    return_flow,
)
from pressfuncs.errors import Impossible, OutOfRange, WrongChoice

BORES = st.floats(20, 1200)
PRESSURES = st.floats(0.5, 60)
SHARES = st.floats(0.05, 0.95)
FLOWS = st.floats(1e4, 1e8)
COUNTS = st.integers(1, 8).map(float)

CYCLE = {
    "approach_distance": 180.0,
    "approach_speed": 300.0,
    "press_distance": 20.0,
    "press_speed": 10.0,
    "return_distance": 200.0,
    "return_speed": 250.0,
}
PAUSES = {"dwell": 0.0, "valve_time": 0.0}


@given(BORES, SHARES)
def test_piston_area_is_the_integral_over_the_ring(bore, share):
    rod = bore * share
    assert piston_area(bore, rod) == pytest.approx(quad(lambda r: 2 * math.pi * r, rod / 2, bore / 2)[0], rel=1e-9)


@given(BORES, PRESSURES, COUNTS, SHARES)
def test_capacity_is_the_integral_of_the_pressure(bore, pressure, cylinders, efficiency):
    one = quad(lambda r: pressure * 2 * math.pi * r, 0, bore / 2)[0]
    found = hydraulic_capacity(bore, pressure, cylinders, efficiency)
    assert found == pytest.approx(cylinders * efficiency * one, rel=1e-9)


@given(BORES, PRESSURES, COUNTS)
def test_doubling_the_bore_gives_four_times_the_force_and_doubling_the_pressure_twice(bore, pressure, cylinders):
    force = hydraulic_capacity(bore, pressure, cylinders)
    assert hydraulic_capacity(2 * bore, pressure, cylinders) == pytest.approx(4 * force, rel=1e-12)
    assert hydraulic_capacity(bore, 2 * pressure, cylinders) == pytest.approx(2 * force, rel=1e-12)


@given(BORES, PRESSURES, COUNTS, SHARES)
def test_pressure_and_bore_for_a_force_give_that_force_back(bore, pressure, cylinders, efficiency):
    force = hydraulic_capacity(bore, pressure, cylinders, efficiency)
    assert pressure_for_force(force, bore, cylinders, efficiency) == pytest.approx(pressure, rel=1e-12)
    assert bore_for_force(force, pressure, cylinders, efficiency) == pytest.approx(bore, rel=1e-12)


@given(BORES, PRESSURES, SHARES)
def test_pulling_force_and_rod_force_add_up_to_the_pressing_force(bore, pressure, share):
    rod = bore * share
    pulled = hydraulic_return_capacity(bore, rod, pressure)
    assert pulled < hydraulic_capacity(bore, pressure)
    total = pulled + regenerative_capacity(rod, pressure)
    assert total == pytest.approx(hydraulic_capacity(bore, pressure), rel=1e-12)


@given(FLOWS, BORES, SHARES, COUNTS)
def test_flow_gives_the_speed_back_and_the_return_is_faster(flow, bore, share, cylinders):
    rod = bore * share
    back = cylinder_speed(flow, bore, rod, cylinders)
    assert cylinder_flow(back, bore, rod, cylinders) == pytest.approx(flow, rel=1e-12)
    assert back > cylinder_speed(flow, bore, 0, cylinders)


@given(FLOWS, BORES, SHARES)
def test_return_flow_is_what_the_moving_piston_pushes_out(flow, bore, share):
    rod = bore * share
    up = cylinder_speed(flow, bore, rod, 1)
    down = cylinder_speed(flow, bore, 0, 1)
    retracting = return_flow(flow, bore, rod)
    extending = return_flow(flow, bore, rod, "extend")
    assert retracting == pytest.approx(up * piston_area(bore, 0), rel=1e-12)
    assert extending == pytest.approx(down * piston_area(bore, rod), rel=1e-12)
    assert extending < flow < retracting


@given(FLOWS, BORES, SHARES)
def test_regenerative_speed_follows_from_the_balance_of_flows(flow, bore, share):
    rod = bore * share
    speed = regenerative_speed(flow, rod, 1)
    assert speed * piston_area(bore, 0) == pytest.approx(flow + speed * piston_area(bore, rod), rel=1e-9)
    assert speed > cylinder_speed(flow, bore, 0, 1)


@given(FLOWS, PRESSURES, BORES)
def test_power_in_the_oil_is_force_times_speed(flow, pressure, bore):
    force_times_speed = hydraulic_capacity(bore, pressure, 1, 1) * cylinder_speed(flow, bore, 0, 1)
    assert hydraulic_power(flow, pressure, 1) == pytest.approx(force_times_speed, rel=1e-12)
    assert hydraulic_power(flow, pressure, 0.85) == pytest.approx(force_times_speed / 0.85, rel=1e-12)


def test_losses_are_counted_when_the_efficiency_is_left_blank():
    """The lower end of what is usual: less force and flow, more pressure, bore and power than without losses."""
    for function, values, loss in (
        (hydraulic_capacity, (200, 10, 2), 0.9),
        (hydraulic_return_capacity, (200, 140, 10, 2), 0.9),
        (regenerative_capacity, (140, 10, 2), 0.9),
        (pump_flow, (1e5, 150), 0.9),
        (pressure_for_force, (1e5, 200, 2), 1 / 0.9),
        (bore_for_force, (1e5, 10, 2), math.sqrt(1 / 0.9)),
        (hydraulic_power, (1e6, 10), 1 / 0.8),
    ):
        assert function(*values) == pytest.approx(loss * function(*values, 1), rel=1e-12)


def test_a_single_cylinder_is_the_least_that_presses():
    assert hydraulic_capacity(200, 10) == hydraulic_capacity(200, 10, 1)
    assert hydraulic_return_capacity(200, 140, 10) == hydraulic_return_capacity(200, 140, 10, 1)
    assert regenerative_capacity(140, 10) == regenerative_capacity(140, 10, 1)
    assert pressure_for_force(1e5, 200) == pressure_for_force(1e5, 200, 1) > pressure_for_force(1e5, 200, 2)
    assert bore_for_force(1e5, 10) == bore_for_force(1e5, 10, 1) > bore_for_force(1e5, 10, 2)


def test_pump_flow_in_the_units_of_a_data_sheet():
    litres_a_minute = pump_flow(displacement=100e3, speed=1450 * 2 * math.pi / 60, efficiency=0.95) * 60 / 1e6
    assert litres_a_minute == pytest.approx(137.75, rel=1e-12)


def test_cycle_time_is_the_integral_of_distance_over_speed():
    def slowness(way):
        return 1 / 300 if way < 180 else 1 / 10 if way < 200 else 1 / 250

    moving = quad(slowness, 0, 400, points=[180, 200], limit=200)[0]
    assert hydraulic_cycle_time(**CYCLE, **PAUSES) == pytest.approx(moving, rel=1e-9)
    assert hydraulic_cycle_time(**CYCLE, dwell=0.5, valve_time=0.6) == pytest.approx(moving + 1.1, rel=1e-9)


def test_return_exactly_as_long_as_the_way_down_is_taken_in_spite_of_float_noise():
    distances = {"approach_distance": 0.1 * 25.4, "press_distance": 0.2 * 25.4, "return_distance": 0.3 * 25.4}
    assert hydraulic_cycle_time(**{**CYCLE, **PAUSES, **distances}) > 0


def test_return_shorter_than_the_way_down_is_refused():
    with pytest.raises(Impossible, match=r"return_distance 199\.9 mm is shorter"):
        hydraulic_cycle_time(**{**CYCLE, **PAUSES, "return_distance": 199.9})


@pytest.mark.parametrize("rod", [63.0, 80.0])
def test_rod_as_thick_as_the_bore_or_thicker_is_refused(rod):
    calls = [
        lambda: piston_area(63, rod),
        lambda: hydraulic_return_capacity(63, rod, 16),
        lambda: cylinder_speed(1e6, 63, rod, 1),
        lambda: cylinder_flow(10, 63, rod, 1),
        lambda: return_flow(1e6, 63, rod),
    ]
    for call in calls:
        with pytest.raises(Impossible, match=f"rod {rod:g} mm is not smaller than bore 63 mm"):
            call()


def test_movement_must_be_one_of_the_two():
    with pytest.raises(WrongChoice, match="retract, extend"):
        return_flow(1e6, 63, 40, "up")


@pytest.mark.parametrize(
    "function",
    [
        hydraulic_capacity,
        pressure_for_force,
        bore_for_force,
        cylinder_speed,
        cylinder_flow,
        return_flow,
        hydraulic_return_capacity,
        regenerative_speed,
        regenerative_capacity,
        pump_flow,
        hydraulic_power,
    ],
)
@pytest.mark.parametrize("wrong", [0.0, -5.0])
def test_every_quantity_must_be_greater_than_0(function, wrong):
    count = 3 if function in (return_flow, hydraulic_return_capacity) else 2
    rest = {cylinder_speed: [20.0, 1.0], cylinder_flow: [20.0, 1.0], regenerative_speed: [1.0]}.get(function, [])
    for place in range(count):
        values = [100.0, 50.0, 25.0][:count] + rest
        values[place] = wrong
        with pytest.raises(OutOfRange, match="must be greater than 0"):
            function(*values)


@pytest.mark.parametrize("wrong", [0.0, 0.5, 1.5, -1.0])
def test_half_cylinders_are_refused(wrong):
    for call in (hydraulic_capacity, pressure_for_force, bore_for_force):
        with pytest.raises(OutOfRange, match="cylinders must be a whole number"):
            call(100.0, 20.0, wrong)
    for call in (cylinder_speed, cylinder_flow):
        with pytest.raises(OutOfRange, match="cylinders must be a whole number"):
            call(100.0, 20.0, 0.0, wrong)
    for call in (regenerative_speed, regenerative_capacity):
        with pytest.raises(OutOfRange, match="cylinders must be a whole number"):
            call(100.0, 20.0, wrong)


@pytest.mark.parametrize("wrong", [0.0, 90.0, 1.0001])
def test_efficiency_in_percent_is_refused(wrong):
    calls = [
        lambda: hydraulic_capacity(200, 10, 1, wrong),
        lambda: hydraulic_return_capacity(200, 140, 10, 1, wrong),
        lambda: pressure_for_force(1e5, 200, 1, wrong),
        lambda: bore_for_force(1e5, 10, 1, wrong),
        lambda: regenerative_capacity(140, 10, 1, wrong),
        lambda: pump_flow(1e5, 150, wrong),
        lambda: hydraulic_power(1e6, 10, wrong),
    ]
    for call in calls:
        with pytest.raises(OutOfRange, match=r"10 % is 0\.1"):
            call()


@pytest.mark.parametrize("name", CYCLE)
def test_cycle_times_refuse_negative_distances_and_standing_slides(name):
    with pytest.raises(OutOfRange, match=name):
        hydraulic_cycle_time(**{**CYCLE, **PAUSES, name: -1.0})
    if name != "approach_distance":
        with pytest.raises(OutOfRange, match=name):
            hydraulic_cycle_time(**{**CYCLE, **PAUSES, name: 0.0})


@pytest.mark.parametrize("name", ["dwell", "valve_time"])
def test_negative_times_are_refused(name):
    with pytest.raises(OutOfRange, match=name):
        hydraulic_cycle_time(**{**CYCLE, **PAUSES, name: -0.1})


def test_a_column_gives_what_a_loop_gives():
    bores, pressures = np.array([50.0, 100.0, 300.0]), np.array([10.0, 16.0, 25.0])
    rods, flows, counts = bores * 0.7, np.array([1e6, 2e6, 3e6]), np.array([1.0, 2.0, 4.0])
    for function, columns in (
        (hydraulic_capacity, (bores, pressures)),
        (hydraulic_return_capacity, (bores, rods, pressures)),
        (pressure_for_force, (flows, bores)),
        (bore_for_force, (flows, pressures)),
        (cylinder_speed, (flows, bores, rods, counts)),
        (cylinder_flow, (pressures, bores, rods, counts)),
        (return_flow, (flows, bores, rods)),
        (regenerative_speed, (flows, rods, counts)),
    ):
        expected = [function(*row) for row in zip(*columns, strict=True)]
        np.testing.assert_allclose(function(*columns), expected, rtol=1e-14)


def test_an_error_in_a_column_marks_its_rows():
    with pytest.raises(Impossible) as refused:
        piston_area(np.array([63.0, 80.0, 63.0]), np.array([40.0, 90.0, 63.0]))
    assert refused.value.bad.tolist() == [False, True, True]


def test_losses_take_from_the_regenerative_force():
    whole = regenerative_capacity(pressure=20, rod=100, efficiency=1)
    assert regenerative_capacity(pressure=20, rod=100, efficiency=0.95) == pytest.approx(0.95 * whole, rel=1e-12)


def test_way_back_may_be_shorter_by_float_noise_only():
    ways = (0.1, 1.0, 0.2, 1.0)
    assert hydraulic_cycle_time(*ways, 0.3, 1.0, 0, 0) == pytest.approx(0.6)
    with pytest.raises(Impossible, match="shorter"):
        hydraulic_cycle_time(*ways, 0.3 * (1 - 1e-7), 1.0, 0, 0)
