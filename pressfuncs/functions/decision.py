"""Decision: the capacity a press must have, how far it is used, and the verdict over all checks."""

from __future__ import annotations

from typing import Literal, Optional, get_args

from pressfuncs.errors import MissingValue
from pressfuncs.functions._checks import CHECKS, checks_in, verdict
from pressfuncs.functions._rounding import settle
from pressfuncs.limits import finite, not_negative, one_of, positive, refuse_choice, share
from pressfuncs.quantities import Energy, Force, Length, Mass, Number, Ratio, StrokeRate, Text, Torque
from pressfuncs.registry import function

Frame = Literal["unknown", "C-frame", "straight side", "column"]
FRAMES: tuple[Frame, ...] = get_args(Frame)


@function(chapter="Decision", source="practice", place="load limit 60 to 80 % of the rating, by the frame")
def required_capacity(force: Force, load_limit: Ratio = 0.6) -> Force:
    """Capacity a press must have so that the force loads it only up to a limit.

    F / limit

    The force is divided by the limit: a press rated below the force itself is never the answer. Compare the result
    with the capacity at the height where the die works, once; do not apply the limit a second time there.

    Arguments:
        force: force of the stroke, all that acts at the same moment
        load_limit: share of the capacity that may be used, above 0 and at most 1, see load_limit; blank: 0.6

    >>> required_capacity(force=334768, load_limit=0.8)
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


@function(chapter="Decision", source="practice", place="load limit 60 to 80 % of the rating, by the frame")
def force_margin(force: Force, capacity: Force, load_limit: Ratio = 0.6) -> Force:
    """Force left below the load limit of the press; 0 is just enough, less than 0 and the press is too small.

    margin = C * limit - F

    Arguments:
        force: force of the stroke, all that acts at the same moment
        capacity: capacity of the press at the height where the die works
        load_limit: share of the capacity that may be used, above 0 and at most 1, see load_limit; blank: 0.6

    >>> force_margin(force=334768, capacity=630000, load_limit=0.8)
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


@function(chapter="Decision", source="practice", place="load limit by the frame of the press")
def load_limit(frame: Frame = "unknown") -> Ratio:
    """Share of its capacity that a press may be loaded with, by its frame; the maker's own figure is best.

    straight side, column: 0.8; C-frame, unknown: 0.6

    An open frame gapes under load, and the halves of the die go out of line long before anything breaks: 60 to
    70 % is usual there, and 80 % in a closed frame. The lower end is taken. A hydraulic press goes by its frame
    too: its valve limits the force, not the gape.

    Arguments:
        frame: C-frame (also gap frame), straight side, column (posts or tie rods at all corners) or unknown

    >>> load_limit(frame="straight side")
    0.8
    """
    one_of(FRAMES, frame=frame)
    return 0.8 if frame in ("straight side", "column") else 0.6


@function(chapter="Decision", source="derived")
def press_verdict(
    force: Optional[Force] = None,
    working_height: Optional[Length] = None,
    energy: Optional[Energy] = None,
    snap_through: Optional[Force] = None,
    closed_height: Optional[Length] = None,
    adjustment: Optional[Length] = None,
    opening: Optional[Length] = None,
    stroke: Optional[Length] = None,
    bed: Optional[Length] = None,
    slide_face: Optional[Length] = None,
    off_centre: Optional[Torque] = None,
    mass: Optional[Mass] = None,
    upper_mass: Optional[Mass] = None,
    shank: Optional[Length] = None,
    rate: Optional[StrokeRate] = None,
    kind: Optional[Number] = None,
    declared: Text = "",
) -> Text:
    """Verdict on a die in a press from the margins of all checks: what fails, what passed, what was not made.

    suitable on paper where no margin is less than 0, and none is blank but those declared

    Every argument but the last is a margin: what is left, less than 0 where it is short. A margin left blank is
    a check that was not made; it never counts as passed. The verdict is for planning: the machine's plate, its
    capacity curve and a competent setter have the last word.

    Arguments:
        force: capacity at the working height times the load limit, less the force, see force_margin
        working_height: stroke less the height above the bottom at which the die begins to work
        energy: energy of the press less the energy of the stroke, see energy_margin
        snap_through: reverse load that the frame takes less the snap-through force
        closed_height: height left over the closed die, see closed_height_margin
        adjustment: slide adjustment and spacers left when the slide is down on the die, see adjustment_margin
        opening: height left over the part on its way out, see part_clearance_margin
        stroke: stroke of the press less the least stroke of the die
        bed: room left on bed or bolster, see bed_margin
        slide_face: room left on the slide face, see slide_face_margin
        off_centre: off-centre moment allowed less the moment of the load, see off_centre_margin
        mass: heaviest die of press or crane less the mass of the die
        upper_mass: mass that the slide carries less the mass of the upper half
        shank: play of the shank in its bore, see shank_margin
        rate: highest rate of the die less the lowest rate of the press
        kind: 0 where the die runs on this kind of press, -1 where it wants another
        declared: checks that need not be made here, as names with commas between: "energy, shank"

    >>> press_verdict(force=169232, closed_height=-5).split(";")[0]
    'not suitable: closed height short by 5 mm'
    """
    names = [check.name for check in CHECKS]
    values = (
        *(force, working_height, energy, snap_through, closed_height, adjustment, opening, stroke),
        *(bed, slide_face, off_centre, mass, upper_mass, shank, rate, kind),
    )
    margins = dict(zip(names, values))
    given = {name: margin for name, margin in margins.items() if margin is not None}
    made = len(given)
    if made == 0:
        raise MissingValue("all margins are blank: a verdict needs at least one", function="press_verdict")
    finite(**given)
    excused, unknown = checks_in(declared)
    if unknown != "":
        refuse_choice("declared", next(w.strip() for w in declared.split(",") if checks_in(w)[1]), names)
    return verdict(margins, excused)
