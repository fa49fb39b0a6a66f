"""What each press gives, worked out from its register by the functions of the library."""

from __future__ import annotations

import numpy as np

from pressfuncs import functions as pf
from pressfuncs.batch.assignment.figures import (
    Columns,
    first_given,
    given_else,
    known,
    note_each,
    note_refused,
    unread,
)
from pressfuncs.batch.assignment.kinds import HYDRAULIC, MECHANICAL, UNKNOWN, Kind, column, kinds
from pressfuncs.batch.assignment.registers import Floats, Register

PRESS_COLUMNS = (
    *("drive", "plain_crank", "under", "load_limit", "rated_force", "rating_known", "rated_height", "stroke"),
    *("rod_short", "rod_long", "energy", "shut_height", "adjustment", "bolster", "most_spacer", "bed_length"),
    *("bed_width", "clamping_length", "clamping_width", "slide_length", "slide_width", "overhang", "shank_bore"),
    *("allowed_moment", "snap_through", "rate_low", "rate_high", "mass_limit", "upper_mass_limit", "hourly_rate"),
    "setup",
)
_NOTED_ABOVE = 1.05  # plates are rounded; more than this above the plate is worth a word
_RODS = (1.0, 50.0)  # of a rod that is not given, in strokes: shorter and longer than presses have


def press_supply(presses: Register, load_limit: float | None = None) -> Columns:
    """Return what each press gives; notes figures of a press that contradict each other.

    Arguments:
        presses: the register
        load_limit: share of the capacity that may be used, of presses that state none; None goes by their frames
    """
    number = presses.number
    of = kinds(presses, "press_kind", "drive", "frame")
    drive = _drives(presses, of)
    rated, rating_known = _ratings(presses, drive)
    short, long = (first_given(number("rod"), number("stroke") * strokes) for strokes in _RODS)
    shut_height = given_else(presses, "die_space", number("shut_height"))
    bolster = np.where(np.isnan(number("die_space")), number("bolster"), 0.0)
    limits = [load_limit if load_limit is not None else float(pf.load_limit(kind.frame)) for kind in of]
    crank = np.where(drive == MECHANICAL, rated, np.nan)
    note_refused(presses, pf.rated_torque, crank, number("rated_height"), number("stroke"), short)
    note_refused(presses, pf.closed_height_margin, shut_height, shut_height, bolster, np.zeros(len(presses)))
    usable = known(pf.usable_energy, number("flywheel_energy"), number("slowdown"))
    columns = {
        "drive": drive,
        "plain_crank": column(of, "plain_crank"),
        "under": column(of, "under"),
        "load_limit": given_else(presses, "load_limit", np.array(limits, dtype=float)),
        "rated_force": rated,
        "rating_known": rating_known.astype(float),
        "rod_short": short,
        "rod_long": long,
        "energy": given_else(presses, "energy", usable),
        "shut_height": shut_height,
        "bolster": bolster,
        "snap_through": given_else(
            presses, "snap_through", known(pf.snap_through_limit, np.where(rating_known, rated, np.nan))
        ),
    }
    return {name: columns[name] if name in columns else number(name) for name in PRESS_COLUMNS}


def _drives(presses: Register, of: list[Kind]) -> Floats:
    """Return the drive by its words, else by what only one drive has: a bore, or a rated height."""
    drive = column(of, "drive")
    has_bore, has_height = (
        ~np.isnan(presses.number(name)) | unread(presses, name) for name in ("bore", "rated_height")
    )
    note_each(
        presses,
        (drive == MECHANICAL) & has_bore,
        "is mechanical by its words and has the bore of a cylinder: its drive is not known; clear one of them",
    )
    drive = np.where((drive == MECHANICAL) & has_bore, np.nan, drive)
    drive = np.where((drive == UNKNOWN) & has_bore & ~has_height, HYDRAULIC, drive)
    return np.where((drive == UNKNOWN) & has_height & ~has_bore, MECHANICAL, drive)


def _ratings(presses: Register, drive: Floats) -> tuple[Floats, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Return the most that each press gives, and where that is all there is to know of it."""
    number, plate = presses.number, presses.number("rated_force")
    names = ("bore", "pressure", "cylinders", "press_efficiency")
    by_bore = known(pf.hydraulic_capacity, *(number(name) for name in names))
    hydraulic = drive == HYDRAULIC
    note_each(
        presses,
        hydraulic & (by_bore > plate * _NOTED_ABOVE),
        "bore and pressure give {by_bore}, the plate {plate}: the smaller one counts; never set the pressure above"
        " the plate",
        by_bore=by_bore,
        plate=plate,
    )
    of_either = np.minimum(np.where(np.isnan(by_bore), np.inf, by_bore), plate)  # of a drive that is not known
    rated = np.where(hydraulic, np.fmin(by_bore, plate), np.where(drive == MECHANICAL, plate, of_either))
    doubtful = np.logical_or.reduce([unread(presses, name) for name in names]) & (drive != MECHANICAL)
    return rated, ~np.isnan(rated) & ~doubtful & ~unread(presses, "rated_force")
