"""Hydraulic presses: capacity from bore and pressure, speed from flow, power and cycle time."""

from __future__ import annotations

from typing import Literal

from pressfuncs.arrays import PI, sqrt
from pressfuncs.limits import not_negative, one_of, positive, require, share, whole
from pressfuncs.quantities import (
    Area,
    Count,
    Flow,
    Force,
    Length,
    Power,
    Pressure,
    Ratio,
    RotationSpeed,
    Speed,
    Time,
    Volume,
)
from pressfuncs.registry import function

CHAPTER = "Hydraulic"
ROD_RULE = "rod {rod} is not smaller than bore {bore}"
CYLINDER_EFFICIENCY = 0.9
"""Share of the static force that is left after seal friction, the lower end of the usual 0.9 to 0.95."""
PUMP_FLOW_EFFICIENCY = 0.9
"""Volumetric efficiency of a pump, the lower end of the usual 0.9 to 0.95."""
PUMP_EFFICIENCY = 0.8
"""Overall efficiency of a pump, the lower end of the usual 0.8 to 0.9."""

Movement = Literal["retract", "extend"]


@function(chapter=CHAPTER, source="derived", place="area of a circle, less the rod")
def piston_area(bore: Length, rod: Length) -> Area:
    """Area of a piston that the oil presses on: the full bore, or the ring around the rod.

    A = pi / 4 * (D^2 - d^2)

    Arguments:
        bore: inside diameter of the cylinder
        rod: diameter of the piston rod for the ring side; write 0 for the full bore

    >>> piston_area(bore=200, rod=140)
    16022.12
    """
    positive(bore=bore)
    not_negative(rod=rod)
    require(rod < bore, ROD_RULE, rod=rod, bore=bore)
    return PI / 4 * (bore * bore - rod * rod)


@function(chapter=CHAPTER, source="practice", place="piston area times oil pressure")
def hydraulic_capacity(
    bore: Length, pressure: Pressure, cylinders: Count = 1.0, efficiency: Ratio = CYLINDER_EFFICIENCY
) -> Force:
    """Force of a hydraulic press at any height of its stroke: piston area times oil pressure.

    F = n * pi / 4 * D^2 * p * eta

    Holds over the whole stroke as long as the pump keeps the pressure. Never set the pressure above the figure
    on the machine's plate to gain force: the frame is rated for that figure. The weight of slide and tool, and
    the back pressure on the rod side, are not in it.

    Arguments:
        bore: inside diameter of one main cylinder
        pressure: oil pressure at the cylinder, not at the pump
        cylinders: number of equal cylinders that press together
        efficiency: share of the static force left after seal friction, 0.9 to 0.95; 1 counts none

    >>> hydraulic_capacity(bore=300, pressure=25)
    1590431.3
    """
    positive(bore=bore, pressure=pressure)
    whole(1, cylinders=cylinders)
    share(efficiency=efficiency)
    return cylinders * PI / 4 * bore * bore * pressure * efficiency


@function(chapter=CHAPTER, source="derived", place="ring area times oil pressure")
def hydraulic_return_capacity(
    bore: Length, rod: Length, pressure: Pressure, cylinders: Count = 1.0, efficiency: Ratio = CYLINDER_EFFICIENCY
) -> Force:
    """Pulling force of a double-acting cylinder: pressure on the ring around the rod.

    F = n * pi / 4 * (D^2 - d^2) * p * eta

    It has to lift slide and tool and overcome stripping where no other stripper does.

    Arguments:
        bore: inside diameter of one cylinder
        rod: diameter of its piston rod
        pressure: oil pressure at the rod side
        cylinders: number of equal cylinders that pull together
        efficiency: share of the static force left after seal friction, 0.9 to 0.95; 1 counts none

    >>> hydraulic_return_capacity(bore=200, rod=140, pressure=10)
    144199.1
    """
    positive(bore=bore, rod=rod, pressure=pressure)
    whole(1, cylinders=cylinders)
    share(efficiency=efficiency)
    require(rod < bore, ROD_RULE, rod=rod, bore=bore)
    return cylinders * PI / 4 * (bore * bore - rod * rod) * pressure * efficiency


@function(chapter=CHAPTER, source="derived", place="hydraulic capacity solved for the pressure")
def pressure_for_force(
    force: Force, bore: Length, cylinders: Count = 1.0, efficiency: Ratio = CYLINDER_EFFICIENCY
) -> Pressure:
    """Oil pressure that a force takes, to compare with the pressure on the machine's plate.

    p = F / (n * pi / 4 * D^2 * eta)

    Arguments:
        force: force at the slide
        bore: inside diameter of one main cylinder
        cylinders: number of equal cylinders that press together
        efficiency: share of the static force left after seal friction, 0.9 to 0.95; 1 counts none

    >>> pressure_for_force(force=1590431.3, bore=300)
    25.00000
    """
    positive(force=force, bore=bore)
    whole(1, cylinders=cylinders)
    share(efficiency=efficiency)
    return force / (cylinders * PI / 4 * bore * bore * efficiency)


