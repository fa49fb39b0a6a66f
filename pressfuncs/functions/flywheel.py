"""Mechanical presses: energy of the flywheel, what a stroke may take of it, and the motor that gives it back."""

from __future__ import annotations

from pressfuncs.arrays import PI, sqrt
from pressfuncs.limits import not_negative, positive, require, share
from pressfuncs.quantities import Energy, Inertia, Length, Mass, Power, Ratio, RotationSpeed, StrokeRate, Time
from pressfuncs.registry import function

CHAPTER = "Mechanical"
TURN = 2 * PI
DRIVE_EFFICIENCY = 0.6
"""Share of the motor's power that arrives, the lower end of the usual 0.6 to 0.8."""
TAKEN_RULE = "energy_taken {energy_taken} is more than the flywheel holds, {energy}"


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
def motor_power(energy_per_stroke: Energy, rate: StrokeRate, efficiency: Ratio = DRIVE_EFFICIENCY) -> Power:
    """Power of the motor that gives the energy of every stroke back to the flywheel before the next one.

    P = E * rate / eta

    Arguments:
        energy_per_stroke: energy that one stroke takes from the flywheel
        rate: working strokes in a time
        efficiency: share of the motor's power that reaches the flywheel and the slide, 0.6 to 0.8

    >>> motor_power(energy_per_stroke=8550000, rate=1, efficiency=0.75)
    11400000.0
    """
    positive(energy_per_stroke=energy_per_stroke, rate=rate)
    share(efficiency=efficiency)
    return energy_per_stroke * rate / efficiency


@function(chapter=CHAPTER, source="derived", place="energy over power")
def recovery_time(energy_taken: Energy, power: Power, efficiency: Ratio = DRIVE_EFFICIENCY) -> Time:
    """Time that the motor needs to bring the flywheel back to speed after a stroke.

    T = E_taken / (P * eta)

    Arguments:
        energy_taken: energy that the stroke took
        power: power of the motor
        efficiency: share of the motor's power that reaches the flywheel and the slide, 0.6 to 0.8

    >>> recovery_time(energy_taken=8550000, power=11400000, efficiency=0.75)
    1.0
    """
    positive(energy_taken=energy_taken, power=power)
    share(efficiency=efficiency)
    return energy_taken / (power * efficiency)
