"""Every check of every pair of a die and a press, as margins: a plain function of two column tables.

`pair_margins` takes columns and gives arrays of dies x presses. It knows no files and no state, so that any
engine can run it on pieces of a register (see docs/scale.md).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from pressfuncs import functions as pf
from pressfuncs.batch.assignment.demand import HYDRAULIC, MECHANICAL, UNKNOWN, Columns, known
from pressfuncs.batch.assignment.registers import Floats
from pressfuncs.functions._rounding import settle
from pressfuncs.quantities import ENERGY, FORCE, LENGTH, MASS, NUMBER, STROKE_RATE, TORQUE, Kind

Margin = Callable[[Columns, Columns, float], Floats]


@dataclass(frozen=True)
class Check:
    """One check: its margin is 0 or more where the pair passes, NaN where a figure is missing."""

    name: str
    kind: Kind
    label: str
    margin: Margin
    applies: Callable[[Columns, Columns], Any] = lambda dies, presses: True

    @property
    def short(self) -> str:
        """The name in words."""
        return self.name.replace("_", " ")


def capacity(dies: Columns, presses: Columns) -> Floats:
    """Return the force that each press gives at the height where each die works; NaN where it is not known.

    Above its rated height only a plain crank is known to follow the library's curve.
    """
    mechanical = np.where(presses["press_kind"] == MECHANICAL, presses["rated_force"], np.nan)
    crank = np.where(presses["plain_crank"] == 1.0, mechanical, np.nan)
    height = dies["working_height"]
    given = presses["rod_short"] == presses["rod_long"]
    by_short, by_long = (
        known(pf.mechanical_capacity, rated, presses["rated_height"], presses["stroke"], rod, height)
        for rated, rod in (
            (crank, presses["rod_short"]),
            (np.where(given, np.nan, crank), presses["rod_long"]),  # of a rod that is given, once is enough
        )
    )
    by_crank = np.where(given, by_short, np.minimum(by_short, by_long))
    low = _difference(presses["rated_height"], height) >= 0
    other = np.where(low & (presses["plain_crank"] == 0.0), mechanical, np.nan)
    hydraulic = np.where(presses["press_kind"] == HYDRAULIC, presses["rated_force"], np.nan)
    return np.fmax(np.fmax(by_crank, other), hydraulic)  # at most one of the three is known


def running_rate(dies: Columns, presses: Columns) -> Floats:
    """Return the strokes of a pair: the slower of what the die stands and the press gives."""
    slower: Floats = np.minimum(dies["stroke_rate"], presses["rate_high"])
    return np.where(np.isnan(dies["stroke_rate"]), presses["rate_high"], slower)


def available_energy(dies: Columns, presses: Columns) -> Floats:
    """Return the energy that a press gives at the rate of a pair: a flywheel's goes with its speed squared."""
    rate, lowest, highest = running_rate(dies, presses), presses["rate_low"], presses["rate_high"]
    one_speed = np.isnan(lowest) | (lowest >= highest)
    slower = np.where(one_speed, 1.0, rate / highest)
    return presses["energy"] * slower * slower


def _failing_at_least(margin: Floats, bound: Floats) -> Floats:
    """Return the margin; where it is not known, what it cannot exceed, if that alone fails."""
    return np.where(np.isnan(margin) & (bound < 0), bound, margin)


def _difference(most: Floats, wanted: Floats) -> Floats:
    """Return what is left of `most`; exactly 0 where only float noise is."""
    settled: Any = settle
    left: Floats = settled(most - wanted, np.abs(most))
    return left


