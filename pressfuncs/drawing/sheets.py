"""One die, its one or two drawings: checked, arranged, drawn."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

from ezdxf.document import Drawing as Document

from pressfuncs.batch.refusals import Refused
from pressfuncs.drawing.arrange import Arrangement, arrange
from pressfuncs.drawing.checks import check
from pressfuncs.drawing.die import Die
from pressfuncs.drawing.elevations import front_view, section, side_view
from pressfuncs.drawing.figures import title_rows
from pressfuncs.drawing.paper import A3, A4, A4_UPRIGHT, Sheet, scale_text
from pressfuncs.drawing.pen import Pen
from pressfuncs.drawing.plans import die_plan, upper_plan
from pressfuncs.drawing.sheet import draw_sheet
from pressfuncs.drawing.stack import in_the_press
from pressfuncs.drawing.suitability import Suitability, judge
from pressfuncs.drawing.view import View

Paper = Literal["auto", "A3", "A4"]
Projection = Literal["first", "third"]

CAUTION = (
    "Planning drawing: check every size on the die itself, and force and heights on the machine's plate, before "
    "anything is mounted. Lower the slide for the first time with the energy off, on blocks. Lifting, guarding "
    "and stopping distance follow the local code and a competent, licensed person. Never try a die to find out."
)
PRESS_CAUTION = (
    "The margins leave out hoses, scrap chutes, wear, and clamps on the slide. Set the adjustment from above, "
    "little by little."
)


@dataclass(frozen=True)
class Style:
    """How to draw: units, projection, paper."""

    system: str = "metric"
    projection: Projection = "first"
    paper: Paper = "auto"


@dataclass
class Drawn:
    """One drawing of a die."""

    die: str
    name: str
    """ "die sheet" or "in the press" """
    document: Document
    sheet: Sheet
    scale: float
    system: str
    not_given: list[str]
    """figures that the drawing wanted and the register does not hold"""
    cautions: list[str] = field(default_factory=list)
    verdict: str = ""
    """of all checks, where the die is drawn in its press"""
    without_press: list[str] = field(default_factory=list)
    """why the die is not drawn in its press"""


def draw(die: Die, style: Style) -> list[Drawn]:
    """Draw the die sheet, and the die in its press if the register knows enough of the press.

    Arguments:
        die: a die whose outlines have been read
        style: units, projection, paper

    Raises:
        Contradiction: figures of the die cannot all be right.
        Refused: the die fits no sheet.
    """
    cautions = [caution.shown(style.system) for caution in check(die)]
    of = judge(die, style.system)
    notes = [*(remark.shown(style.system) for remark in die.remarks), *of.notes]
    in_press = replace(die, not_given=[])
    stack = in_the_press(in_press, style.system, of)
    count = 2 if stack.drawn else 1
    sheet = _die_sheet(replace(die, not_given=list(die.not_given)), style, of, cautions + notes, count)
    if not stack.drawn:
        sheet.without_press = stack.lacking
        return [sheet]
    press = _press_sheet(in_press, stack, style, of, notes + die.profile.words(style.system), count)
    press.verdict = of.verdict.shown(style.system)
    return [sheet, press]


def _die_sheet(die: Die, style: Style, of: Suitability, cautions: list[str], count: int) -> Drawn:
    system = style.system
    plans = [die_plan(die, system), upper_plan(die, system)]
    elevations = [front_view(die, system), side_view(die, system, style.projection), section(die, system)]
    if not any(view.drawn for view in plans + elevations):
        raise Refused(f"die {die.id}: no view can be drawn, not given: {', '.join(die.not_given)}")
    rows = [elevations, plans] if style.projection == "first" else [plans, elevations]
    sheets = {"auto": (A4, A3), "A3": (A3,), "A4": (A4,)}[style.paper]
    name = "Die sheet: plans, views, section"
    return _finish(die, style, of, arrange(rows, sheets), name, f"1 of {count}", cautions)


def _press_sheet(die: Die, view: View, style: Style, of: Suitability, notes: list[str], count: int) -> Drawn:
    sheets = {"auto": (A4_UPRIGHT, A3), "A3": (A3,), "A4": (A4_UPRIGHT,)}[style.paper]
    name = "Closed height in the press"
    return _finish(die, style, of, arrange([[view]], sheets), name, f"2 of {count}", notes)


def _finish(
    die: Die, style: Style, of: Suitability, arranged: Arrangement, name: str, number: str, cautions: list[str]
) -> Drawn:
    """Draw views and sheet."""
    pen = Pen(arranged.sheet, arranged.scale, style.system)
    for placed in arranged.views:
        pen.view(placed)
    in_press = number.startswith("2")
    scale = scale_text(arranged.scale)
    rows = title_rows(die, of, style.system, name, f"{arranged.sheet.name}, {number}", scale)
    notes = [CAUTION] + ([PRESS_CAUTION] if in_press else [])
    notes += [f"Note: {caution}." for caution in cautions]
    if die.not_given:
        notes.append(f"Not given: {', '.join(die.not_given)}.")
    draw_sheet(pen, rows, notes, style.projection)
    kind = "in the press" if in_press else "die sheet"
    return Drawn(
        die.id, kind, pen.document, arranged.sheet, arranged.scale, style.system, list(die.not_given), cautions
    )
