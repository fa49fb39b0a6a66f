"""Mechanical presses: slide motion of the plain crank, capacity over the stroke, flywheel energy, motor."""

from __future__ import annotations

from pressfuncs.arrays import PI, sqrt
from pressfuncs.functions import _crank as crank
from pressfuncs.limits import not_negative, positive, require, share, whole, within
from pressfuncs.quantities import (
    Angle,
    CapacityRows,
    Count,
    Energy,
    Force,
    Inertia,
    Length,
    Mass,
    Power,
    Ratio,
    RotationSpeed,
    Speed,
    Stress,
    StrokeRate,
    Time,
    Torque,
)
from pressfuncs.registry import function

CHAPTER = "Mechanical"
TURN = 2 * PI
ROD_RULE = "rod {rod} is not longer than the crank radius, half of the stroke {stroke}"
HEIGHT_RULE = "height {height} is above the top of the stroke {stroke}"
RATED_RULE = "rated_height {rated_height} is above half of the stroke {stroke}: no press is rated so high"
TAKEN_RULE = "energy_taken {energy_taken} is more than the flywheel holds, {energy}"


@function(chapter=CHAPTER, source="derived", place="exact kinematics of crank and connecting rod")
def slide_height(stroke: Length, rod: Length, crank_angle: Angle) -> Length:
    """Height of the slide above the bottom of its stroke at a crank angle.

    h = r * (1 - cos(theta)) + l - sqrt(l^2 - r^2 * sin(theta)^2), with r = stroke / 2

    For a plain crank or eccentric in line with the slide. Presses with knuckles, links or a servo drive move
    otherwise: take the maker's curve.

    Arguments:
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        crank_angle: angle of the crank from the bottom of the stroke (crank and rod in line, extended);
          negative before the bottom gives the same height

    >>> slide_height(stroke=100, rod=400, crank_angle=0.4675737)
    6.000000
    """
    positive(stroke=stroke, rod=rod)
    within(-TURN, TURN, crank_angle=crank_angle)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    return crank.height(stroke, rod, crank_angle)


@function(chapter=CHAPTER, source="derived", place="exact kinematics of crank and connecting rod")
def crank_angle_at(stroke: Length, rod: Length, height: Length) -> Angle:
    """Crank angle, counted from the bottom of the stroke, at which the slide has a height above the bottom.

    cos(theta) = ((r + l - h)^2 + r^2 - l^2) / (2 * r * (r + l - h)), with r = stroke / 2

    The slide passes each height twice: this many degrees before the bottom and as many after it.

    Arguments:
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        height: height of the slide above the bottom of its stroke, 0 to stroke

    >>> crank_angle_at(stroke=100, rod=400, height=6)
    0.4674889
    """
    positive(stroke=stroke, rod=rod)
    not_negative(height=height)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(height <= stroke, HEIGHT_RULE, height=height, stroke=stroke)
    return crank.angle(stroke, rod, height)


@function(chapter=CHAPTER, source="derived", place="exact kinematics of crank and connecting rod")
def slide_speed(stroke: Length, rod: Length, rate: StrokeRate, height: Length) -> Speed:
    """Speed of the slide at a height above the bottom, crank turning evenly.

    v = 2 * pi * rate * ds/dtheta

    ds/dtheta is the slide travel per radian of the crank. To be compared with the speed that a drawing
    lubricant or a punch allows where the die meets the part.

    Arguments:
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        rate: strokes in a time while the crank turns without a stop, not the parts made in it
        height: height of the slide above the bottom of its stroke, 0 to stroke

    >>> slide_speed(stroke=100, rod=400, rate=1, height=25.4)
    282.9756
    """
    positive(stroke=stroke, rod=rod, rate=rate)
    not_negative(height=height)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(height <= stroke, HEIGHT_RULE, height=height, stroke=stroke)
    return TURN * rate * crank.lever(stroke, rod, height)


