"""Decision: the capacity a press must have, how far it is used, and the verdict over all checks."""

from __future__ import annotations

from typing import Optional

from pressfuncs.errors import MissingValue
from pressfuncs.functions._rounding import settle
from pressfuncs.limits import finite, not_negative, positive, share
from pressfuncs.quantities import (
    ENERGY,
    FORCE,
    LENGTH,
    TORQUE,
    Energy,
    Force,
    Length,
    Ratio,
    Text,
    Torque,
    Wording,
)
from pressfuncs.registry import function


@function(chapter="Decision", source="practice", place="load limit 70 to 80 % of the rating")
def required_capacity(force: Force, load_limit: Ratio = 0.8) -> Force:
    """Capacity a press must have so that the force loads it only up to a limit.

    F / limit

    The force is divided by the limit: a press rated below the force itself is never the answer. Compare the result
    with the capacity at the height where the die works, once; do not apply the limit a second time there.

    Arguments:
        force: force of the stroke, all that acts at the same moment
        load_limit: share of the capacity that may be used, above 0 and at most 1; 0.7 to 0.8 is usual

    >>> required_capacity(force=334768)
    418460.0
    """
    not_negative(force=force)
    share(load_limit=load_limit)
    return force / load_limit


@function(chapter="Decision", source="derived")
def utilisation(force: Force, capacity: Force) -> Ratio:
    """Share of the capacity that the force uses; above 1 the press is overloaded.

    F / C

    Arguments:
        force: force of the stroke, all that acts at the same moment
        capacity: capacity of the press at the height where the die works

    >>> utilisation(force=334768, capacity=630000)
    0.53138
    """
    not_negative(force=force)
    positive(capacity=capacity)
    return force / capacity


@function(chapter="Decision", source="practice", place="load limit 70 to 80 % of the rating")
def force_margin(force: Force, capacity: Force, load_limit: Ratio = 0.8) -> Force:
    """Force left below the load limit of the press; 0 is just enough, less than 0 and the press is too small.

    margin = C * limit - F

    Arguments:
        force: force of the stroke, all that acts at the same moment
        capacity: capacity of the press at the height where the die works
        load_limit: share of the capacity that may be used, above 0 and at most 1; 0.7 to 0.8 is usual

    >>> force_margin(force=334768, capacity=630000)
    169232.0
    """
    not_negative(force=force)
    positive(capacity=capacity)
    share(load_limit=load_limit)
    return settle(capacity * load_limit - force, capacity)


@function(chapter="Decision", source="derived")
def energy_margin(energy: Energy, available_energy: Energy) -> Energy:
    """Energy left after the stroke; 0 is just enough, less than 0 and the press stalls or slows too far.

    margin = E available - E

    Arguments:
        energy: energy the stroke takes: cutting, forming, cushion
        available_energy: energy the press can give at this rate, see usable_energy

    >>> energy_margin(energy=1200000, available_energy=1500000)
    300000
    """
    not_negative(energy=energy, available_energy=available_energy)
    return settle(available_energy - energy, available_energy)


CHECKS = {
    "force_margin": ("force", FORCE),
    "energy_margin": ("energy", ENERGY),
    "snap_through_margin": ("snap-through", FORCE),
    "off_centre_margin": ("off-centre load", TORQUE),
    "closed_height_margin": ("closed height", LENGTH),
    "adjustment_margin": ("slide adjustment", LENGTH),
    "part_clearance_margin": ("part clearance", LENGTH),
    "bed_margin": ("bed", LENGTH),
    "slide_face_margin": ("slide face", LENGTH),
    "shank_margin": ("shank", LENGTH),
}
"""The margins that press_verdict looks at, in this order: what each is called, and its kind."""


@function(chapter="Decision", source="derived")
def press_verdict(
    force_margin: Optional[Force] = None,
    energy_margin: Optional[Energy] = None,
    snap_through_margin: Optional[Force] = None,
    off_centre_margin: Optional[Torque] = None,
    closed_height_margin: Optional[Length] = None,
    adjustment_margin: Optional[Length] = None,
    part_clearance_margin: Optional[Length] = None,
    bed_margin: Optional[Length] = None,
    slide_face_margin: Optional[Length] = None,
    shank_margin: Optional[Length] = None,
) -> Text:
    """Verdict on a die in a press from the margins of all checks: the first that fails, and what was not checked.

    suitable on paper where every margin is given and none is less than 0

    A margin left blank is not checked, and what is not checked never counts as passed. The verdict is for
    planning: the machine's plate, its capacity curve and a competent setter have the last word.

    Arguments:
        force_margin: capacity at the working height times the load limit, less the force
        energy_margin: energy of the press less the energy of the stroke
        snap_through_margin: reverse load the frame may see less the snap-through force
        off_centre_margin: off-centre moment allowed less the moment of the load
        closed_height_margin: height left over the closed die
        adjustment_margin: slide adjustment left when the slide is down on the die
        part_clearance_margin: height left over the part on its way out
        bed_margin: room left on the bed or bolster
        slide_face_margin: room left on the slide face
        shank_margin: play of the shank in its bore

    >>> press_verdict(force_margin=169232, closed_height_margin=-5).split(";")[0]
    'not suitable: closed height short by 5 mm'
    """
    margins = (
        force_margin,
        energy_margin,
        snap_through_margin,
        off_centre_margin,
        closed_height_margin,
        adjustment_margin,
        part_clearance_margin,
        bed_margin,
        slide_face_margin,
        shank_margin,
    )
    given = {name: margin for name, margin in zip(CHECKS, margins) if margin is not None}
    if not given:
        raise MissingValue("all margins are blank: a verdict needs at least one", function="press_verdict")
    finite(**given)
    left_out = [words for name, (words, _) in CHECKS.items() if name not in given]
    unchecked = f"; not checked: {', '.join(left_out)}" if left_out else ""
    failing = [name for name, margin in given.items() if margin < 0]
    if failing:
        short = ", also ".join(f"{CHECKS[name][0]} short by {{{name}}}" for name in failing)
        numbers = {name: (-given[name], CHECKS[name][1]) for name in failing}
        return Wording(f"not suitable: {short}{unchecked}", **numbers)
    if left_out:
        return f"not fully checked: {len(given)} of {len(margins)} checks passed{unchecked}"
    return f"suitable on paper: all {len(margins)} checks passed"
