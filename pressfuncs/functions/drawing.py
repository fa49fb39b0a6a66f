"""Drawing of round cups, and coining: blank, draw ratios, number of draws, forces, holder, energy."""

from __future__ import annotations

import math
from typing import Literal

from pressfuncs.arrays import PI, sqrt
from pressfuncs.limits import not_negative, one_of, positive, require, share
from pressfuncs.quantities import FORCE, Area, Count, Energy, Force, Length, Numbers, Ratio, Stress
from pressfuncs.registry import function

CHAPTER = "Drawing"
MOST_DRAWS = 100
SAME = 1e-9
"""Share of a diameter that counts as equal: what rounding leaves, and far below any tolerance."""

BLANK_RULE = "blank_diameter {blank_diameter} is not larger than cup_diameter {cup_diameter}"
CORNER_RULE = "corner_radius {corner_radius} is more than half of cup_diameter {cup_diameter}"
HEIGHT_RULE = "corner_radius {corner_radius} is more than height {height}"

DrawGiven = Literal["reduction", "ratio"]
Tearing = Literal["refuse", "estimate"]


@function(chapter=CHAPTER, source="derived", place="surface of the cup = area of the blank")
def cup_blank_diameter(cup_diameter: Length, height: Length, corner_radius: Length = 0.0) -> Length:
    """Diameter of the round blank for a straight cup, wall not thinned, edge not trimmed.

    D = sqrt((d - 2 * r)^2 + 2 * pi * r * (d - 2 * r) + 8 * r^2 + 4 * d * (h - r))

    With r = 0 this is the usual sqrt(d^2 + 4 * d * h). For thin sheet any diameter will do; for thick sheet give
    mid-thickness sizes. Add a trimming allowance to the height first: the edge of a drawn cup is never even.

    Arguments:
        cup_diameter: diameter of the cup, to the middle of its wall for thick sheet
        height: height of the cup with its trimming allowance
        corner_radius: radius between bottom and wall, to the middle of the sheet, 0 for a sharp corner

    >>> cup_blank_diameter(cup_diameter=50, height=100)
    150.0
    """
    positive(cup_diameter=cup_diameter, height=height)
    not_negative(corner_radius=corner_radius)
    require(corner_radius <= cup_diameter / 2, CORNER_RULE, corner_radius=corner_radius, cup_diameter=cup_diameter)
    require(corner_radius <= height, HEIGHT_RULE, corner_radius=corner_radius, height=height)
    flat: Length = cup_diameter - 2 * corner_radius
    corner = 2 * PI * corner_radius * flat + 8 * corner_radius * corner_radius
    return sqrt(flat * flat + corner + 4 * cup_diameter * (height - corner_radius))


@function(chapter=CHAPTER, source="derived", place="surface of the cup = area of the blank")
def flanged_cup_blank_diameter(flange_diameter: Length, cup_diameter: Length, height: Length) -> Length:
    """Diameter of the round blank for a cup that keeps a flat flange, corners taken as sharp.

    D = sqrt(d_f^2 + 4 * d * h)

    Arguments:
        flange_diameter: outer diameter of the flange with its trimming allowance
        cup_diameter: diameter of the cup, to the middle of its wall for thick sheet
        height: height of the cup

    >>> flanged_cup_blank_diameter(flange_diameter=90, cup_diameter=50, height=50)
    134.5362
    """
    positive(flange_diameter=flange_diameter, cup_diameter=cup_diameter, height=height)
    require(
        flange_diameter >= cup_diameter,
        "flange_diameter {flange_diameter} is smaller than cup_diameter {cup_diameter}",
        flange_diameter=flange_diameter,
        cup_diameter=cup_diameter,
    )
    return sqrt(flange_diameter * flange_diameter + 4 * cup_diameter * height)