@function(chapter=CHAPTER, source="derived", place="force times slide travel = torque times angle")
def rated_torque(rated_force: Force, rated_height: Length, stroke: Length, rod: Length) -> Torque:
    """Torque at the crankshaft that gives the rated force at the rated height above the bottom.

    T = F_rated * ds/dtheta at the rated height

    Friction is left out. Clutch, shaft and gears were designed for this torque; more of it breaks them, however
    small the force looks.

    Arguments:
        rated_force: rated capacity on the machine's plate
        rated_height: height above the bottom from which down the rating holds, on the plate or in the manual
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin

    >>> rated_torque(rated_force=1000000, rated_height=6, stroke=100, rod=400)
    25050633.5
    """
    positive(rated_force=rated_force, rated_height=rated_height, stroke=stroke, rod=rod)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(rated_height <= stroke / 2, RATED_RULE, rated_height=rated_height, stroke=stroke)
    return rated_force * crank.lever(stroke, rod, rated_height)


@function(chapter=CHAPTER, source="derived", place="force times slide travel = torque times angle")
def mechanical_capacity(
    rated_force: Force, rated_height: Length, stroke: Length, rod: Length, height: Length
) -> Force:
    """Force that a crank press gives at a height above the bottom: its rating near the bottom, less above.

    F = F_rated * (ds/dtheta at the rated height) / (ds/dtheta at the height), never above F_rated

    The rating holds from the rated height down to the bottom, where the frame limits the force. Above it the
    torque of the crankshaft limits the force. Above half of the stroke the value at half of the stroke is kept:
    torque alone would allow more again towards the top, but presses are not rated there. For a plain crank or
    eccentric; verify on the maker's capacity curve. The energy of the flywheel is a separate limit.

    Arguments:
        rated_force: rated capacity on the machine's plate
        rated_height: height above the bottom from which down the rating holds, on the plate or in the manual
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        height: height above the bottom at which the die meets the part, 0 to stroke

    >>> mechanical_capacity(rated_force=1000000, rated_height=6, stroke=100, rod=400, height=12.7)
    717820.4
    """
    positive(rated_force=rated_force, rated_height=rated_height, stroke=stroke, rod=rod)
    not_negative(height=height)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(rated_height <= stroke / 2, RATED_RULE, rated_height=rated_height, stroke=stroke)
    require(height <= stroke, HEIGHT_RULE, height=height, stroke=stroke)
    return crank.capacity(rated_force, rated_height, stroke, rod, height)


@function(chapter=CHAPTER, source="derived", place="force times slide travel = torque times angle")
def capacity_curve(
    rated_force: Force, rated_height: Length, stroke: Length, rod: Length, points: Count = 25.0
) -> CapacityRows:
    """Capacity of a crank press over its stroke, as rows of height above the bottom and force, for a chart.

    rows of mechanical_capacity from the bottom to the top of the stroke

    The first row is the bottom, the second the rated height, the last the top of the stroke; the rows between
    are equal steps of the crank angle. A figure for planning, not the maker's curve.

    Arguments:
        rated_force: rated capacity on the machine's plate
        rated_height: height above the bottom from which down the rating holds, on the plate or in the manual
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        points: number of rows, 3 to 1000

    >>> [round(force / 1000, 1) for _, force in capacity_curve(1000000, 6, 100, 400, points=5)]
    [1000.0, 1000.0, 499.3, 498.1, 498.1]
    """
    positive(rated_force=rated_force, rated_height=rated_height, stroke=stroke, rod=rod)
    whole(3, points=points)
    within(3, 1000, points=points)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(rated_height <= stroke / 2, RATED_RULE, rated_height=rated_height, stroke=stroke)
    start = crank.angle(stroke, rod, rated_height)
    steps = int(points) - 2
    angles = [start + (PI - start) * step / steps for step in range(1, steps)]
    heights = [0 * stroke, rated_height, *(crank.height(stroke, rod, angle) for angle in angles), stroke]
    return [(height, crank.capacity(rated_force, rated_height, stroke, rod, height)) for height in heights]


