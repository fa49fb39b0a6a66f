"""The cut of each die: square edges, shear ground on an edge, groups of punches that enter one after the other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

import numpy as np

from pressfuncs import functions as pf
from pressfuncs.batch.assignment.figures import first_given, given_else, known, note_each, unread
from pressfuncs.batch.assignment.registers import UNREAD, Floats, Register
from pressfuncs.errors import PressError
from pressfuncs.functions.cutting_shear import ShearContour

_CONTOURS = get_args(ShearContour)
_SIZED = ("rectangle one way", "rectangle roof")
_NOISE = 1e-9
_SIGNS = ("cut_length", "stripping_share", "stripping_force", "ejection_share", "ejection_force", "reverse_share")


@dataclass(frozen=True)
class Cuts:
    """The cut of each die, in N and mm; NaN where it is not known."""

    cuts: Floats
    """1 where the die cuts, 0 where it is known to cut nothing"""
    peak: Floats
    """largest cutting force at one moment"""
    square: Floats
    """cutting force of square edges that all cut at once"""
    above: Floats
    """how much higher the cut begins than square edges of one length would"""
    lowered_unseen: np.ndarray[tuple[int], np.dtype[np.bool_]]
    """a peak is stated that something lowers, or may lower, and the register does not say what"""
    base_unseen: np.ndarray[tuple[int], np.dtype[np.bool_]]
    """only a peak is stated, and it is or may be lowered"""

    @property
    def full(self) -> Floats:
        """The force that stripping and energy go by: that of square edges, as far as it is known."""
        return np.where(self.base_unseen, np.nan, np.fmax(self.peak, self.square))


def cuts_of(dies: Register) -> Cuts:
    """Work out the cut of each die; what contradicts itself is noted and not used."""
    number = dies.number
    strength = given_else(dies, "shear_strength", _shear_strengths(dies))
    cut_length, stated = number("cut_length"), number("cutting_force")
    sharp = known(pf.shearing_force, np.where(cut_length > 0, cut_length, np.nan), number("thickness"), strength)
    square = _worn(dies, sharp)
    group_peak, group_sum, group_height = _groups(dies, square, strength)
    square = first_given(square, group_sum)
    group_peak = np.where(unread(dies, "cut_length"), np.nan, group_peak)
    square = np.where(unread(dies, "cut_length"), np.nan, square)
    grouped = ~np.isnan(group_peak)
    in_groups = ~(group_height == 0)
    sheared = _sheared(dies, square)
    peak = np.where(grouped, group_peak, sheared)
    contradicts = (stated == 0) & ((cut_length > 0) | in_groups)
    note_each(dies, contradicts, "has a cutting force of 0 and a cut length: the cut is not known; correct one")
    peak = np.where(stated > 0, stated, np.where(contradicts | unread(dies, "cutting_force"), np.nan, peak))
    signs = in_groups | np.logical_or.reduce([number(name) > 0 for name in _SIGNS]) | contradicts
    none = ((stated == 0) | (cut_length == 0)) & ~signs & ~(stated > 0)
    none &= ~unread(dies, "cutting_force") & ~unread(dies, "cut_length")
    shear = number("shear_height")
    above = np.where(unread(dies, "shear_height"), np.nan, np.nan_to_num(shear)) + group_height
    lowered = (stated > 0) & ~(stated >= square * (1 - _NOISE)) & np.isnan(shear) & ~grouped
    return Cuts(
        cuts=np.where((peak > 0) | signs, 1.0, np.where(none, 0.0, np.nan)),
        peak=np.where(none, 0.0, peak),
        square=np.where(none, 0.0, square),
        above=above,
        lowered_unseen=lowered,
        base_unseen=(stated > 0) & np.isnan(square) & ~((shear == 0) & ~in_groups),
    )


def _worn(dies: Register, sharp: Floats) -> Floats:
    return known(pf.dull_edge_force, sharp, dies.number("edge_allowance"))


def _sheared(dies: Register, square: Floats) -> Floats:
    """Return the cut lowered by the shear on its edge, where its contour is known; else that of square edges."""
    shear, words = dies.number("shear_height"), dies.text("shear_contour")
    measured = (dies.number("engaged_share") > 0) | unread(dies, "engaged_share")
    contours = [
        _contour(dies, i, word) if word and shear[i] > 0 and not measured[i] else ""
        for i, word in enumerate(words)
    ]
    result = np.where(shear > 0, first_given(square * dies.number("engaged_share"), square), square)
    for contour in set(filter(None, contours)):
        there = np.array([one == contour for one in contours])
        sizes = [dies.number(name) for name in ("sheared_length", "sheared_width")] if contour in _SIZED else []
        figures = (square, dies.number("thickness"), dies.number("penetration"), shear, *sizes)
        found = known(
            lambda force, thickness, penetration, height, *of, contour=contour: pf.relieved_shearing_force(
                force, thickness, penetration, height, contour, *of
            ),
            *(np.where(there, figure, np.nan) for figure in figures),
        )
        result = first_given(found, result)
    return result


def _contour(dies: Register, i: int, words: str) -> str:
    plain = " ".join(words.casefold().replace(",", " ").replace("-", " ").split())
    if plain in _CONTOURS:
        return plain
    if words != UNREAD:
        sentence = f'shear contour "{words}" is not known: the shear lowers nothing; write {", ".join(_CONTOURS)}'
        dies.note(f"row {dies.rows[i]}", dies.ids[i], sentence)
    return ""


def _groups(dies: Register, square: Floats, strength: Floats) -> tuple[Floats, Floats, Floats]:
    """Return peak, sum and greatest entry height of the groups of punches.

    Peak and sum are NaN, and the height is 0, where there are none; the height is NaN where it is not clear.
    """
    peaks, sums, heights = np.full((3, len(dies)), np.nan)
    heights[:] = 0.0
    shear = np.where(unread(dies, "shear_height"), np.nan, np.nan_to_num(dies.number("shear_height")))
    lengths_of, forces_of, heights_of = map(dies.several, ("group_cut_lengths", "group_forces", "group_heights"))
    for i, (lengths, forces, entries) in enumerate(zip(lengths_of, forces_of, heights_of)):
        if not (lengths or forces or entries):
            continue
        heights[i] = max(entries, default=np.nan)
        if np.isnan([*lengths, *forces, *entries]).any():
            heights[i] = np.nan
            continue
        thickness, penetration = float(dies.number("thickness")[i]), float(dies.number("penetration")[i])
        if not forces:
            sharp = np.array([length * thickness * strength[i] for length in lengths])
            forces = tuple(_one_worn(dies, i, sharp))
        whole = sum(forces)
        if np.isnan(whole) or np.isnan(penetration * thickness + shear[i]):
            continue
        problem = _group_problem(dies, i, lengths, len(forces), len(entries), whole, float(square[i]))
        if problem:
            sentence = f"{problem}; the groups are not used, and the whole cut counts at once"
            dies.note(f"row {dies.rows[i]}", dies.ids[i], sentence)
            continue
        try:
            peaks[i] = pf.staggered_peak_force(forces, entries, penetration * thickness + shear[i])
            sums[i] = whole
        except PressError as error:
            dies.note(f"row {dies.rows[i]}", dies.ids[i], error.sentence(dies.system))
            heights[i] = np.nan
    return peaks, sums, heights


def _one_worn(dies: Register, i: int, sharp: Floats) -> list[float]:
    worn: list[float] = (sharp * (1 + dies.number("edge_allowance")[i])).tolist()
    return worn


def _group_problem(
    dies: Register, i: int, lengths: tuple[float, ...], count: int, entries: int, whole: float, square: float
) -> str:
    """Return why groups cannot be used, "" if they can."""
    if count != entries:
        return f"{count} groups are given and {entries} entry heights"
    cut_length = float(dies.number("cut_length")[i])
    if lengths and abs(sum(lengths) - cut_length) > 1e-6 * cut_length:
        return "the cut lengths of the groups do not add up to the cut length"
    if square > whole * (1 + 1e-6):
        return "the forces of the groups together are below the force of the whole cut length"
    return ""


def _shear_strengths(dies: Register) -> Floats:
    """Look up the upper end of the shear strength of each material; note what is missing and wanted."""
    wanted = np.isnan(dies.number("shear_strength")) & ~(dies.number("cut_length") == 0)
    names = [name if want and name != UNREAD else "" for name, want in zip(dies.text("material"), wanted)]
    stated = dict.fromkeys(name for name, force in zip(names, dies.number("cutting_force")) if np.isnan(force))
    found: dict[str, float] = {"": np.nan}
    for name in dict.fromkeys(names):
        if name in found:
            continue
        try:
            found[name] = float(pf.material(name, "shear_strength"))
        except PressError as error:
            found[name] = np.nan
            if name in stated:
                dies.note(f'material "{name}"', "", error.sentence(dies.system))
    return np.array([found[name] for name in names], dtype=float)
