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
    given = {check: margins[check.name] for check in CHECKS if margins.get(check.name) is not None}
    absent = [check for check in CHECKS if check not in given and check.name not in not_applying]
    groups = {
        "not checked": [check for check in absent if check.name not in declared],
        "declared, not checked": [check for check in absent if check.name in declared],
        "does not apply": [check for check in CHECKS if check.name in not_applying],
    }
    failing = {check: margin for check, margin in given.items() if margin is not None and margin < 0}
    if failing:
        outcome = f"{NOT_SUITABLE}: {', also '.join(_shortage(check) for check in failing)}"
    else:
        status = PARTLY if groups["not checked"] else SUITABLE
        outcome = f"{status}: {len(given)} {'check' if len(given) == 1 else 'checks'} passed"
    rest = "".join(f"; {words}: {', '.join(c.label for c in of)}" for words, of in groups.items() if of)
    return Wording(outcome + rest, **{check.name: (-margin, check.kind) for check, margin in failing.items()})


def _shortage(check: Check) -> str:
    return (
        "another kind of press is wanted" if check.name == "kind" else f"{check.label} short by {{{check.name}}}"
    )