@function(chapter=CHAPTER, source="practice", place="shear strength of the shaft times the area of its bearings")
def crankshaft_capacity(shear_strength: Stress, bearing_diameter: Length, bearings: Count = 2.0) -> Force:
    """Very rough capacity of a press without a plate: the crankshaft sheared through at its bearings.

    F = n * pi / 4 * d^2 * tau

    A first guess for an unknown old machine and nothing more: it has no safety in it unless the strength given
    is an allowable one, and it knows neither the frame nor the torque. Never load a press by this figure.

    Arguments:
        shear_strength: shear strength of the shaft; an allowable shear stress gives an allowable force
        bearing_diameter: diameter of the crankshaft at the bearings beside the throw
        bearings: number of bearings that share the force

    >>> crankshaft_capacity(shear_strength=60, bearing_diameter=100)
    942477.8
    """
    positive(shear_strength=shear_strength, bearing_diameter=bearing_diameter)
    whole(1, bearings=bearings)
    return bearings * PI / 4 * bearing_diameter * bearing_diameter * shear_strength


@function(chapter=CHAPTER, source="derived", place="disc or thick ring of even thickness")
def gyration_radius(outer_diameter: Length, inner_diameter: Length = 0.0) -> Length:
    """Radius of gyration of a flywheel that is a plain disc or a thick ring.

    k = sqrt((D^2 + d^2) / 8)

    Arguments:
        outer_diameter: outer diameter of the wheel
        inner_diameter: inner diameter of the rim, 0 for a full disc

    >>> gyration_radius(outer_diameter=1000)
    353.5534
    """
    positive(outer_diameter=outer_diameter)
    not_negative(inner_diameter=inner_diameter)
    require(
        inner_diameter < outer_diameter,
        "inner_diameter {inner_diameter} is not smaller than outer_diameter {outer_diameter}",
        inner_diameter=inner_diameter,
        outer_diameter=outer_diameter,
    )
    return sqrt((outer_diameter * outer_diameter + inner_diameter * inner_diameter) / 8)


@function(chapter=CHAPTER, source="derived", place="definition of the radius of gyration")
def flywheel_inertia(mass: Mass, radius_of_gyration: Length) -> Inertia:
    """Moment of inertia of a flywheel from its mass and radius of gyration.

    I = m * k^2

    Arguments:
        mass: mass of the wheel
        radius_of_gyration: radius of gyration of the wheel; gyration_radius gives it for a disc or ring

    >>> flywheel_inertia(mass=2.5, radius_of_gyration=1000)
    2500000.0
    """
    positive(mass=mass, radius_of_gyration=radius_of_gyration)
    return mass * radius_of_gyration * radius_of_gyration


@function(chapter=CHAPTER, source="derived", place="press rate times gear ratio")
def flywheel_speed(rate: StrokeRate, gear_ratio: Ratio = 1.0) -> RotationSpeed:
    """Speed of the flywheel of a press that makes so many strokes without a stop.

    omega = 2 * pi * rate * i

    Arguments:
        rate: strokes in a time while the crank turns without a stop
        gear_ratio: turns of the flywheel for one stroke, 1 where it sits on the crankshaft

    >>> flywheel_speed(rate=1, gear_ratio=6)
    37.69911
    """
    positive(rate=rate, gear_ratio=gear_ratio)
    return TURN * rate * gear_ratio


@function(chapter=CHAPTER, source="derived", place="kinetic energy of a turning body")
def flywheel_energy(inertia: Inertia, speed: RotationSpeed) -> Energy:
    """Energy in a turning flywheel; only a part of it may be used in one stroke, see usable_energy.

    E = I * omega^2 / 2

    Arguments:
        inertia: moment of inertia of the wheel; flywheel_inertia gives it from mass and radius of gyration
        speed: speed of the flywheel, not of the crankshaft where there are gears between

    >>> flywheel_energy(inertia=2500000, speed=6)
    45000000.0
    """
    positive(inertia=inertia, speed=speed)
    return inertia * speed * speed / 2


@function(chapter=CHAPTER, source="derived", place="kinetic energy goes with the square of the speed")
def usable_energy(energy: Energy, slowdown: Ratio) -> Energy:
    """Energy that the flywheel gives up for a slow-down: what one stroke may take.

    E_use = E * (1 - (1 - s)^2)

    Common practice: 10 to 15 % slow-down for strokes one after the other, up to 20 % for single strokes. More
    stalls the press or burns the motor.

    Arguments:
        energy: energy of the flywheel at full speed
        slowdown: share of its speed that the wheel may lose in one stroke

    >>> usable_energy(energy=45000000, slowdown=0.10)
    8550000.0
    """
    positive(energy=energy)
    share(slowdown=slowdown)
    return energy * slowdown * (2 - slowdown)


