"""The checks of a die in a press: one list for the verdict, the assignment, the templates and the drawing.

A check passes with a margin of 0 or more. One without a margin was not made, and the verdict names it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import NamedTuple, Optional

from pressfuncs.quantities import ENERGY, FORCE, LENGTH, MASS, NUMBER, STROKE_RATE, TORQUE, Kind, Wording


class Check(NamedTuple):
    """One check."""

    name: str
    """name of the margin, as argument of press_verdict and in the tables of an assignment"""
    kind: Kind
    label: str
    """what it is called in a sentence"""


CHECKS = (
    Check("force", FORCE, "force at the working height"),
    Check("working_height", LENGTH, "working height within the stroke"),
    Check("energy", ENERGY, "energy of a stroke"),
    Check("snap_through", FORCE, "snap-through"),
    Check("closed_height", LENGTH, "closed height"),
    Check("adjustment", LENGTH, "slide adjustment and spacers"),
    Check("opening", LENGTH, "opening for part and feed"),
    Check("stroke", LENGTH, "stroke"),
    Check("bed", LENGTH, "bed"),
    Check("slide_face", LENGTH, "slide face"),
    Check("off_centre", TORQUE, "off-centre load"),
    Check("mass", MASS, "mass of the die"),
    Check("upper_mass", MASS, "mass on the slide"),
    Check("shank", LENGTH, "shank"),
    Check("rate", STROKE_RATE, "slowest stroke rate"),
    Check("kind", NUMBER, "kind of press"),
)
"""All checks, in the order in which a failing one is named."""

SUITABLE, PARTLY, NOT_SUITABLE = "suitable on paper", "partly checked", "not suitable"


def verdict(
    margins: Mapping[str, Optional[float]], declared: Collection[str] = (), not_applying: Collection[str] = ()
) -> Wording:
    """Put the outcome of all checks into words: what fails and by how much, what passed, what was not made.

    Arguments:
        margins: margin of each check by name, None where it was not made
        declared: checks that somebody says need not be made; one with a margin below 0 fails all the same
        not_applying: checks that this die and press do not ask for
    """
    given = {check: margin for check in CHECKS if (margin := margins.get(check.name)) is not None}
    failing = {check: margin for check, margin in given.items() if margin < 0}
    absent = [check for check in CHECKS if check not in given and check.name not in not_applying]
    unchecked = ", ".join(check.label for check in absent if check.name not in declared)
    excused = ", ".join(check.label for check in absent if check.name in declared)
    needless = ", ".join(check.label for check in CHECKS if check.name in not_applying)
    groups = (("not checked", unchecked), ("declared, not checked", excused), ("does not apply", needless))
    rest = "".join(f"; {words}: {labels}" for words, labels in groups if labels != "")
    short = ", also ".join(_shortage(check) for check in failing)
    passed = len(given)
    outcome = (
        f"{NOT_SUITABLE}: {short}"
        if failing
        else f"{PARTLY if unchecked != '' else SUITABLE}: {passed} {'check' if passed == 1 else 'checks'} passed"
    )
    numbers = {check.name: (-margin, check.kind) for check, margin in failing.items()}
    return Wording(f"{outcome}{rest}", **numbers)


def _shortage(check: Check) -> str:
    return (
        "another kind of press is wanted" if check.name == "kind" else f"{check.label} short by {{{check.name}}}"
    )


def checks_in(names: str) -> tuple[list[str], str]:
    """Return the checks in a list with commas between, and what there is no check for; see `_bare` for spellings.

    >>> checks_in("Shank, off-centre, tonnage")
    (['off_centre', 'shank'], 'tonnage')
    """
    # each name gets two commas of its own, so that it is found whole, and its neighbour too once it is taken out
    rest = f",{_bare(names).replace(',', ',,')},"
    found = [check.name for check in CHECKS if rest != (rest := rest.replace(f",{_bare(check.name)},", ""))]
    return found, rest.replace(",", "")


def _bare(name: str) -> str:
    """Leave out what may be written one way or the other: capitals, blanks, hyphens, line breaks."""
    return name.lower().replace(" ", "").replace("-", "").replace("_", "").replace("\n", "")
