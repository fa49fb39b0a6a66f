"""Whether the die suits its press: the row of the die as two registers of one entry, judged as `assign` judges.

There is one list of checks and one place that makes them (`batch/assignment`); here the drawing's figures are put
into its columns, and what comes out is put into words.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pressfuncs.batch.assignment.checks import pair_margins
from pressfuncs.batch.assignment.demand import die_demand
from pressfuncs.batch.assignment.fields import fields
from pressfuncs.batch.assignment.kinds import kinds
from pressfuncs.batch.assignment.registers import Register, Trouble
from pressfuncs.batch.assignment.supply import press_supply
from pressfuncs.drawing.die import PRESS_FIGURES, Die
from pressfuncs.drawing.engagement import share_in_the_sheet
from pressfuncs.drawing.figures import length, rounded_down, rounded_up
from pressfuncs.errors import PressError
from pressfuncs.functions._checks import CHECKS, Check, verdict
from pressfuncs.functions.decision import required_capacity
from pressfuncs.quantities import Wording


@dataclass(frozen=True)
class Suitability:
    """How the die and its press stand to each other; figures in core units, None where one is not known."""

    margins: Mapping[str, float | None]
    """by check; None where it was not made"""
    declared: frozenset[str]
    not_applying: frozenset[str]
    cutting: float | None
    """largest cutting force at one moment"""
    worn: float | None
    """share by which worn edges raise it; None where it is stated as it stands"""
    stripping: float | None
    ejection: float | None
    whole: float | None
    """force of the whole stroke"""
    capacity: float | None
    """that the press must have"""
    load_limit: float | None
    limit_of: str
    """where the load limit comes from: the press's own, or its frame"""
    clamps: tuple[float | None, float | None]
    """room for clamps left and right, front and back"""
    notes: tuple[str, ...]
    """figures that contradict each other, or could not be used"""

    @property
    def verdict(self) -> Wording:
        """Return the outcome of all checks in words."""
        return verdict(self.margins, self.declared, self.not_applying)

    def lines(self, system: str) -> list[str]:
        """Return a line for each check, in order."""
        return [f"{check.label}: {self._outcome(check, system)}" for check in CHECKS]

    def _outcome(self, check: Check, system: str) -> str:
        margin = self.margins[check.name]
        if check.name in self.not_applying:
            return "does not apply"
        if margin is None:
            return "declared, not checked" if check.name in self.declared else "not checked"
        if check.name == "kind":
            return "as wanted" if margin >= 0 else "another one is wanted"
        if margin < 0:
            shown = f"short by {rounded_up(-margin, check.kind, system)}"
        else:
            shown = f"margin {rounded_down(margin, check.kind, system)}"
        return f"{shown}{self._clamping(system)}" if check.name == "bed" else shown

    def _clamping(self, system: str) -> str:
        sides, ends = self.clamps
        if sides is None or ends is None:
            return ", room for clamps not given"
        return f" with clamps of {length(sides, system)} / {length(ends, system)}"


def judge(die: Die, system: str) -> Suitability:
    """Make every check of a die in its press that its row tells enough for."""
    dies, presses = _die_register(die, system), _press_register(die, system)
    demand, supply = die_demand(dies), press_supply(presses)
    pairs = pair_margins(demand, supply, die.profile.not_checked)
    applies = pairs.applies[:, 0, 0]
    of_checks = zip(CHECKS, np.where(applies, pairs.margins[:, 0, 0], np.nan))
    whole = _known(demand["stroke_force"])
    limit = _known(supply["load_limit"])
    stated = float(dies.number("cutting_force")[0]) >= 0 or "group_forces" in die.series
    sides, ends = (_known(supply[name]) for name in ("clamping_length", "clamping_width"))
    of = Suitability(
        margins={check.name: _known([margin]) for check, margin in of_checks},
        declared=frozenset(die.profile.not_checked),
        not_applying=frozenset(check.name for check, flag in zip(CHECKS, applies) if not flag),
        cutting=0.0 if demand["cuts"][0] == 0 else _known(demand["cutting_force"]),
        worn=None if stated else _known(dies.number("edge_allowance")),
        stripping=_known(demand["stripping_force"]),
        ejection=_known(demand["ejection_force"]),
        whole=whole,
        capacity=_capacity(whole, limit),
        load_limit=limit,
        limit_of=_limit_of(presses),
        clamps=(sides, ends),
        notes=tuple(map(_note, [*dies.troubles, *presses.troubles])),
    )
    _list_missing(die, dies, of)
    return of