@function(chapter=CHAPTER, source="derived", place="kinetic energy goes with the square of the speed")
def speed_after(speed: RotationSpeed, energy: Energy, energy_taken: Energy) -> RotationSpeed:
    """Speed of the flywheel after a stroke has taken its energy and before the motor has brought it back.

    omega_after = omega * sqrt(1 - E_taken / E)

    Arguments:
        speed: speed of the flywheel before the stroke
        energy: energy of the flywheel at that speed
        energy_taken: energy that the stroke takes, friction included

    >>> speed_after(speed=6, energy=45000000, energy_taken=8550000)
    5.4
    """
    positive(speed=speed, energy=energy)
    not_negative(energy_taken=energy_taken)
    require(energy_taken <= energy, TAKEN_RULE, energy_taken=energy_taken, energy=energy)
    return speed * sqrt(1 - energy_taken / energy)


@function(chapter=CHAPTER, source="derived", place="kinetic energy goes with the square of the speed")
def slowdown_for(energy: Energy, energy_taken: Energy) -> Ratio:
    """Share of its speed that a flywheel loses when a stroke takes an energy from it.

    s = 1 - sqrt(1 - E_taken / E)

    Arguments:
        energy: energy of the flywheel at full speed
        energy_taken: energy that the stroke takes, friction included

    >>> slowdown_for(energy=45000000, energy_taken=8550000)
    0.1
    """
    positive(energy=energy)
    not_negative(energy_taken=energy_taken)
    require(energy_taken <= energy, TAKEN_RULE, energy_taken=energy_taken, energy=energy)
    part = energy_taken / energy
    return part / (1 + sqrt(1 - part))


@function(chapter=CHAPTER, source="derived", place="kinetic energy goes with the square of the speed")
def inertia_for(energy_taken: Energy, speed: RotationSpeed, slowdown: Ratio) -> Inertia:
    """Moment of inertia that a flywheel needs to give an energy for no more than a slow-down.

    I = 2 * E_taken / (omega^2 * (1 - (1 - s)^2))

    Arguments:
        energy_taken: energy that one stroke takes, friction included
        speed: speed of the flywheel before the stroke
        slowdown: share of its speed that the wheel may lose in one stroke

    >>> inertia_for(energy_taken=8550000, speed=6, slowdown=0.10)
    2500000.0
    """
    positive(energy_taken=energy_taken, speed=speed)
    share(slowdown=slowdown)
    return 2 * energy_taken / (speed * speed * slowdown * (2 - slowdown))


@function(chapter=CHAPTER, source="derived", place="energy times rate")
def motor_power(energy_per_stroke: Energy, rate: StrokeRate, efficiency: Ratio = 1.0) -> Power:
    """Power of the motor that gives the energy of every stroke back to the flywheel before the next one.

    P = E * rate / eta

    Arguments:
        energy_per_stroke: energy that one stroke takes from the flywheel
        rate: working strokes in a time
        efficiency: share of the motor's power that reaches the flywheel and the slide, often 0.6 to 0.8

    >>> motor_power(energy_per_stroke=8550000, rate=1, efficiency=0.75)
    11400000.0
    """
    positive(energy_per_stroke=energy_per_stroke, rate=rate)
    share(efficiency=efficiency)
    return energy_per_stroke * rate / efficiency


@function(chapter=CHAPTER, source="derived", place="energy over power")
def recovery_time(energy_taken: Energy, power: Power, efficiency: Ratio = 1.0) -> Time:
    """Time that the motor needs to bring the flywheel back to speed after a stroke.

    T = E_taken / (P * eta)

    Arguments:
        energy_taken: energy that the stroke took
        power: power of the motor
        efficiency: share of the motor's power that reaches the flywheel

    >>> recovery_time(energy_taken=8550000, power=11400000, efficiency=0.75)
    1.0
    """
    positive(energy_taken=energy_taken, power=power)
    share(efficiency=efficiency)
    return energy_taken / (power * efficiency)