@function(chapter=CHAPTER, source="derived", place="surface of the cup = area of the blank")
def cup_height(blank_diameter: Length, cup_diameter: Length, corner_radius: Length = 0.0) -> Length:
    """Height of the straight cup that a round blank gives, before trimming.

    h = r + (D^2 - (d - 2 * r)^2 - 2 * pi * r * (d - 2 * r) - 8 * r^2) / (4 * d)

    Arguments:
        blank_diameter: diameter of the round blank
        cup_diameter: diameter of the cup, to the middle of its wall for thick sheet
        corner_radius: radius between bottom and wall, to the middle of the sheet, 0 for a sharp corner

    >>> cup_height(blank_diameter=150, cup_diameter=50)
    100.0
    """
    positive(blank_diameter=blank_diameter, cup_diameter=cup_diameter)
    not_negative(corner_radius=corner_radius)
    require(blank_diameter > cup_diameter, BLANK_RULE, blank_diameter=blank_diameter, cup_diameter=cup_diameter)
    require(corner_radius <= cup_diameter / 2, CORNER_RULE, corner_radius=corner_radius, cup_diameter=cup_diameter)
    flat = cup_diameter - 2 * corner_radius
    bottom = flat * flat + 2 * PI * corner_radius * flat + 8 * corner_radius * corner_radius
    wall = blank_diameter * blank_diameter - bottom
    require(
        wall >= 0 * bottom,
        "blank_diameter {blank_diameter} does not reach around corner_radius {corner_radius}",
        blank_diameter=blank_diameter,
        corner_radius=corner_radius,
    )
    return corner_radius + wall / (4 * cup_diameter)


@function(chapter=CHAPTER, source="groover", place="ch. 20, drawing, measures of drawing")
def draw_ratio(blank_diameter: Length, cup_diameter: Length) -> Ratio:
    """Draw ratio of one draw: blank over cup; a first draw goes up to about 2.

    DR = D / d

    For a redraw give the diameter of the cup before in place of the blank. Some books write its inverse, d / D.

    Arguments:
        blank_diameter: diameter of the blank, or of the cup before
        cup_diameter: diameter of the punch or of the cup

    >>> draw_ratio(blank_diameter=138, cup_diameter=75)
    1.84
    """
    positive(blank_diameter=blank_diameter, cup_diameter=cup_diameter)
    require(blank_diameter > cup_diameter, BLANK_RULE, blank_diameter=blank_diameter, cup_diameter=cup_diameter)
    return blank_diameter / cup_diameter


@function(chapter=CHAPTER, source="groover", place="ch. 20, drawing, measures of drawing")
def draw_reduction(blank_diameter: Length, cup_diameter: Length) -> Ratio:
    """Reduction of one draw: share of the diameter that is drawn in; a first draw goes up to about 0.5.

    r = (D - d) / D

    Arguments:
        blank_diameter: diameter of the blank, or of the cup before
        cup_diameter: diameter of the punch or of the cup

    >>> draw_reduction(blank_diameter=138, cup_diameter=75)
    0.4565217
    """
    positive(blank_diameter=blank_diameter, cup_diameter=cup_diameter)
    require(blank_diameter > cup_diameter, BLANK_RULE, blank_diameter=blank_diameter, cup_diameter=cup_diameter)
    return (blank_diameter - cup_diameter) / blank_diameter


@function(chapter=CHAPTER, source="groover", place="ch. 20, drawing, measures of drawing")
def thickness_ratio(thickness: Length, blank_diameter: Length) -> Ratio:
    """Thickness of the blank over its diameter: below about 0.01 wrinkles are likely and the holder decides.

    t / D

    Arguments:
        thickness: sheet thickness
        blank_diameter: diameter of the blank

    >>> thickness_ratio(thickness=2.4, blank_diameter=138)
    0.01739130
    """
    positive(thickness=thickness, blank_diameter=blank_diameter)
    return thickness / blank_diameter


def _factors(steps: list[float], given: str) -> list[float]:
    """Return what each draw multiplies the diameter by."""
    one_of(("reduction", "ratio"), given=given)
    positive(steps=steps)
    if given == "reduction":
        for step in steps:
            require(step < 1, "steps hold {steps}, and a reduction is less than 1 (45 % is 0.45)", steps=step)
        return [1 - step for step in steps]
    for step in steps:
        require(step > 1, "steps hold {steps}, and a draw ratio is greater than 1: blank over cup", steps=step)
    return [1 / step for step in steps]


