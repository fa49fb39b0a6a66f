"""A second, slow judge of a die in a press, to try `assign` against.

Plain Python with arithmetic of its own. The crank is stepped round and its slide measured; the force of the die is
laid out over the stroke, every part at the heights at which it acts, and held against the capacity there. A figure
that is needed and not known leaves its check "not proved".
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, field

from oracle_die import Die
from oracle_figures import added
from oracle_press import NOISE, Press

__all__ = ["CHECKS", "Die", "Judgement", "Press", "judge"]

Answer = bool | None
"""True where it goes, False where it does not, None where a figure is missing"""


@dataclass
class Judgement:
    """What is wrong with a pair, by check."""

    refused: list[str] = field(default_factory=list)
    unproved: list[str] = field(default_factory=list)

    def goes(self, declared: Collection[str] = ()) -> bool:
        """Return whether everything is proved, but for what the shop declares."""
        return not self.refused and set(self.unproved) <= set(declared)


def enough(there: float | None, wanted: float | None) -> Answer:
    """Return whether there is as much as is wanted."""
    if there is None or wanted is None:
        return None
    return there >= wanted - NOISE * max(abs(there), abs(wanted))


def both(*answers: Answer) -> Answer:
    """Return True where all hold, False where one does not."""
    if False in answers:
        return False
    return None if None in answers else True


def force(die: Die, press: Press) -> Answer:
    if not die.force_known or press.limit is None:
        return None
    if press.drive == "hydraulic":
        return None if press.rating is None else enough(press.rating * press.limit, die.most)
    if die.profile is None or die.impossible or press.drive is None:
        return None
    answers = []
    for height, wanted in die.profile:
        there = press.capacity(height)
        answers.append(None if there is None else enough(there * press.limit, wanted))
    return both(*answers)


def working_height(die: Die, press: Press) -> Answer:
    return None if die.impossible else enough(press.stroke, die.start)


def energy(die: Die, press: Press) -> Answer:
    """A flywheel that turns more slowly holds less, by the square; a press of one speed always turns as fast."""
    if press.drive == "hydraulic":
        return True
    full = press.number("energy")
    stored, slowdown = press.number("flywheel_energy"), press.number("slowdown")
    if full is None and not press.given.unread("energy") and stored is not None and slowdown is not None:
        full = stored - stored * (1 - slowdown) ** 2
    lowest, highest = press.number("rate_low"), press.number("rate_high")
    rate = die.number("stroke_rate") if die.given.there("stroke_rate") else highest
    if lowest is not None and highest is not None and lowest >= highest:
        rate = highest
    if full is None or highest is None or rate is None or die.energy is None:
        return None
    slower = min(rate / highest, 1.0)
    if enough(full * slower * slower, die.energy):
        return True
    open_rate = lowest is None and enough(full, die.energy)
    return None if open_rate or die.energy_at_most or die.impossible else False


def snap_through(die: Die, press: Press) -> Answer:
    if die.cuts is False:
        return True
    share, limit = die.number("reverse_share"), press.number("snap_through")
    if limit is None and not press.given.unread("snap_through") and press.rating is not None:
        limit = press.rating / 10
    if die.peak_known is None or share is None:
        return None
    return enough(limit, die.peak_known * share)


def _room(press: Press) -> float | None:
    """Return the height between bolster and slide, stroke down and adjustment up."""
    if press.given.there("die_space"):
        return press.number("die_space")
    shut, bolster = press.number("shut_height"), press.number("bolster")
    return None if shut is None or bolster is None else shut - bolster


def closed_height(die: Die, press: Press) -> Answer:
    return enough(_room(press), die.number("die_height"))


def adjustment(die: Die, press: Press) -> Answer:
    room, height = _room(press), die.number("die_height")
    down, spacer = press.number("adjustment"), press.number("most_spacer")
    if room is None or height is None or down is None:
        return None
    if enough(down, room - height):
        return True
    return None if spacer is None else enough(down + spacer, room - height)


def opening(die: Die, press: Press) -> Answer:
    return enough(press.stroke, die.room)


def stroke(die: Die, press: Press) -> Answer:
    if die.given.unread("stroke_needed"):
        return None
    return both(enough(press.stroke, die.room), enough(press.stroke, die.number("stroke_needed") or 0.0))


def bed(die: Die, press: Press) -> Answer:
    def side(name: str) -> Answer:
        size, clamp = die.number(f"die_{name}"), press.number(f"clamping_{name}")
        return enough(press.number(f"bed_{name}"), added(size, clamp, clamp))

    return both(side("length"), side("width"))


def slide_face(die: Die, press: Press) -> Answer:
    def side(name: str) -> Answer:
        size = die.number(f"upper_die_{name}" if die.given.there(f"upper_die_{name}") else f"die_{name}")
        out = press.number("overhang")
        return enough(added(press.number(f"slide_{name}"), out, out), size)

    return both(side("length"), side("width"))


def off_centre(die: Die, press: Press) -> Answer:
    distance = die.number("load_centre")
    if distance is None or not die.force_known:
        return None
    return enough(press.number("allowed_moment"), die.most * abs(distance))


def mass(die: Die, press: Press) -> Answer:
    return enough(press.number("mass_limit"), die.number("mass"))


def upper_mass(die: Die, press: Press) -> Answer:
    return enough(press.number("upper_mass_limit"), die.number("upper_mass"))


def shank(die: Die, press: Press) -> Answer:
    diameter = die.number("shank_diameter")
    return True if diameter == 0 else enough(press.number("shank_bore"), diameter)


def rate(die: Die, press: Press) -> Answer:
    wanted, lowest, highest = die.number("stroke_rate"), press.number("rate_low"), press.number("rate_high")
    if lowest is None and enough(wanted, highest):
        return True
    return enough(wanted, lowest)


def kind(die: Die, press: Press) -> Answer:
    wanted = die.given.text("kind_wanted")
    if not wanted:
        return True
    if press.drive is None or wanted not in ("hydraulic", "mechanical"):
        return None
    return wanted == press.drive


CHECKS: dict[str, Callable[[Die, Press], Answer]] = {
    check.__name__: check
    for check in (
        *(
            force,
            working_height,
            energy,
            snap_through,
            closed_height,
            adjustment,
            opening,
            stroke,
            bed,
            slide_face,
        ),
        *(off_centre, mass, upper_mass, shank, rate, kind),
    )
}


def judge(die: Die, press: Press) -> Judgement:
    """Judge a pair: what is refused and what cannot be proved."""
    found = Judgement()
    for name, check in CHECKS.items():
        answer = check(die, press)
        if answer is not True:
            (found.unproved if answer is None else found.refused).append(name)
    return found
