"""What each die asks for and each press gives, worked out from their registers by the functions of the library."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from pressfuncs import functions as pf
from pressfuncs.batch.assignment.registers import Floats, Register, Trouble
from pressfuncs.errors import PressError

Columns = dict[str, Floats]
"""A column table: every column of the same length, in core units, NaN where a figure is missing."""

HYDRAULIC, MECHANICAL, UNKNOWN = 1.0, 2.0, 0.0
_KINDS = {
    HYDRAULIC: ("hydraulic",),
    MECHANICAL: (
        *("mechanical", "crank", "eccentric", "gapframe", "cframe", "straightside", "geared", "ungeared"),
        *("obi", "knuckle", "link", "servo"),
    ),
}
_RODS = (1.0, 50.0)  # of a rod that is not given, in strokes: shorter and longer than presses have

DIE_COLUMNS = (
    *("stroke_force", "cutting_force", "working_height", "energy", "reverse_force", "die_height", "die_length"),
    *("die_width", "upper_die_length", "upper_die_width", "load_centre", "part_height", "lift", "punch_entry"),
    *("stroke_needed", "mass", "upper_mass", "shank_diameter", "stroke_rate", "parts_per_stroke", "efficiency"),
    *("quantity", "setup", "press_kind"),
)
PRESS_COLUMNS = (
    *("press_kind", "rated_force", "rated_height", "stroke", "rod_short", "rod_long", "energy", "shut_height"),
    *("adjustment", "bolster", "most_spacer", "bed_length", "bed_width", "slide_length", "slide_width"),
    *("overhang", "shank_bore", "allowed_moment", "snap_through", "rate_low", "rate_high", "mass_limit"),
    *("upper_mass_limit", "hourly_rate", "setup"),
)


def known(function: Callable[..., Any], *arguments: Any) -> Floats:
    """Apply a library function where all its arguments are there and in range; NaN elsewhere."""
    columns = np.broadcast_arrays(*arguments)
    shape = columns[0].shape
    flat = [column.ravel() for column in columns]
    good = np.logical_and.reduce([np.isfinite(column) for column in flat])
    result = np.full(flat[0].size, np.nan)
    while good.any():
        try:
            result[good] = function(*(column[good] for column in flat))
            break
        except PressError as error:
            bad = getattr(error, "bad", None)
            places = np.flatnonzero(good)
            if not isinstance(bad, np.ndarray) or bad.shape != places.shape or not bad.any():
                break
            good[places[bad]] = False
    return result.reshape(shape)


def first_given(*columns: Floats) -> Floats:
    """Return, for each entry, the first figure that is given."""
    result = columns[0]
    for column in columns[1:]:
        result = np.where(np.isnan(result), column, result)
    return result


def die_demand(dies: Register) -> Columns:
    """Return what each die asks for; adds a note for materials that the table does not hold."""
    thickness = dies.number("thickness")
    strength = first_given(dies.number("shear_strength"), _shear_strengths(dies))  # stated before looked up
    cutting = first_given(
        dies.number("cutting_force"), known(pf.shearing_force, dies.number("cut_length"), thickness, strength)
    )
    stripping = first_given(
        dies.number("stripping_force"),
        known(pf.stripping_force, cutting, dies.number("stripping_share")),
        np.zeros(len(dies)),
    )
    forming = dies.number("forming_force")
    any_force = ~(np.isnan(cutting) & np.isnan(forming))
    summed = known(
        pf.stroke_force,
        np.nan_to_num(cutting),
        stripping,
        np.zeros(len(dies)),
        np.nan_to_num(forming),
        np.nan_to_num(dies.number("pad_force")),
    )
    incomplete = np.isnan(cutting) & ~np.isnan(dies.number("cut_length"))  # it cuts, but how hard is not known
    force = first_given(dies.number("stroke_force"), np.where(any_force & ~incomplete, summed, np.nan))
    only_cuts = np.isnan(forming) & ~np.isnan(cutting)
    energy = known(pf.cutting_energy, cutting, thickness, dies.number("penetration"))
    upper_length, upper_width = dies.number("upper_die_length"), dies.number("upper_die_width")
    columns = {
        "stroke_force": force,
        "cutting_force": cutting,
        "working_height": first_given(
            dies.number("working_height"), np.where(only_cuts, thickness + dies.number("punch_entry"), np.nan)
        ),
        "energy": first_given(dies.number("energy"), np.where(only_cuts, energy, np.nan)),
        "reverse_force": known(pf.snap_through_force, cutting, dies.number("reverse_share")),
        "upper_die_length": first_given(upper_length, dies.number("die_length")),
        "upper_die_width": first_given(upper_width, dies.number("die_width")),
        "press_kind": _kinds(dies),
    }
    return {name: columns[name] if name in columns else dies.number(name) for name in DIE_COLUMNS}


def press_supply(presses: Register) -> Columns:
    """Return what each press gives."""
    number = presses.number
    by_bore = known(
        pf.hydraulic_capacity, number("bore"), number("pressure"), number("cylinders"), number("press_efficiency")
    )
    kinds = _kinds(presses)
    kinds = np.where((kinds == UNKNOWN) & ~np.isnan(number("bore")), HYDRAULIC, kinds)
    kinds = np.where((kinds == UNKNOWN) & ~np.isnan(number("rated_height")), MECHANICAL, kinds)
    rated = np.where(kinds == HYDRAULIC, first_given(by_bore, number("rated_force")), number("rated_force"))
    both = (kinds == HYDRAULIC) & ~np.isnan(by_bore) & ~np.isnan(number("rated_force"))
    rated = np.where(both, np.minimum(by_bore, number("rated_force")), rated)
    columns = {
        "press_kind": kinds,
        "rated_force": rated,
        "rod_short": first_given(number("rod"), number("stroke") * _RODS[0]),
        "rod_long": first_given(number("rod"), number("stroke") * _RODS[1]),
        "energy": first_given(
            number("energy"), known(pf.usable_energy, number("flywheel_energy"), number("slowdown"))
        ),
        "snap_through": first_given(number("snap_through"), known(pf.snap_through_limit, rated)),
    }
    return {name: columns[name] if name in columns else number(name) for name in PRESS_COLUMNS}


def _shear_strengths(dies: Register) -> Floats:
    """Look up the upper end of the shear strength of each material, where it is wanted, once a name."""
    wanted = np.isnan(dies.number("shear_strength")) & np.isnan(dies.number("cutting_force"))
    names = [name if want else "" for name, want in zip(dies.text("material"), wanted)]
    found: dict[str, float] = {"": np.nan}
    for name in dict.fromkeys(names):
        if name in found:
            continue
        try:
            found[name] = float(pf.material(name, "shear_strength"))
        except PressError as error:
            found[name] = np.nan
            dies.troubles.append(Trouble("die", f'material "{name}"', "", error.sentence("metric")))
    return np.array([found[name] for name in names], dtype=float)


def _kinds(register: Register) -> Floats:
    """Return the press kind of each entry as a number; UNKNOWN where none, or another, is written."""
    codes: dict[str, float] = {}
    for text in dict.fromkeys(register.text("press_kind")):
        word = "".join(letter for letter in text.casefold() if letter.isalnum())
        codes[text] = next((code for code, words in _KINDS.items() if any(w in word for w in words)), UNKNOWN)
        if text and codes[text] == UNKNOWN:
            sentence = "is no kind of press that is known: write hydraulic or mechanical"
            register.troubles.append(Trouble(register.kind, f'press kind "{text}"', "", sentence))
    return np.array([codes[text] for text in register.text("press_kind")], dtype=float)