@function(chapter=CHAPTER, source="derived", place="reductions one after the other")
def draws_needed(
    blank_diameter: Length, cup_diameter: Length, steps: Numbers, given: DrawGiven = "reduction"
) -> Count:
    """Number of draws from the blank to the cup when each draw goes as far as it may.

    smallest n with D * (1 - r1) * (1 - r2) * ... * (1 - rn) <= d

    When the list is used up its last value is used again for every further draw. Between draws the sheet may
    need annealing.

    Arguments:
        blank_diameter: diameter of the blank
        cup_diameter: diameter of the finished cup
        steps: largest reduction (or draw ratio) of the first draw, the second, and so on
        given: reduction (1 - d / D, such as 0.45) or ratio (D / d, such as 1.82)

    >>> draws_needed(blank_diameter=150, cup_diameter=50, steps=[0.45, 0.25, 0.20])
    3
    """
    positive(blank_diameter=blank_diameter, cup_diameter=cup_diameter)
    factors = _factors(list(steps), given)
    require(blank_diameter > cup_diameter, BLANK_RULE, blank_diameter=blank_diameter, cup_diameter=cup_diameter)
    reached, draws = blank_diameter, 0
    while reached > cup_diameter * (1 + SAME):
        require(
            draws < MOST_DRAWS,
            "cup_diameter {cup_diameter} is not reached from blank_diameter {blank_diameter} in 100 draws:"
            " the last step is too small",
            cup_diameter=cup_diameter,
            blank_diameter=blank_diameter,
        )
        reached = reached * factors[min(draws, len(factors) - 1)]
        draws += 1
    return draws


@function(chapter=CHAPTER, source="derived", place="reductions one after the other")
def drawn_diameter(blank_diameter: Length, steps: Numbers, given: DrawGiven = "reduction") -> Length:
    """Diameter of the cup after a series of draws.

    d = D * (1 - r1) * (1 - r2) * ...

    Arguments:
        blank_diameter: diameter of the blank
        steps: reduction (or draw ratio) of each draw
        given: reduction (1 - d / D, such as 0.45) or ratio (D / d, such as 1.82)

    >>> drawn_diameter(blank_diameter=150, steps=[0.45, 0.25, 0.20])
    49.50000
    """
    positive(blank_diameter=blank_diameter)
    return blank_diameter * math.prod(_factors(list(steps), given))


@function(chapter=CHAPTER, source="groover", place="ch. 20, drawing, forces")
def drawing_force(
    cup_diameter: Length,
    thickness: Length,
    tensile_strength: Stress,
    blank_diameter: Length,
    constant: Ratio = 0.6,
    tearing: Tearing = "refuse",
) -> Force:
    """Largest force to draw a round cup, without the force of the blank holder.

    F = pi * d * t * UTS * (D / d - c)

    The press must give this force, and that of the holder where the slide works it, high above the bottom of the
    stroke: check the capacity at that height, and the energy.

    Where it comes out above pi * d * t * UTS (cup_tearing_force) no number is given: the wall cannot carry it, and
    the bottom tears out before. That is a ratio D / d above 1.6 with c = 0.6, above 1.7 with 0.7. The estimate is
    on the high side: good drawing sheet goes up to a ratio of about 2 with a good lubricant. Where trials have
    shown that, ask for the number with "estimate", and plan the press for it.

    Arguments:
        cup_diameter: diameter of the punch
        thickness: sheet thickness
        tensile_strength: tensile strength of the sheet
        blank_diameter: diameter of the blank, or of the cup before for a redraw
        constant: correction for friction and bending, 0.6 to 0.7; the smaller gives the larger force
        tearing: refuse (default: no number for a force at which the wall tears) or estimate (the number all the
          same, where trials have shown that the sheet draws)

    >>> drawing_force(cup_diameter=75, thickness=2.4, tensile_strength=300, blank_diameter=115)
    158336.3
    """
    positive(
        cup_diameter=cup_diameter,
        thickness=thickness,
        tensile_strength=tensile_strength,
        blank_diameter=blank_diameter,
    )
    share(constant=constant)
    one_of(("refuse", "estimate"), tearing=tearing)
    require(blank_diameter > cup_diameter, BLANK_RULE, blank_diameter=blank_diameter, cup_diameter=cup_diameter)
    tearing_force: Force = cup_tearing_force(cup_diameter, thickness, tensile_strength)
    force = tearing_force * (blank_diameter / cup_diameter - constant)
    if tearing == "refuse":
        require(
            force <= tearing_force * (1 + SAME),
            "the draw takes {force}, and the wall tears at {tearing_force}: draw in more steps; where trials have"
            " shown that the sheet draws, give tearing as estimate",
            force=(force, FORCE),
            tearing_force=(tearing_force, FORCE),
        )
    return force


