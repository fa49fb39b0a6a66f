"""What each die asks for and each press gives, worked out from their registers by the functions of the library."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Any

import numpy as np

from pressfuncs import functions as pf
from pressfuncs.batch.assignment.registers import Floats, Register
from pressfuncs.errors import PressError
from pressfuncs.quantities import FORCE

Columns = dict[str, Floats]
"""A column table: every column of the same length, in core units, NaN where a figure is missing."""

HYDRAULIC, MECHANICAL, UNKNOWN = 1.0, 2.0, 0.0
"""Kinds of press as numbers; UNKNOWN where none is written, NaN where another is."""

_HYDRAULIC_WORDS = ("hydraulic",)
_CRANK_WORDS = (
    *("mechanical", "crank", "eccentric", "gapframe", "cframe", "straightside", "geared", "ungeared"),
    *("obi", "flywheel"),
)
_OTHER_DRIVES = ("knuckle", "link", "toggle", "servo")  # mechanical, but their slide does not move as by a crank
_NOTED_ABOVE = 1.05  # plates are rounded; more than this above the plate is worth a word
_RODS = (1.0, 50.0)  # of a rod that is not given, in strokes: shorter and longer than presses have

DIE_COLUMNS = (
    *("stroke_force", "cutting_force", "cuts", "working_height", "energy", "reverse_force", "die_height"),
    *("die_length", "die_width", "upper_die_length", "upper_die_width", "load_centre", "part_height", "lift"),
    *("punch_entry", "stroke_needed", "mass", "upper_mass", "shank_diameter", "stroke_rate", "parts_per_stroke"),
    *("efficiency", "quantity", "setup", "kind_wanted"),
)
PRESS_COLUMNS = (
    *("press_kind", "plain_crank", "rated_force", "rated_height", "stroke", "rod_short", "rod_long", "energy"),
    *("shut_height", "adjustment", "bolster", "most_spacer", "bed_length", "bed_width", "clamping_length"),
    *("clamping_width", "slide_length", "slide_width", "overhang", "shank_bore", "allowed_moment", "snap_through"),
    *("rate_low", "rate_high", "mass_limit", "upper_mass_limit", "hourly_rate", "setup"),
)


def known(function: Callable[..., Any], *arguments: Any) -> Floats:
    """Apply a library function where all its arguments are there and in range; NaN elsewhere."""
    columns = np.broadcast_arrays(*arguments)
    shape = columns[0].shape
    flat = [column.ravel() for column in columns]
    good = np.logical_and.reduce([np.isfinite(column) for column in flat])
    if good.all():
        with contextlib.suppress(PressError):
            return np.asarray(function(*flat)).reshape(shape)
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
    """Return what each die asks for; notes what contradicts itself, and materials that the table does not hold."""
    number = dies.number
    thickness, penetration, relief = number("thickness"), number("penetration"), number("relief")
    strength = first_given(number("shear_strength"), _shear_strengths(dies))  # stated before looked up
    square = known(pf.shearing_force, number("cut_length"), thickness, strength)
    cuts, peak = _cut(dies, square)
    full = np.fmax(peak, square)  # relief and stagger lower the peak, not stripping and energy
    stripping = first_given(
        number("stripping_force"), known(pf.stripping_force, full, number("stripping_share")), np.zeros(len(dies))
    )
    forming, pad = np.nan_to_num(number("forming_force")), np.nan_to_num(number("pad_force"))
    nothing = np.zeros(len(dies))
    summed = known(pf.stroke_force, np.where(cuts, peak, 0.0), stripping, nothing, forming, pad)
    summed = np.where(summed > 0, summed, np.nan)
    only_cuts = cuts & (forming == 0) & ~np.isnan(peak)
    lowered = (peak < square * (1 - 1e-9)) & np.isnan(relief)  # by relief or stagger, but nobody says how high
    height = thickness + number("punch_entry") + np.nan_to_num(relief)
    height = first_given(number("working_height"), np.where(only_cuts & ~lowered, height, np.nan))
    energy = known(pf.cutting_energy, full, thickness, penetration)
    energy = energy + np.where(stripping > 0, stripping * height, 0.0)
    spread = np.isnan(square) & (relief > 0)  # only the lowered peak is known: it acts over the relief as well
    energy = energy + np.where(spread, full * np.nan_to_num(relief), 0.0)
    upper_length, upper_width = number("upper_die_length"), number("upper_die_width")
    columns = {
        "stroke_force": _stroke_force(dies, summed, np.where(cuts, peak, 0.0)),
        "cutting_force": peak,
        "cuts": cuts.astype(float),
        "working_height": height,
        "energy": first_given(number("energy"), np.where(only_cuts & (pad == 0), energy, np.nan)),
        "reverse_force": known(pf.snap_through_force, peak, number("reverse_share")),
        "upper_die_length": first_given(upper_length, number("die_length")),
        "upper_die_width": first_given(upper_width, number("die_width")),
        "kind_wanted": _kinds(dies, "kind_wanted")[0],
    }
    return {name: columns[name] if name in columns else number(name) for name in DIE_COLUMNS}


def _cut(dies: Register, square: Floats) -> tuple[np.ndarray[Any, np.dtype[np.bool_]], Floats]:
    """Return which dies cut, and the peak of the cut: as stated, else lowered by the relief, else of square edges.

    A die cuts unless something else is known to be its whole work: a forming force, and no sign of a cut.
    """
    number = dies.number
    stated, forming = number("cutting_force"), number("forming_force")
    signs = np.logical_or.reduce(
        [number(name) > 0 for name in ("cut_length", "stripping_share", "stripping_force", "reverse_share")]
    )
    stated = np.where((stated == 0) & (number("cut_length") > 0), np.nan, stated)
    lowered = known(
        pf.relieved_shearing_force, square, number("thickness"), number("penetration"), number("relief")
    )
    peak = first_given(stated, lowered, square)
    cuts = (peak > 0) | (np.isnan(peak) & (signs | ~(forming > 0)))
    return cuts, np.where(peak > 0, peak, np.nan)


def _stroke_force(dies: Register, summed: Floats, peak: Floats) -> Floats:
    """Return the force of the stroke as stated, but never less than the largest of its parts."""
    stated = dies.number("stroke_force")
    parts = [peak, dies.number("forming_force"), dies.number("pad_force")]
    largest = np.fmax.reduce([np.nan_to_num(part) for part in parts])
    less = stated < largest * (1 - 1e-9)
    for i in np.flatnonzero(less):
        force, part = (FORCE.show(float(column[i]), dies.system) for column in (stated, largest))
        sentence = (
            f"the force of the stroke is stated as {force}, and one of its parts alone as {part}: the larger one"
            " counts"
        )
        dies.note(f"row {dies.rows[i]}", dies.ids[i], sentence)
    return first_given(np.where(less, largest, stated), summed)


def press_supply(presses: Register) -> Columns:
    """Return what each press gives; notes figures of a press that contradict each other."""
    number = presses.number
    arguments = [number("bore"), number("pressure"), number("cylinders"), number("press_efficiency")]
    by_bore = known(pf.hydraulic_capacity, *arguments)
    kinds, plain_crank = _kinds(presses, "press_kind")
    has_bore, has_height = ~np.isnan(number("bore")), ~np.isnan(number("rated_height"))
    kinds = np.where((kinds == UNKNOWN) & has_bore & ~has_height, HYDRAULIC, kinds)
    kinds = np.where((kinds == UNKNOWN) & has_height & ~has_bore, MECHANICAL, kinds)
    plate = number("rated_force")
    rated = np.where(kinds == HYDRAULIC, np.fmin(by_bore, plate), plate)
    short, long = (first_given(number("rod"), number("stroke") * strokes) for strokes in _RODS)
    shut_height = first_given(number("die_space"), number("shut_height"))
    bolster = np.where(np.isnan(number("die_space")), number("bolster"), 0.0)
    for i in np.flatnonzero((kinds == HYDRAULIC) & (by_bore > plate * _NOTED_ABOVE)):
        given, rating = (FORCE.show(float(column[i]), presses.system) for column in (by_bore, plate))
        sentence = (
            f"bore and pressure give {given}, the plate {rating}: the smaller one counts; never set the pressure"
            " above the plate"
        )
        presses.note(f"row {presses.rows[i]}", presses.ids[i], sentence)
    crank = np.where(kinds == MECHANICAL, plate, np.nan)
    _note_refused(presses, pf.rated_torque, crank, number("rated_height"), number("stroke"), short)
    _note_refused(presses, pf.closed_height_margin, shut_height, shut_height, bolster, 0 * bolster)
    columns = {
        "press_kind": kinds,
        "plain_crank": plain_crank,
        "rated_force": rated,
        "rod_short": short,
        "rod_long": long,
        "energy": first_given(
            number("energy"), known(pf.usable_energy, number("flywheel_energy"), number("slowdown"))
        ),
        "shut_height": shut_height,
        "bolster": bolster,
        "snap_through": first_given(number("snap_through"), known(pf.snap_through_limit, rated)),
    }
    return {name: columns[name] if name in columns else number(name) for name in PRESS_COLUMNS}


def _note_refused(register: Register, function: Callable[..., Any], *columns: Floats) -> None:
    """Note each entry whose figures are all there and yet impossible together."""
    there = np.logical_and.reduce([np.isfinite(column) for column in columns])
    for i in np.flatnonzero(there & np.isnan(known(function, *columns))):
        try:
            function(*(float(column[i]) for column in columns))
        except PressError as error:
            register.note(f"row {register.rows[i]}", register.ids[i], error.sentence(register.system))


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
            dies.note(f'material "{name}"', "", error.sentence(dies.system))
    return np.array([found[name] for name in names], dtype=float)


def _kinds(register: Register, field: str) -> tuple[Floats, Floats]:
    """Return the kind of press of each entry as a number, and 1 where its slide is moved by a plain crank."""
    codes: dict[str, tuple[float, float]] = {"": (UNKNOWN, 1.0)}
    texts = register.text(field)
    for text in dict.fromkeys(texts):
        if text in codes:
            continue
        word = "".join(letter for letter in text.casefold() if letter.isalnum())
        is_hydraulic, is_crank, is_other = (
            any(known_word in word for known_word in words)
            for words in (_HYDRAULIC_WORDS, _CRANK_WORDS, _OTHER_DRIVES)
        )
        if is_hydraulic and not is_crank:
            codes[text] = (HYDRAULIC, 0.0)
        elif (is_crank or is_other) and not is_hydraulic:
            codes[text] = (MECHANICAL, 0.0 if is_other else 1.0)
        else:
            codes[text] = (np.nan, 0.0)
            sentence = "is no kind of press that is known, or two: write hydraulic or mechanical"
            register.note(f'kind of press "{text}"', "", sentence)
    both = np.array([codes[text] for text in texts], dtype=float).reshape(-1, 2)
    return both[:, 0], both[:, 1]