@function(chapter=CHAPTER, source="derived", place="hydraulic capacity solved for the bore")
def bore_for_force(
    force: Force, pressure: Pressure, cylinders: Count = 1.0, efficiency: Ratio = CYLINDER_EFFICIENCY
) -> Length:
    """Smallest cylinder bore that gives a force; take the next larger standard bore.

    D = sqrt(4 * F / (pi * n * p * eta))

    Arguments:
        force: force at the slide
        pressure: oil pressure at the cylinder
        cylinders: number of equal cylinders that press together
        efficiency: share of the static force left after seal friction, 0.9 to 0.95; 1 counts none

    >>> bore_for_force(force=1590431.3, pressure=25)
    300.0000
    """
    positive(force=force, pressure=pressure)
    whole(1, cylinders=cylinders)
    share(efficiency=efficiency)
    return sqrt(4 * force / (PI * cylinders * pressure * efficiency))


@function(chapter=CHAPTER, source="derived", place="flow over area")
def cylinder_speed(flow: Flow, bore: Length, rod: Length, cylinders: Count) -> Speed:
    """Speed of a cylinder fed by a flow: pressing stroke with a rod of 0, return stroke with the rod diameter.

    v = Q / (n * pi / 4 * (D^2 - d^2))

    Arguments:
        flow: oil flow into the cylinders, all together
        bore: inside diameter of one cylinder
        rod: diameter of the piston rod for the return stroke; write 0 for the pressing stroke
        cylinders: number of equal cylinders that share the flow

    >>> cylinder_speed(flow=2617994, bore=200, rod=140, cylinders=1)
    163.3987
    """
    positive(flow=flow, bore=bore)
    not_negative(rod=rod)
    whole(1, cylinders=cylinders)
    require(rod < bore, ROD_RULE, rod=rod, bore=bore)
    return flow / (cylinders * PI / 4 * (bore * bore - rod * rod))


@function(chapter=CHAPTER, source="derived", place="speed times area")
def cylinder_flow(speed: Speed, bore: Length, rod: Length, cylinders: Count) -> Flow:
    """Oil flow that a cylinder speed takes: pressing stroke with a rod of 0, return stroke with the rod diameter.

    Q = v * n * pi / 4 * (D^2 - d^2)

    Arguments:
        speed: speed of the slide
        bore: inside diameter of one cylinder
        rod: diameter of the piston rod for the return stroke; write 0 for the pressing stroke
        cylinders: number of equal cylinders that share the flow

    >>> cylinder_flow(speed=83.3333333, bore=200, rod=0, cylinders=1)
    2617993.9
    """
    positive(speed=speed, bore=bore)
    not_negative(rod=rod)
    whole(1, cylinders=cylinders)
    require(rod < bore, ROD_RULE, rod=rod, bore=bore)
    return speed * cylinders * PI / 4 * (bore * bore - rod * rod)


@function(chapter=CHAPTER, source="derived", place="ratio of full bore to ring area")
def return_flow(flow: Flow, bore: Length, rod: Length, movement: Movement = "retract") -> Flow:
    """Flow that leaves a double-acting cylinder and goes back to the tank.

    Q_out = Q * D^2 / (D^2 - d^2) when retracting; Q * (D^2 - d^2) / D^2 when extending

    While the slide goes up, the full bore pushes out more oil than the pump gives: valve, filter and return
    line must be sized for this flow and not for that of the pump.

    Arguments:
        flow: oil flow of the pump into the cylinder
        bore: inside diameter of the cylinder
        rod: diameter of the piston rod
        movement: retract (slide up, out of the full bore, the larger flow) or extend (out of the rod side)

    >>> return_flow(flow=2617994, bore=200, rod=140)
    5133321.6
    """
    positive(flow=flow, bore=bore, rod=rod)
    require(rod < bore, ROD_RULE, rod=rod, bore=bore)
    one_of(("retract", "extend"), movement=movement)
    ring = bore * bore - rod * rod
    if movement == "extend":
        return flow * ring / (bore * bore)
    return flow * (bore * bore) / ring


@function(chapter=CHAPTER, source="derived", place="regenerative circuit: rod-side oil joins the pump flow")
def regenerative_speed(flow: Flow, rod: Length, cylinders: Count) -> Speed:
    """Speed of a fast approach where the rod-side oil is led back into the bore (regenerative circuit).

    v = Q / (n * pi / 4 * d^2)

    Only the rod area presses meanwhile: see regenerative_capacity.

    Arguments:
        flow: oil flow of the pump, all cylinders together
        rod: diameter of the piston rod
        cylinders: number of equal cylinders that share the flow

    >>> regenerative_speed(flow=2617994, rod=140, cylinders=1)
    170.0680
    """
    positive(flow=flow, rod=rod)
    whole(1, cylinders=cylinders)
    return flow / (cylinders * PI / 4 * rod * rod)