@function(chapter=CHAPTER, source="derived", place="section of the wall times tensile strength")
def cup_tearing_force(cup_diameter: Length, thickness: Length, tensile_strength: Stress) -> Force:
    """Force at which the wall of a cup tears: the most that any draw can take.

    F = pi * d * t * UTS

    Arguments:
        cup_diameter: diameter of the cup, to the middle of its wall for thick sheet
        thickness: thickness of the wall, lower end of its tolerance
        tensile_strength: tensile strength of the sheet

    >>> cup_tearing_force(cup_diameter=75, thickness=2.4, tensile_strength=300)
    169646.0
    """
    positive(cup_diameter=cup_diameter, thickness=thickness, tensile_strength=tensile_strength)
    return PI * cup_diameter * thickness * tensile_strength


@function(chapter=CHAPTER, source="groover", place="ch. 20, drawing, forces, holding force")
def blank_holder_force(
    yield_strength: Stress,
    blank_diameter: Length,
    cup_diameter: Length,
    thickness: Length,
    die_radius: Length,
    pressure_share: Ratio = 0.015,
) -> Force:
    """Force of the blank holder at the start of the draw, from a share of the yield strength.

    F_h = x * Y * pi * (D^2 - (d + 2.2 * t + 2 * R_d)^2)

    This form has pi and not pi / 4 in it, so it means a pressure of 4 * x * Y on the ring: 10.5 MPa for a yield
    strength of 175 MPa, where 2 to 3 MPa are usual for mild steel (blank_holder_force_by_pressure), and rules of
    thumb take a third of the drawing force. The three differ four times. Plan press and cushion for the largest;
    set the cushion by trial, from the smallest upwards: too little lets the flange wrinkle, too much tears the
    bottom out.

    Arguments:
        yield_strength: yield strength of the sheet
        blank_diameter: diameter of the blank
        cup_diameter: diameter of the punch
        thickness: sheet thickness
        die_radius: radius of the die's drawing edge
        pressure_share: share of the yield strength, 0.015

    >>> blank_holder_force(yield_strength=175, blank_diameter=138, cup_diameter=75, thickness=2.4, die_radius=6)
    86824.37
    """
    positive(
        yield_strength=yield_strength,
        blank_diameter=blank_diameter,
        cup_diameter=cup_diameter,
        thickness=thickness,
    )
    not_negative(die_radius=die_radius)
    share(pressure_share=pressure_share)
    opening: Length = cup_diameter + 2.2 * thickness + 2 * die_radius
    require(
        blank_diameter > opening,
        "blank_diameter {blank_diameter} leaves nothing to hold: cup_diameter {cup_diameter}, sheet and"
        " die_radius {die_radius} are as large",
        blank_diameter=blank_diameter,
        cup_diameter=cup_diameter,
        die_radius=die_radius,
    )
    holder_pressure: Stress = 4 * pressure_share * yield_strength
    return holder_pressure * PI / 4 * (blank_diameter * blank_diameter - opening * opening)


