"""What each die asks for, worked out from its register by the functions of the library."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from pressfuncs import functions as pf
from pressfuncs.batch.assignment.cuts import Cuts, cuts_of
from pressfuncs.batch.assignment.figures import Columns, given_else, known, note_each, unread
from pressfuncs.batch.assignment.kinds import UNKNOWN, column, kinds
from pressfuncs.batch.assignment.registers import Floats, Register
from pressfuncs.quantities import LENGTH

DIE_COLUMNS = (
    *("stroke_force", "least_force", "cutting_force", "stripping_force", "ejection_force", "cuts"),
    *("working_height", "energy", "energy_unread", "rate_unread", "reverse_force"),
    *("die_height", "die_length", "die_width", "upper_die_length", "upper_die_width", "load_centre"),
    *("part_height", "lift", "punch_entry", "stroke_needed", "stroke_stated", "mass", "upper_mass"),
    *("shank_diameter", "stroke_rate", "parts_per_stroke", "efficiency", "quantity", "setup", "kind_wanted"),
)


def die_demand(dies: Register) -> Columns:
    """Return what each die asks for; notes what contradicts itself, and materials that the table does not hold."""
    number = dies.number
    cut = cuts_of(dies)
    thickness = number("thickness")
    stripping, ejection = _stripping(dies, cut), _ejection(dies, cut)
    forming, pad = number("forming_force"), number("pad_force")
    parts = [np.where(cut.cuts == 0, 0.0, cut.peak), stripping, ejection, forming, pad]
    force, least = _stroke_force(dies, parts)
    only_cuts = (cut.cuts == 1) & (forming == 0)
    begins = thickness + number("punch_entry") + cut.above
    height = given_else(dies, "working_height", np.where(only_cuts & ~cut.lowered_unseen, begins, np.nan))
    height = _believed(dies, cut, height, begins)
    reach = number("working_height") - np.nan_to_num(thickness) - np.nan_to_num(cut.above)
    entry = given_else(dies, "punch_entry", np.maximum(reach, 0.0))
    energy = known(pf.cutting_energy, cut.full, thickness, number("penetration")) + (stripping + ejection) * height
    only_peak = ~(cut.peak <= cut.square * (1 + 1e-9))  # one that is lowered acts over shear and stagger as well
    energy = energy + np.where(only_peak, cut.peak * cut.above, 0.0)
    more = np.maximum(np.nan_to_num(number("stroke_force")) - np.sum(parts, axis=0), 0.0)
    energy = energy + np.where(unread(dies, "stroke_force"), np.nan, more) * height
    room = entry + number("part_height") + number("lift")
    columns = {
        "stroke_force": force,
        "least_force": least,
        "cutting_force": cut.peak,
        "stripping_force": stripping,
        "ejection_force": ejection,
        "cuts": cut.cuts,
        "working_height": height,
        "energy": given_else(dies, "energy", np.where(only_cuts & (pad == 0), energy, np.nan)),
        "energy_unread": unread(dies, "energy").astype(float),
        "rate_unread": unread(dies, "stroke_rate").astype(float),
        "reverse_force": known(pf.snap_through_force, cut.peak, number("reverse_share")),
        "punch_entry": entry,
        "stroke_needed": np.where(
            unread(dies, "stroke_needed"), np.nan, np.maximum(np.nan_to_num(number("stroke_needed")), room)
        ),
        "stroke_stated": number("stroke_needed"),
        "upper_die_length": given_else(dies, "upper_die_length", number("die_length")),
        "upper_die_width": given_else(dies, "upper_die_width", number("die_width")),
        "kind_wanted": _kind_wanted(dies),
    }
    return {name: columns[name] if name in columns else number(name) for name in DIE_COLUMNS}


def _believed(dies: Register, cut: Cuts, height: Floats, begins: Floats) -> Floats:
    """Return the working height of a die that cuts: not below what its edges reach, unknown where it cannot be."""
    stated, cuts = dies.number("working_height"), cut.cuts == 1
    low = cuts & ~cut.lowered_unseen & (begins > height * (1 + 1e-9))
    least = dies.number("thickness") * dies.number("penetration") + cut.above
    cannot_be = cuts & (stated < least * (1 - 1e-9))
    note_each(
        dies,
        cannot_be,
        "the working height is stated as {stated}, and the cut alone acts from {least} down: it is not known",
        LENGTH,
        stated=stated,
        least=least,
    )
    note_each(
        dies,
        low & ~cannot_be,
        "the working height is stated as {stated}; thickness, punch entry, shear and stagger make it {begins}: the"
        " larger one counts",
        LENGTH,
        stated=stated,
        begins=begins,
    )
    return np.where(cannot_be, np.nan, np.where(low, begins, height))


def _kind_wanted(dies: Register) -> Floats:
    """Return the drive that a die wants; a word that names none is not clear."""
    texts = dies.text("kind_wanted")
    drive = column(kinds(dies, "kind_wanted"), "drive")
    unclear = np.array([bool(text) for text in texts], dtype=bool) & (drive == UNKNOWN)
    note_each(dies, unclear, "the kind of press wanted names no drive: write hydraulic or mechanical")
    return np.where(unclear, np.nan, drive)


def _share_of(function: Callable[..., Any], cut: Cuts, share: Floats, *more: Floats) -> Floats:
    """Return a share of the full cut, 0 where the share is 0 or the die cuts nothing."""
    nothing = (share == 0) | (cut.cuts == 0) | np.logical_or.reduce([figure == 0 for figure in (share, *more)])
    return np.where(nothing, 0.0, known(function, np.where(nothing, np.nan, cut.full), share, *more))


_STRIPPERS: Mapping[str, float] = {"spring": 1.0, "fixed": 0.0, "none": 0.0, "": 1.0}


def _stripping(dies: Register, cut: Cuts) -> Floats:
    """Return the stripping force that the slide works against on its way down."""
    words = [word.strip().casefold() for word in dies.text("stripper")]
    for word in dict.fromkeys(words):
        if word not in _STRIPPERS:
            dies.note(f'stripper "{word}"', "", "is none of spring, fixed, none: the stripping force is not known")
    loads = np.array([_STRIPPERS.get(word, np.nan) for word in words], dtype=float)
    by_share = _share_of(pf.stripping_force, cut, dies.number("stripping_share"))
    force = given_else(dies, "stripping_force", by_share)
    return np.where(loads == 0, 0.0, np.where(np.isnan(loads), np.nan, force))


def _ejection(dies: Register, cut: Cuts) -> Floats:
    """Return the force that pushes blanks and slugs through the die."""
    by_share = _share_of(pf.ejection_force, cut, dies.number("ejection_share"), dies.number("slugs"))
    return given_else(dies, "ejection_force", by_share)


def _stroke_force(dies: Register, parts: list[Floats]) -> tuple[Floats, Floats]:
    """Return the force of the stroke, NaN where a part of it is not known; and the least that it must be.

    A stated force below its parts counts only where the register says so, and never below the largest part.
    """
    stated = dies.number("stroke_force")
    together = np.sum(parts, axis=0)
    least = np.sum([np.nan_to_num(part) for part in parts], axis=0)
    largest = np.fmax.reduce([np.nan_to_num(part) for part in parts])
    words = [word.strip().casefold() for word in dies.text("force_basis")]
    for word in dict.fromkeys(words):
        if word not in ("", "stated", "parts"):
            dies.note(f'force basis "{word}"', "", "is neither stated nor parts; the larger force counts")
    stands, by_parts = (np.array([word == one for word in words], dtype=bool) for one in ("stated", "parts"))
    below = stated < least * (1 - 1e-9)
    note_each(
        dies,
        below & ~stands & ~by_parts,
        "the force of the stroke is stated as {stated}, its parts come to {least}: the larger one counts; where"
        ' the parts do not act together, write "stated" under force basis',
        stated=stated,
        least=least,
    )
    note_each(
        dies,
        below & stands & (stated < largest * (1 - 1e-9)),
        "the force of the stroke is stated as {stated}, one part alone as {largest}: the larger one counts",
        stated=stated,
        largest=largest,
    )
    believed = np.maximum(stated, np.where(stands, largest, np.where(below, together, least)))
    force = np.where(np.isnan(stated), given_else(dies, "stroke_force", together), believed)
    return force, np.where(stands & ~np.isnan(stated), believed, np.fmax(least, np.nan_to_num(force)))
