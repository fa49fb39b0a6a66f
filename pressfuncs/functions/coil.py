"""Strip: coils, from diameters or mass to length, parts and hours."""

from __future__ import annotations

from pressfuncs.arrays import PI, sqrt
from pressfuncs.functions._rounding import round_down, round_up
from pressfuncs.limits import loss, not_negative, positive, require, share, whole
from pressfuncs.quantities import Count, Density, Duration, FeedSpeed, Length, Mass, Ratio, StrokeRate
from pressfuncs.registry import function


@function(chapter="Strip", source="derived")
def coil_length(outer_diameter: Length, inner_diameter: Length, thickness: Length, fill: Ratio) -> Length:
    """Length of strip on a coil, from its diameters.

    L = pi * (D^2 - d^2) / (4 * t) * fill

    Arguments:
        outer_diameter: outer diameter of the coil
        inner_diameter: bore of the coil
        thickness: thickness of the strip
        fill: share of the ring that is metal: 1 for a tight coil of flat strip, less for a loose or buckled one

    >>> coil_length(outer_diameter=1200, inner_diameter=508, thickness=2, fill=0.95)
    440937.9
    """
    positive(thickness=thickness)
    return _ring(outer_diameter, inner_diameter, fill) / thickness


@function(chapter="Strip", source="derived")
def coil_length_from_mass(mass: Mass, width: Length, thickness: Length, density: Density) -> Length:
    """Length of strip on a coil, from the mass on its label, packing taken off.

    L = m / (w * t * rho)

    Arguments:
        mass: mass of the strip on the coil
        width: width of the strip
        thickness: thickness of the strip
        density: density of the strip

    >>> coil_length_from_mass(mass=1, width=100, thickness=2, density=7.85e-9)
    636942.7
    """
    positive(mass=mass, width=width, thickness=thickness, density=density)
    return mass / (width * thickness * density)


@function(chapter="Strip", source="derived")
def coil_mass(
    outer_diameter: Length, inner_diameter: Length, width: Length, density: Density, fill: Ratio = 1.0
) -> Mass:
    """Mass of a coil, from its size; for the decoiler and the crane take fill as 1.

    m = pi / 4 * (D^2 - d^2) * w * rho * fill

    A figure for planning: lift by the mass on the label, with a lifting device rated for it.

    Arguments:
        outer_diameter: outer diameter of the coil
        inner_diameter: bore of the coil
        width: width of the strip
        density: density of the strip
        fill: share of the ring that is metal: 1 for a tight coil of flat strip, less for a loose or buckled one

    >>> coil_mass(outer_diameter=1200, inner_diameter=508, width=100, density=7.85e-9)
    0.7287
    """
    positive(width=width, density=density)
    return _ring(outer_diameter, inner_diameter, fill) * width * density


@function(chapter="Strip", source="derived")
def coil_outer_diameter(length: Length, inner_diameter: Length, thickness: Length, fill: Ratio) -> Length:
    """Outer diameter of a coil that holds a length of strip.

    D = sqrt(d^2 + 4 * L * t / (pi * fill))

    Arguments:
        length: length of strip on the coil
        inner_diameter: bore of the coil
        thickness: thickness of the strip
        fill: share of the ring that is metal: 1 for a tight coil of flat strip, less for a loose or buckled one

    >>> coil_outer_diameter(length=440937.9, inner_diameter=508, thickness=2, fill=0.95)
    1200.0
    """
    positive(length=length, inner_diameter=inner_diameter, thickness=thickness)
    share(fill=fill)
    return sqrt(inner_diameter**2 + 4.0 * length * thickness / (PI * fill))


@function(chapter="Strip", source="derived")
def parts_per_coil(length: Length, pitch: Length, parts_per_pitch: Count, end_loss: Length) -> Count:
    """Whole parts that a coil yields, rounded down to whole pitches.

    n = floor((L - end loss) / p) * parts per pitch

    Arguments:
        length: length of strip on the coil
        pitch: advance of the strip at each stroke
        parts_per_pitch: parts that one pitch yields
        end_loss: strip lost at both ends of the coil: threading, weld, last piece out of the feeder; write 0 for
          none

    >>> parts_per_coil(length=464145.2, pitch=51.5, parts_per_pitch=1, end_loss=2000)
    8973
    """
    positive(length=length, pitch=pitch)
    whole(parts_per_pitch=parts_per_pitch)
    not_negative(end_loss=end_loss)
    require(
        end_loss <= length,
        "end loss {end_loss} is more than the coil's {length}",
        end_loss=end_loss,
        length=length,
    )
    return round_down((length - end_loss) / pitch) * parts_per_pitch


@function(chapter="Strip", source="derived")
def coils_needed(quantity: Count, parts_per_coil: Count, scrap_share: Ratio) -> Count:
    """Whole coils for a number of good parts, rounded up.

    n = ceil(quantity / (parts * (1 - scrap)))

    Arguments:
        quantity: good parts wanted
        parts_per_coil: parts that one coil yields, see parts_per_coil
        scrap_share: share of the parts that are not good; write 0 for none

    >>> coils_needed(quantity=20000, parts_per_coil=8973, scrap_share=0.02)
    3
    """
    whole(least=0, quantity=quantity)
    positive(parts_per_coil=parts_per_coil)
    loss(scrap_share=scrap_share)
    return round_up(quantity / (parts_per_coil * (1.0 - scrap_share)))


@function(chapter="Strip", source="derived")
def coil_run_time(length: Length, pitch: Length, stroke_rate: StrokeRate, efficiency: Ratio) -> Duration:
    """Time until a coil is used up and the next must be ready.

    T = L / (p * rate * efficiency)

    Arguments:
        length: length of strip on the coil
        pitch: advance of the strip at each stroke
        stroke_rate: strokes per minute while the press runs
        efficiency: share of the time in which it does run; 1 gives the soonest that the coil can end

    >>> coil_run_time(length=464145.2, pitch=51.5, stroke_rate=1, efficiency=0.8)
    11265.7
    """
    positive(length=length, pitch=pitch, stroke_rate=stroke_rate)
    share(efficiency=efficiency)
    return length / (pitch * stroke_rate * efficiency)


@function(chapter="Strip", source="derived")
def strip_speed(pitch: Length, stroke_rate: StrokeRate) -> FeedSpeed:
    """Mean speed of the strip, which decoiler and straightener must keep up with; the feeder itself is faster.

    v = p * rate

    Arguments:
        pitch: advance of the strip at each stroke
        stroke_rate: strokes per minute while the press runs

    >>> strip_speed(pitch=51.5, stroke_rate=1)
    51.5
    """
    positive(pitch=pitch, stroke_rate=stroke_rate)
    return pitch * stroke_rate


def _ring(outer_diameter: Length, inner_diameter: Length, fill: Ratio) -> float:
    """Return the area of metal in the section of a coil."""
    positive(outer_diameter=outer_diameter, inner_diameter=inner_diameter)
    share(fill=fill)
    require(
        inner_diameter < outer_diameter,
        "inner diameter {inner_diameter} is not smaller than outer diameter {outer_diameter}",
        inner_diameter=inner_diameter,
        outer_diameter=outer_diameter,
    )
    return PI / 4.0 * (outer_diameter**2 - inner_diameter**2) * fill
