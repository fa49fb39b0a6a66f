"""Every check of every pair of a die and a press, as margins: a plain function of two column tables.

`pair_margins` takes columns and gives arrays of dies x presses. It knows no files and no state, so that any
engine can run it on pieces of a register (see docs/scale.md).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

import numpy as np

from pressfuncs import functions as pf
from pressfuncs.batch.assignment.figures import Columns, known
from pressfuncs.batch.assignment.kinds import HYDRAULIC, MECHANICAL, UNKNOWN
from pressfuncs.batch.assignment.registers import Floats
from pressfuncs.functions._checks import CHECKS, Check
from pressfuncs.functions._rounding import settle
from pressfuncs.functions.mechanical import Drive

Flags = np.ndarray[Any, np.dtype[np.bool_]]


def capacity(dies: Columns, presses: Columns) -> Floats:
    """Return the force that each press gives at the height where each die works; NaN where it is not known.

    Above its rated height only a plain crank is known to follow the library's curve. Where a rod is not given, or
    not said to be above or below, the least capacity of all that can be counts.
    """
    rated = np.where(presses["rating_known"] == 1.0, presses["rated_force"], np.nan)
    mechanical = np.where(presses["drive"] == MECHANICAL, rated, np.nan)
    crank = np.where(presses["plain_crank"] == 1.0, mechanical, np.nan)
    height = dies["working_height"]
    given = presses["rod_short"] == presses["rod_long"]
    least = np.full(np.broadcast_shapes(crank.shape, height.shape), np.inf)
    drives: tuple[tuple[Drive, float], ...] = (("top", 1.0), ("under", 0.0))
    for drive, other in drives:
        for rod, once in (("rod_short", False), ("rod_long", True)):
            wanted = (presses["under"] != other) & ~(given & once)
            found = known(
                partial(pf.mechanical_capacity, drive=drive),
                np.where(wanted, crank, np.nan),
                presses["rated_height"],
                presses["stroke"],
                presses[rod],
                height,
            )
            least = np.where(wanted, np.minimum(least, found), least)
    by_crank = np.where(np.isinf(least), np.nan, least)
    low = _difference(presses["rated_height"], height) >= 0
    other_drive = np.where(low & (presses["plain_crank"] == 0.0), mechanical, np.nan)
    hydraulic = np.where(presses["drive"] == HYDRAULIC, rated, np.nan)
    return np.fmax(np.fmax(by_crank, other_drive), hydraulic)  # at most one of the three is known


def running_rate(dies: Columns, presses: Columns) -> Floats:
    """Return the strokes of a pair: the slower of what the die stands and the press gives."""
    slower: Floats = np.minimum(dies["stroke_rate"], presses["rate_high"])
    return np.where(np.isnan(dies["stroke_rate"]) & (dies["rate_unread"] == 0), presses["rate_high"], slower)


def _failing_at_least(margin: Floats, bound: Floats) -> Floats:
    """Return the margin; where it is not known, what it cannot exceed, if that alone fails."""
    return np.where(np.isnan(margin) & (bound < 0), bound, margin)


def _difference(most: Floats, wanted: Floats) -> Floats:
    """Return what is left of `most`; exactly 0 where only float noise is."""
    settled: Any = settle
    left: Floats = settled(most - wanted, np.abs(most))
    return left


def _force(dies: Columns, presses: Columns) -> Floats:
    """No press gives more than its rating, at whatever height; and no die takes less than its known parts."""
    limit = presses["load_limit"]
    most = np.fmin(presses["capacity"], presses["rated_force"]) * np.where(np.isnan(limit), 1.0, limit)
    margin = known(pf.force_margin, dies["stroke_force"], presses["capacity"], limit)
    return _failing_at_least(margin, _difference(most, dies["least_force"]))


def _working_height(dies: Columns, presses: Columns) -> Floats:
    return _difference(presses["stroke"], dies["working_height"])


def _energy(dies: Columns, presses: Columns) -> Floats:
    """A flywheel's energy goes with its speed squared; whether a press has one speed, its lowest rate says.

    Where the energy of a die is not known, the whole force over the working height is more than enough.
    """
    lowest, highest = presses["rate_low"], presses["rate_high"]
    slower = running_rate(dies, presses) / highest
    full, reduced = presses["energy"], presses["energy"] * slower * slower
    available = np.where(lowest >= highest, full, reduced)
    margin = known(pf.energy_margin, dies["energy"], available)
    most = known(pf.energy_margin, dies["stroke_force"] * dies["working_height"], available)
    margin = np.where(np.isnan(margin) & (most >= 0) & (dies["energy_unread"] == 0), most, margin)
    margin = np.where(np.isnan(lowest) & (margin < 0), np.nan, margin)
    return _failing_at_least(margin, _difference(full, dies["energy"]))


def _snap_through(dies: Columns, presses: Columns) -> Floats:
    return _difference(presses["snap_through"], dies["reverse_force"])


def _closed_height(dies: Columns, presses: Columns) -> Floats:
    """A bolster only takes height away."""
    margin = known(pf.closed_height_margin, dies["die_height"], presses["shut_height"], presses["bolster"], 0.0)
    room = presses["shut_height"] - np.nan_to_num(presses["bolster"])
    return _failing_at_least(margin, _difference(room, dies["die_height"]))


def _adjustment(dies: Columns, presses: Columns) -> Floats:
    """Spacers are put under a die that is too short; how many may be is not known where no figure is given."""
    spacer = np.nan_to_num(presses["most_spacer"])
    reach = presses["adjustment"] + spacer
    margin = known(
        pf.adjustment_margin, dies["die_height"], presses["shut_height"], reach, presses["bolster"], 0.0
    )
    return np.where(np.isnan(presses["most_spacer"]) & (margin < 0), np.nan, margin)


def _opening(dies: Columns, presses: Columns) -> Floats:
    """What is known of punch entry, part and lift is enough to fail."""
    names = ("punch_entry", "part_height", "lift")
    taken = np.sum([dies[name] for name in names], axis=0)
    least = np.sum([np.nan_to_num(dies[name]) for name in names], axis=0)
    return _failing_at_least(_difference(presses["stroke"], taken), _difference(presses["stroke"], least))


def _stroke(dies: Columns, presses: Columns) -> Floats:
    return _failing_at_least(
        _difference(presses["stroke"], dies["stroke_needed"]),
        _difference(presses["stroke"], dies["stroke_stated"]),
    )


def _bed(dies: Columns, presses: Columns) -> Floats:
    clamps = presses["clamping_length"], presses["clamping_width"]
    room = presses["bed_length"], presses["bed_width"]
    return _fits(pf.bed_margin, room, (dies["die_length"], dies["die_width"]), clamps)


def _slide_face(dies: Columns, presses: Columns) -> Floats:
    room = tuple(presses[name] + 2 * presses["overhang"] for name in ("slide_length", "slide_width"))
    return _fits(pf.slide_face_margin, room, (dies["upper_die_length"], dies["upper_die_width"]))


def _fits(
    function: Callable[..., Any], room: Sequence[Floats], die: Sequence[Floats], clamps: Sequence[Floats] = ()
) -> Floats:
    """A die that is too large one way does not fit, whatever its other size is."""
    none = np.zeros((1, 1))
    margin = known(function, *room, *die, *(clamps or [none] * 2))
    taken = [np.nan_to_num(clamp) for clamp in clamps] or [none] * 2
    each = [_difference(most, size + 2 * clamp) for most, size, clamp in zip(room, die, taken)]
    return _failing_at_least(margin, np.fmin(*each))


def _off_centre(dies: Columns, presses: Columns) -> Floats:
    return known(pf.off_centre_margin, dies["stroke_force"], dies["load_centre"], presses["allowed_moment"])


def _mass(dies: Columns, presses: Columns) -> Floats:
    return _difference(presses["mass_limit"], dies["mass"])


def _upper_mass(dies: Columns, presses: Columns) -> Floats:
    return _difference(presses["upper_mass_limit"], dies["upper_mass"])


def _shank(dies: Columns, presses: Columns) -> Floats:
    return known(pf.shank_margin, presses["shank_bore"], dies["shank_diameter"])


def _rate(dies: Columns, presses: Columns) -> Floats:
    """A die that stands the highest rate of a press stands its lowest one, whatever that is."""
    wanted, highest = dies["stroke_rate"], presses["rate_high"]
    lowest = np.where(np.isnan(presses["rate_low"]) & (wanted >= highest), highest, presses["rate_low"])
    return _difference(wanted, lowest)


def _kind(dies: Columns, presses: Columns) -> Floats:
    """A drive that is not written, or not understood, is neither the one nor the other."""
    wanted, given = dies["kind_wanted"], presses["drive"]
    unclear = np.isnan(wanted) | np.isnan(given) | (given == UNKNOWN)
    return np.where(unclear, np.nan, np.where(wanted == given, 0.0, -1.0))


_MARGINS: dict[str, Callable[[Columns, Columns], Floats]] = {
    "force": _force,
    "working_height": _working_height,
    "energy": _energy,
    "snap_through": _snap_through,
    "closed_height": _closed_height,
    "adjustment": _adjustment,
    "opening": _opening,
    "stroke": _stroke,
    "bed": _bed,
    "slide_face": _slide_face,
    "off_centre": _off_centre,
    "mass": _mass,
    "upper_mass": _upper_mass,
    "shank": _shank,
    "rate": _rate,
    "kind": _kind,
}
_NOT_APPLYING: dict[str, Callable[[Columns, Columns], Any]] = {
    "energy": lambda dies, presses: presses["drive"] == HYDRAULIC,
    "snap_through": lambda dies, presses: dies["cuts"] == 0.0,
    "shank": lambda dies, presses: dies["shank_diameter"] == 0.0,
    "kind": lambda dies, presses: dies["kind_wanted"] == UNKNOWN,
}
"""Checks that some pairs are known not to ask for."""


@dataclass
class Pairs:
    """The pairs of some dies with some presses; arrays are (checks,) dies x presses."""

    margins: np.ndarray[Any, np.dtype[np.float64]]
    """margin of each check; NaN where it is not made"""
    applies: Flags
    declared: Flags
    """by check: the shop says that it need not be made"""
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
        """The checks that apply and are not made, one bit each; without those that are declared."""
        return _bits(self.applies & np.isnan(self.margins) & ~self.declared[:, np.newaxis, np.newaxis])


def _bits(flags: Flags) -> np.ndarray[Any, np.dtype[np.uint32]]:
    bits = np.zeros(flags.shape[1:], dtype=np.uint32)
    for number, flag in enumerate(flags):
        bits |= flag.astype(np.uint32) << np.uint32(number)
    return bits


def names_of(bits: int) -> list[Check]:
    """Return the checks whose bits are set, in order."""
    return [check for number, check in enumerate(CHECKS) if bits >> number & 1]


def pair_margins(dies: Columns, presses: Columns, declared: Collection[str] = ()) -> Pairs:
    """Compute every check of every pair.

    Arguments:
        dies: columns of `demand.DIE_COLUMNS`, each of length D
        presses: columns of `supply.PRESS_COLUMNS`, each of length P
        declared: names of checks that the shop says need not be made

    Returns:
        arrays of D x P pairs
    """
    tall = {name: column[:, np.newaxis] for name, column in dies.items()}
    wide = {name: column[np.newaxis, :] for name, column in presses.items()}
    shape = (len(dies["die_height"]), len(presses["shut_height"]))
    wide["capacity"] = np.broadcast_to(capacity(tall, wide), shape)
    margins = np.empty((len(CHECKS), *shape))
    applies = np.ones((len(CHECKS), *shape), dtype=bool)
    for number, check in enumerate(CHECKS):
        margins[number] = _MARGINS[check.name](tall, wide)
        if check.name in _NOT_APPLYING:
            applies[number] = ~_NOT_APPLYING[check.name](tall, wide)
    part_rate = known(
        pf.stroke_rate_throughput, running_rate(tall, wide), tall["parts_per_stroke"], tall["efficiency"], 0.0
    )
    press_time = known(pf.press_cost, part_rate, wide["hourly_rate"], 0.0, 0.0)
    setup_time = np.where(np.isnan(tall["setup"]), wide["setup"], tall["setup"])
    setup = known(pf.setup_cost, setup_time, wide["hourly_rate"], tall["quantity"])
    return Pairs(
        margins,
        applies,
        np.array([check.name in declared for check in CHECKS]),
        wide["capacity"],
        np.broadcast_to(part_rate, shape),
        np.broadcast_to(known(pf.piece_cost, np.float64(0), press_time, setup, 0.0, 0.0, 0.0), shape),
    )