def _list_missing(die: Die, dies: Register, of: Suitability) -> None:
    """List the forces that are not known as not given, with the parts that the whole stroke lacks."""
    forces = {"cutting force": of.cutting, "stripping force": of.stripping, "ejection force": of.ejection}
    if of.whole is None:
        forces["forming force"] = _known(dies.number("forming_force"))
        forces["pad force"] = _known(dies.number("pad_force"))
    for name, force in {**forces, "force of the stroke": of.whole}.items():
        if force is None:
            die.miss(name)


def _known(figures: np.ndarray[tuple[int], np.dtype[np.float64]] | list[float]) -> float | None:
    return None if math.isnan(figures[0]) else float(figures[0])


def _note(trouble: Trouble) -> str:
    """Return what was found, with its place where the sentence needs it: "stripper "loose"", but no row."""
    if trouble.place.startswith("row ") or trouble.sentence.startswith(trouble.place):
        return trouble.sentence
    return f"{trouble.place} {trouble.sentence}"


def _capacity(whole: float | None, limit: float | None) -> float | None:
    try:
        return None if whole is None or limit is None else required_capacity(whole, limit)
    except PressError:  # a die that needs no force
        return None


def _limit_of(presses: Register) -> str:
    if not math.isnan(float(presses.number("load_limit")[0])):
        return "its own"
    frame = kinds(presses, "press_kind", "drive", "frame")[0].frame
    return "frame not given" if frame == "unknown" else frame


def _die_register(die: Die, system: str) -> Register:
    """Return the register of this die alone, with what its heights tell besides."""
    register = _of_one("die", die, {name: name for name in fields("die")}, system)
    if die.stripper:
        register.texts["stripper"] = [die.stripper]
    share = _engaged_share(die, register)
    if share is not None:
        register.numbers["engaged_share"] = np.array([share])
    entry = die.punch_entry
    if entry is not None and "punch_entry" not in die.unread:
        register.numbers["punch_entry"] = np.array([max(entry, 0.0)])
    return register


def _engaged_share(die: Die, register: Register) -> float | None:
    """Return the share of the cut that shear leaves in the sheet, by the outline of the punch; None: not known."""
    direction = die.given("shear_direction")
    if direction is None or die.given("engaged_share") is not None:
        return None
    names = ("shear_height", "thickness", "penetration", "cut_length")
    relief, thickness, penetration, cut_length = (float(register.number(name)[0]) for name in names)
    punch = die.outline("punch")
    if punch is None or not (relief > 0 and thickness * penetration > 0 and cut_length > 0):
        return None
    return share_in_the_sheet(punch, relief, thickness * penetration, direction, cut_length)


def _press_register(die: Die, system: str) -> Register:
    """Return the register of its press alone; spacers that stand under the die take height as the bolster does."""
    register = _of_one("press", die, PRESS_FIGURES, system)
    if "spacer" in die.unread:
        register.unread |= {name: np.array([True]) for name in ("bolster", "most_spacer")}
    elif "spacer" in die.numbers:
        register.numbers["bolster"] = register.number("bolster") + die.numbers["spacer"]
        register.numbers["most_spacer"] = np.array([0.0])
        register.unread.pop("most_spacer", None)
    return register


def _of_one(kind: str, die: Die, columns: Mapping[str, str], system: str) -> Register:
    """Return a register of one entry from what a die's row says under `columns`: name there -> field."""
    blanks = die.profile.blanks.get(kind, {})
    register = Register(kind, die.source, [die.id], [1], blanks=dict(blanks), system=system)
    for name, column in columns.items():
        if name in die.unread:
            register.unread[column] = np.array([True])
        elif name in die.numbers:
            register.numbers[column] = np.array([die.numbers[name]])
        elif name in die.series:
            register.series[column] = [die.series[name]]
        elif name in die.texts:
            register.texts[column] = [die.texts[name]]
    return register