def _force(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    """No press gives more than its rating, at whatever height."""
    margin = known(pf.force_margin, dies["stroke_force"], presses["capacity"], np.float64(load_limit))
    return _failing_at_least(margin, _difference(presses["rated_force"] * load_limit, dies["stroke_force"]))


def _working_height(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    return _difference(presses["stroke"], dies["working_height"])


def _energy(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    """Where the energy of a die is not known, the whole force over the working height is more than enough."""
    available = available_energy(dies, presses)
    most = known(pf.energy_margin, dies["stroke_force"] * dies["working_height"], available)
    margin = known(pf.energy_margin, dies["energy"], available)
    return np.where(np.isnan(margin) & (most >= 0), most, margin)


def _snap_through(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    return _difference(presses["snap_through"], dies["reverse_force"])


def _closed_height(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    """A bolster only takes height away."""
    margin = known(pf.closed_height_margin, dies["die_height"], presses["shut_height"], presses["bolster"], 0.0)
    room = presses["shut_height"] - np.nan_to_num(presses["bolster"])
    return _failing_at_least(margin, _difference(room, dies["die_height"]))


def _adjustment(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    """Spacers are put under a die that is too short; how many may be is not known where no figure is given."""
    spacer = np.nan_to_num(presses["most_spacer"])
    reach = presses["adjustment"] + spacer
    margin = known(
        pf.adjustment_margin, dies["die_height"], presses["shut_height"], reach, presses["bolster"], 0.0
    )
    return np.where(np.isnan(presses["most_spacer"]) & (margin < 0), np.nan, margin)


def _opening(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    opening = known(pf.tool_opening, presses["stroke"], dies["punch_entry"])
    return known(pf.part_clearance_margin, opening, dies["part_height"], dies["lift"])


def _stroke(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    return _difference(presses["stroke"], dies["stroke_needed"])


def _bed(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    clamps = presses["clamping_length"], presses["clamping_width"]
    room = presses["bed_length"], presses["bed_width"]
    return _fits(pf.bed_margin, room, (dies["die_length"], dies["die_width"]), clamps)


def _slide_face(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    room = tuple(presses[name] + 2 * presses["overhang"] for name in ("slide_length", "slide_width"))
    return _fits(pf.slide_face_margin, room, (dies["upper_die_length"], dies["upper_die_width"]))


def _fits(
    function: Callable[..., Any], room: Sequence[Floats], die: Sequence[Floats], clamps: Sequence[Floats] = ()
) -> Floats:
    """A die that is too large one way does not fit, whatever its other size is."""
    taken = clamps or [np.zeros((1, 1))] * 2
    margin = known(function, *room, *die, *taken)
    each = [_difference(most, size + 2 * clamp) for most, size, clamp in zip(room, die, taken)]
    return _failing_at_least(margin, np.fmin(*each))


def _off_centre(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    return known(pf.off_centre_margin, dies["stroke_force"], dies["load_centre"], presses["allowed_moment"])


def _mass(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    return _difference(presses["mass_limit"], dies["mass"])


def _upper_mass(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    return _difference(presses["upper_mass_limit"], dies["upper_mass"])


def _shank(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    return known(pf.shank_margin, presses["shank_bore"], dies["shank_diameter"])


def _rate(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    return _difference(dies["stroke_rate"], presses["rate_low"])


def _kind(dies: Columns, presses: Columns, load_limit: float) -> Floats:
    """A kind that is not written, or not understood, is neither the one nor the other."""
    wanted, given = dies["kind_wanted"], presses["press_kind"]
    unclear = np.isnan(wanted) | np.isnan(given) | (given == UNKNOWN)
    return np.where(unclear, np.nan, np.where(wanted == given, 0.0, -1.0))


CHECKS = (
    Check("force", FORCE, "force at the working height", _force),
    Check(
        *("working_height", LENGTH, "working height within the stroke", _working_height),
        lambda dies, presses: (presses["press_kind"] != HYDRAULIC) | ~np.isnan(dies["working_height"]),
    ),
    Check(
        "energy", ENERGY, "energy of a stroke", _energy, lambda dies, presses: presses["press_kind"] != HYDRAULIC
    ),
    Check(
        *("snap_through", FORCE, "snap-through", _snap_through),
        lambda dies, presses: dies["cuts"] == 1.0,
    ),
    Check("closed_height", LENGTH, "closed height", _closed_height),
    Check("adjustment", LENGTH, "slide adjustment and spacers", _adjustment),
    Check("opening", LENGTH, "opening for part and feed", _opening),
    Check(
        *("stroke", LENGTH, "stroke", _stroke),
        lambda dies, presses: ~np.isnan(dies["stroke_needed"]),
    ),
    Check("bed", LENGTH, "bed", _bed),
    Check("slide_face", LENGTH, "slide face", _slide_face),
    Check("off_centre", TORQUE, "off-centre load", _off_centre),
    Check("mass", MASS, "mass of the die", _mass),
    Check("upper_mass", MASS, "mass on the slide", _upper_mass),
    Check(
        *("shank", LENGTH, "shank", _shank),
        lambda dies, presses: ~np.isnan(dies["shank_diameter"]),
    ),
    Check(
        *("rate", STROKE_RATE, "slowest stroke rate", _rate),
        lambda dies, presses: ~np.isnan(presses["rate_low"]),
    ),
    Check(
        *("kind", NUMBER, "kind of press", _kind),
        lambda dies, presses: dies["kind_wanted"] != UNKNOWN,
    ),
)
"""The checks in the order in which a failing one is named first."""


@dataclass
class Pairs:
    """The pairs of some dies with some presses; arrays are (checks,) dies x presses."""

    margins: np.ndarray[Any, np.dtype[np.float64]]
    """margin of each check; NaN where it is not checked"""
    applies: np.ndarray[Any, np.dtype[np.bool_]]
    capacity: Floats
    part_rate: Floats
    cost: Floats
    """cost of press time and setup for one part; NaN where a figure is missing"""

    @cached_property
    def failed(self) -> np.ndarray[Any, np.dtype[np.uint32]]:
        """The checks that fail, one bit each."""
        return _bits(self.applies & (self.margins < 0))

    @cached_property
    def unchecked(self) -> np.ndarray[Any, np.dtype[np.uint32]]:
        """The checks that apply and cannot be made for want of a figure, one bit each."""
        return _bits(self.applies & np.isnan(self.margins))


def _bits(flags: np.ndarray[Any, np.dtype[np.bool_]]) -> np.ndarray[Any, np.dtype[np.uint32]]:
    bits = np.zeros(flags.shape[1:], dtype=np.uint32)
    for number, flag in enumerate(flags):
        bits |= flag.astype(np.uint32) << np.uint32(number)
    return bits


def names_of(bits: int) -> list[Check]:
    """Return the checks whose bits are set, in order."""
    return [check for number, check in enumerate(CHECKS) if bits >> number & 1]


def pair_margins(dies: Columns, presses: Columns, load_limit: float = 0.8) -> Pairs:
    """Compute every check of every pair.

    Arguments:
        dies: columns of `demand.DIE_COLUMNS`, each of length D
        presses: columns of `demand.PRESS_COLUMNS`, each of length P
        load_limit: share of the capacity that may be used

    Returns:
        arrays of D x P pairs
    """
    tall = {name: column[:, np.newaxis] for name, column in dies.items()}
    wide = {name: column[np.newaxis, :] for name, column in presses.items()}
    shape = (len(dies["die_height"]), len(presses["shut_height"]))
    wide["capacity"] = np.broadcast_to(capacity(tall, wide), shape)
    margins = np.empty((len(CHECKS), *shape))
    applies = np.empty((len(CHECKS), *shape), dtype=bool)
    for number, check in enumerate(CHECKS):
        margins[number] = check.margin(tall, wide, load_limit)
        applies[number] = check.applies(tall, wide)
    part_rate = known(
        pf.stroke_rate_throughput, running_rate(tall, wide), tall["parts_per_stroke"], tall["efficiency"], 0.0
    )
    press_time = known(pf.press_cost, part_rate, wide["hourly_rate"], 0.0, 0.0)
    setup_time = np.where(np.isnan(tall["setup"]), wide["setup"], tall["setup"])
    setup = known(pf.setup_cost, setup_time, wide["hourly_rate"], tall["quantity"])
    return Pairs(
        margins,
        applies,
        wide["capacity"],
        np.broadcast_to(part_rate, shape),
        np.broadcast_to(known(pf.piece_cost, np.float64(0), press_time, setup, 0.0, 0.0, 0.0), shape),
    )