@function(chapter=CHAPTER, source="derived", place="regenerative circuit: both sides at pump pressure")
def regenerative_capacity(
    rod: Length, pressure: Pressure, cylinders: Count = 1.0, efficiency: Ratio = CYLINDER_EFFICIENCY
) -> Force:
    """Force left during a regenerative approach: both sides are under pressure, so only the rod area counts.

    F = n * pi / 4 * d^2 * p * eta

    Arguments:
        rod: diameter of the piston rod
        pressure: oil pressure at the cylinder
        cylinders: number of equal cylinders that press together
        efficiency: share of the static force left after seal friction, 0.9 to 0.95; 1 counts none

    >>> regenerative_capacity(rod=140, pressure=10)
    138544.2
    """
    positive(rod=rod, pressure=pressure)
    whole(1, cylinders=cylinders)
    share(efficiency=efficiency)
    return cylinders * PI / 4 * rod * rod * pressure * efficiency


@function(chapter=CHAPTER, source="derived", place="displacement times turns in a time")
def pump_flow(displacement: Volume, speed: RotationSpeed, efficiency: Ratio = PUMP_FLOW_EFFICIENCY) -> Flow:
    """Flow of a pump from its displacement per turn and its speed.

    Q = V * omega / (2 * pi) * eta_v

    Arguments:
        displacement: volume that the pump moves in one turn
        speed: speed of its shaft
        efficiency: volumetric efficiency, 0.9 to 0.95 for a good pump, less for a worn one; 1 counts no leakage

    >>> pump_flow(displacement=100000, speed=151.8436)
    2174999.4
    """
    positive(displacement=displacement, speed=speed)
    share(efficiency=efficiency)
    return displacement * speed / (2 * PI) * efficiency


@function(chapter=CHAPTER, source="derived", place="pressure times flow")
def hydraulic_power(flow: Flow, pressure: Pressure, efficiency: Ratio = PUMP_EFFICIENCY) -> Power:
    """Power at the shaft of a pump that gives a flow at a pressure.

    P = p * Q / eta

    Arguments:
        flow: oil flow of the pump
        pressure: oil pressure at the pump
        efficiency: overall efficiency of the pump, 0.8 to 0.9; 1 gives the power in the oil alone

    >>> hydraulic_power(flow=2617994, pressure=10)
    32724925.0
    """
    positive(flow=flow, pressure=pressure)
    share(efficiency=efficiency)
    return pressure * flow / efficiency


@function(chapter=CHAPTER, source="derived", place="sum of distance over speed")
def hydraulic_cycle_time(
    approach_distance: Length,
    approach_speed: Speed,
    press_distance: Length,
    press_speed: Speed,
    return_distance: Length,
    return_speed: Speed,
    dwell: Time,
    valve_time: Time,
) -> Time:
    """Time of one cycle of a hydraulic press: fast approach, pressing, dwell, return, and valve changes.

    T = s_a / v_a + s_p / v_p + dwell + s_r / v_r + T_valves

    Loading and unloading by hand are not in it. Speeds are averages: the slide takes time to start and to slow
    down. The way back may not be shorter than the way down.

    Arguments:
        approach_distance: way down at fast speed, may be 0
        approach_speed: speed of the fast approach
        press_distance: way down at pressing speed
        press_speed: speed while pressing
        return_distance: way up, as long as approach and press distance together
        return_speed: speed of the return
        dwell: time held at the bottom under pressure; write 0 for none
        valve_time: all valve changes of one cycle together, with building up and letting off the pressure

    >>> hydraulic_cycle_time(approach_distance=180, approach_speed=300, press_distance=20, press_speed=10,
    ...                      return_distance=200, return_speed=250, dwell=0.5, valve_time=0.6)
    4.5
    """
    not_negative(approach_distance=approach_distance)
    positive(
        approach_speed=approach_speed,
        press_distance=press_distance,
        press_speed=press_speed,
        return_distance=return_distance,
        return_speed=return_speed,
    )
    not_negative(dwell=dwell, valve_time=valve_time)
    down = approach_distance + press_distance
    require(
        return_distance >= down * (1 - 1e-9),  # the sum of two written distances may be off in the last digit
        "return_distance {return_distance} is shorter than approach_distance {approach_distance} and"
        " press_distance {press_distance} together",
        return_distance=return_distance,
        approach_distance=approach_distance,
        press_distance=press_distance,
    )
    way_down: Time = approach_distance / approach_speed + press_distance / press_speed
    way_back: Time = return_distance / return_speed
    return way_down + way_back + dwell + valve_time