@function(chapter=CHAPTER, source="derived", place="ring area times pressure")
def blank_holder_force_by_pressure(
    holder_pressure: Stress, blank_diameter: Length, opening_diameter: Length
) -> Force:
    """Force of the blank holder from a pressure on the ring of the blank that it holds.

    F_h = p * pi / 4 * (D^2 - d_o^2)

    What the sheet needs at least. The book formula in blank_holder_force gives about four times as much: plan
    press and cushion for the larger force, and set the cushion by trial from the smaller one upwards.

    Arguments:
        holder_pressure: pressure on the sheet, about 2 to 3 MPa for mild steel, 1 to 1.5 for aluminium
        blank_diameter: diameter of the blank
        opening_diameter: inner diameter of the held ring: die opening with both its edge radii

    >>> blank_holder_force_by_pressure(holder_pressure=2.5, blank_diameter=138, opening_diameter=92.28)
    20672.47
    """
    positive(holder_pressure=holder_pressure, blank_diameter=blank_diameter, opening_diameter=opening_diameter)
    require(
        blank_diameter > opening_diameter,
        "blank_diameter {blank_diameter} is not larger than opening_diameter {opening_diameter}",
        blank_diameter=blank_diameter,
        opening_diameter=opening_diameter,
    )
    ring = blank_diameter * blank_diameter - opening_diameter * opening_diameter
    return holder_pressure * PI / 4 * ring


@function(chapter=CHAPTER, source="practice", place="force times depth times a shape factor")
def drawing_energy(force: Force, depth: Length, factor: Ratio, holder_force: Force) -> Energy:
    """Energy of a draw: mean force over the depth, with the holder where the slide pushes it down.

    E = (x * F + F_h) * h

    Arguments:
        force: largest drawing force
        depth: depth of the draw
        factor: mean force over largest force, 0.6 to 0.8; 1 is more than any draw takes
        holder_force: force of a cushion or spring holder that the slide pushes down; write 0 for a double-action
          press

    >>> drawing_energy(force=193396, depth=50, factor=0.75, holder_force=60000)
    10252350.0
    """
    positive(force=force, depth=depth)
    share(factor=factor)
    not_negative(holder_force=holder_force)
    return (factor * force + holder_force) * depth


@function(chapter=CHAPTER, source="groover", place="ch. 20, drawing, clearance")
def draw_clearance(thickness: Length, ratio: Ratio = 1.1) -> Length:
    """Clearance per side between drawing punch and die: a little more than the sheet.

    c = ratio * t

    Arguments:
        thickness: sheet thickness, upper end of its tolerance
        ratio: clearance over thickness, 1.1 without ironing the wall, less where it is ironed

    >>> draw_clearance(thickness=2.4)
    2.64
    """
    positive(thickness=thickness, ratio=ratio)
    return ratio * thickness


@function(chapter=CHAPTER, source="oehler", place="drawing edge radius of the die")
def draw_die_radius(blank_diameter: Length, cup_diameter: Length, thickness: Length) -> Length:
    """Usual radius of the die's drawing edge for a first draw; common practice keeps it from 4 t to 10 t.

    R_d = 0.8 * sqrt((D - d) * t)

    Arguments:
        blank_diameter: diameter of the blank
        cup_diameter: diameter of the cup
        thickness: sheet thickness

    >>> draw_die_radius(blank_diameter=138, cup_diameter=75, thickness=2.4)
    9.837073
    """
    positive(blank_diameter=blank_diameter, cup_diameter=cup_diameter, thickness=thickness)
    require(blank_diameter > cup_diameter, BLANK_RULE, blank_diameter=blank_diameter, cup_diameter=cup_diameter)
    return 0.8 * sqrt((blank_diameter - cup_diameter) * thickness)


@function(chapter=CHAPTER, source="derived", place="area times pressure")
def coining_force(area: Area, pressure: Stress) -> Force:
    """Force to coin or size an area at the bottom of the stroke.

    F = A * p

    Closed coining dies have no give: sheet a little too thick, or two blanks at once, overloads the press.

    Arguments:
        area: area that is coined, seen from above
        pressure: mean pressure on it, two to five times the tensile strength of the sheet

    >>> coining_force(area=500, pressure=1200)
    600000
    """
    positive(area=area, pressure=pressure)
    return area * pressure
