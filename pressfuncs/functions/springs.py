"""Die strength: springs of strippers and holders, coil and gas: how many, how far, how hard.

Springs in a die are loaded even when it lies on the bench: let them off before screws are taken out.
"""

from __future__ import annotations

from pressfuncs.functions._rounding import round_up, settle
from pressfuncs.limits import not_negative, positive, require, share, whole
from pressfuncs.quantities import STRESS, Constant, Count, Force, Length, Number, Ratio, SpringRate, Stress
from pressfuncs.registry import function

SPRING_STEEL_SHEAR_MODULUS = Constant(79000.0, STRESS)


@function(chapter="Die strength", source="derived")
def springs_needed(force: Force, rate: SpringRate, compression: Length) -> Count:
    """Whole springs for a force, all compressed alike, rounded up.

    n = ceil(F / (k * x))

    Arguments:
        force: force that all springs together must bring, such as the stripping force
        rate: spring rate of one spring
        compression: compression when the force is wanted; the preload alone if it is wanted from the first contact

    >>> springs_needed(force=9000, rate=100, compression=20)
    5
    """
    positive(force=force, rate=rate, compression=compression)
    return round_up(force / (rate * compression))


@function(chapter="Die strength", source="derived")
def spring_preload(force: Force, rate: SpringRate, springs: Count = 1) -> Length:
    """Compression that brings a force from a set of springs: what to screw them down by for a preload.

    x = F / (n * k)

    Arguments:
        force: force that all springs together must bring
        rate: spring rate of one spring
        springs: how many there are

    >>> spring_preload(force=9000, rate=100, springs=5)
    18.0
    """
    positive(force=force, rate=rate)
    whole(springs=springs)
    return force / (springs * rate)


@function(chapter="Die strength", source="derived")
def spring_force(rate: SpringRate, compression: Length, springs: Count) -> Force:
    """Force of a set of springs at a compression; the press must bring it on top of the work.

    F = n * k * x

    Arguments:
        rate: spring rate of one spring
        compression: compression from the free length, preload included
        springs: how many there are

    >>> spring_force(rate=100, compression=28.5, springs=5)
    14250.0
    """
    positive(rate=rate)
    not_negative(compression=compression)
    whole(springs=springs)
    return springs * rate * compression


@function(
    chapter="Die strength", source="practice", place="compression about 30 % of the free length, medium duty"
)
def spring_travel_margin(
    free_length: Length,
    preload: Length,
    travel: Length,
    allowed_share: Ratio,
    grinding_allowance: Length,
) -> Length:
    """Travel left of a die spring at the bottom of the stroke; negative: it is pressed too far and will break.

    share * l - (preload + travel + grinding allowance)

    Arguments:
        free_length: length of the unloaded spring
        preload: compression when the die is open
        travel: further compression in the stroke
        allowed_share: compression that the spring bears, divided by its free length, from its data sheet: about
          0.3 for medium duty, 0.17 to 0.25 for strong springs and long life
        grinding_allowance: travel added as the punches are ground shorter; write 0 for none

    >>> spring_travel_margin(free_length=100, preload=18, travel=10, allowed_share=0.3, grinding_allowance=0)
    2.0
    """
    positive(free_length=free_length)
    not_negative(preload=preload, travel=travel)
    share(allowed_share=allowed_share)
    not_negative(grinding_allowance=grinding_allowance)
    return settle(allowed_share * free_length - (preload + travel + grinding_allowance), free_length)


@function(
    chapter="Die strength", source="practice", place="compression about 30 % of the free length, medium duty"
)
def spring_length_needed(
    preload: Length, travel: Length, allowed_share: Ratio, grinding_allowance: Length
) -> Length:
    """Shortest free length of a die spring for its preload and travel.

    l = (preload + travel + grinding allowance) / share

    Arguments:
        preload: compression when the die is open
        travel: further compression in the stroke
        allowed_share: compression that the spring bears, divided by its free length, from its data sheet: about
          0.3 for medium duty, 0.17 to 0.25 for strong springs and long life
        grinding_allowance: travel added as the punches are ground shorter; write 0 for none

    >>> spring_length_needed(preload=18, travel=12, allowed_share=0.3, grinding_allowance=0)
    100.0
    """
    not_negative(preload=preload)
    positive(travel=travel)
    share(allowed_share=allowed_share)
    not_negative(grinding_allowance=grinding_allowance)
    return (preload + travel + grinding_allowance) / allowed_share


@function(chapter="Die strength", source="shigley", place="helical compression springs, spring rate")
def coil_spring_rate(
    wire: Length, mean_diameter: Length, active_coils: Number, shear_modulus: Stress = SPRING_STEEL_SHEAR_MODULUS
) -> SpringRate:
    """Spring rate of a coil spring of round wire, from its size.

    k = G * d^4 / (8 * D^3 * n)

    Arguments:
        wire: diameter of the wire
        mean_diameter: mean diameter of the coils: outer diameter less one wire
        active_coils: coils that move: all coils less the closed ends
        shear_modulus: shear modulus of the wire; blank: 79 GPa, spring steel

    >>> coil_spring_rate(wire=5, mean_diameter=25, active_coils=8)
    49.375
    """
    positive(wire=wire, mean_diameter=mean_diameter, active_coils=active_coils, shear_modulus=shear_modulus)
    require(
        wire < mean_diameter,
        "wire {wire} is not thinner than the mean diameter {mean_diameter}",
        wire=wire,
        mean_diameter=mean_diameter,
    )
    return shear_modulus * wire**4 / (8.0 * mean_diameter**3 * active_coils)


@function(chapter="Die strength", source="derived", place="Boyle's law, temperature unchanged")
def gas_spring_force(initial_force: Force, travel: Length, stroke: Length, rise: Ratio) -> Force:
    """Force of a gas spring pressed in by part of its stroke.

    F = F0 / (1 - (1 - 1 / rise) * x / s)

    A fast press heats the gas and the force rises higher than this. Never open, drill or heat a gas spring.

    Arguments:
        initial_force: force when the rod starts to move
        travel: how far the rod is pressed in
        stroke: whole stroke of the spring
        rise: force at the whole stroke divided by the initial force, from the data sheet, such as 1.5

    >>> gas_spring_force(initial_force=7500, travel=25, stroke=50, rise=1.5)
    9000.0
    """
    positive(initial_force=initial_force)
    not_negative(travel=travel)
    positive(stroke=stroke, rise=rise)
    require(rise >= 1.0, "rise {rise} is less than 1: the force grows when the rod is pressed in", rise=rise)
    require(travel <= stroke, "travel {travel} is more than the stroke {stroke}", travel=travel, stroke=stroke)
    return initial_force / (1.0 - (1.0 - 1.0 / rise) * travel / stroke)


@function(chapter="Die strength", source="derived")
def gas_springs_needed(force: Force, initial_force: Force) -> Count:
    """Whole gas springs for a force that is wanted from the first contact on, rounded up.

    n = ceil(F / F0)

    Arguments:
        force: force that all springs together must bring, such as the blank-holder force
        initial_force: force of one spring when its rod starts to move

    >>> gas_springs_needed(force=30000, initial_force=7500)
    4
    """
    positive(force=force, initial_force=initial_force)
    return round_up(force / initial_force)
