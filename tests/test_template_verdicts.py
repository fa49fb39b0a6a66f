"""The verdicts of the register templates and those of `pressfuncs assign` on the same workbook are the same."""

from __future__ import annotations

import math
import shutil
from collections import Counter
from pathlib import Path

import openpyxl
import pytest
from forms import is_number
from openpyxl.utils import range_boundaries

from pressfuncs import functions
from pressfuncs.batch.assignment.ranking import STATUSES, Assignment, Pair, assign
from pressfuncs.batch.assignment.registers import read_register
from pressfuncs.batch.recalc import recalculate
from pressfuncs.build.templates import file_name
from pressfuncs.build.templates.die_register_results import margin_name
from pressfuncs.functions._checks import CHECKS, NOT_SUITABLE, PARTLY, SUITABLE
from pressfuncs.quantities import SYSTEMS
from pressfuncs.templates import template_path

every_system = pytest.mark.parametrize("system", SYSTEMS)


def rows(path: Path) -> list[dict[str, object]]:
    """Return the dies of a register, by the names of the columns without units."""
    sheet = openpyxl.load_workbook(path, data_only=True)["Dies"]
    c1, r1, c2, r2 = range_boundaries(openpyxl.load_workbook(path)["Dies"].tables["Dies"].ref)
    names = [sheet.cell(r1, column).value.partition(",")[0] for column in range(c1, c2 + 1)]
    return [
        dict(zip(names, (sheet.cell(row, column).value for column in range(c1, c2 + 1))))
        for row in range(r1 + 1, r2 + 1)
    ]


def assigned(dies: Path, presses: Path) -> Assignment:
    found = assign(read_register(dies, "die"), read_register(presses, "press"))
    assert found.dies.troubles == found.presses.troubles == []
    return found


def pairs_of(found: Assignment, path: Path) -> list[tuple[dict[str, object], Pair]]:
    """Return each die of the template beside what assign finds of it on the press that it stands under."""
    dies = rows(path)
    assert [die["Die"] for die in dies] == found.dies.ids
    pairs = []
    for part, arrays in found.pieces():
        for i in range(part.stop - part.start):
            die = dies[part.start + i]
            press = found.presses.ids.index(str(die["Press"]))
            pairs.append((die, found.pair(arrays, part.start, i, press, 0)))
    return pairs


def judge(path: Path, system: str) -> None:
    for die, pair in pairs_of(assigned(path, path), path):
        verdict = str(die["Verdict"])
        assert verdict.partition(":")[0] == pair.status, die["Die"]
        for check, margin in zip(CHECKS, pair.margins):
            shown = die[margin_name(check)]
            if math.isnan(margin):
                assert shown in (None, ""), f"{die['Die']} {check.name}"
            else:
                expected = pytest.approx(margin / check.kind.factor(system), rel=1e-9, abs=1e-9)
                assert shown == expected, f"{die['Die']} {check.name}"
        # assign knows by itself what does not apply, a formula declares it
        assert verdict == pair.verdict(system).replace("does not apply", "declared, not checked"), die["Die"]


@every_system
def test_every_verdict_and_every_margin_of_the_register_is_that_of_an_assignment(system):
    judge(template_path(file_name("die_register", system)), system)


@every_system
def test_most_dies_of_the_example_are_suitable_and_the_others_show_why_not(system):
    dies = rows(template_path(file_name("die_register", system)))
    statuses = Counter(str(die["Verdict"]).partition(":")[0] for die in dies)
    assert statuses == {SUITABLE: 27, NOT_SUITABLE: 10, PARTLY: 3}
    failing = {
        check.name
        for check in CHECKS
        for die in dies
        if is_number(die[margin_name(check)]) and die[margin_name(check)] < 0
    }
    assert {"force", "energy", "closed_height", "adjustment", "bed", "upper_mass", "rate", "kind"} <= failing


@every_system
def test_most_dies_get_a_clear_answer_from_the_two_register_templates(system):
    dies, presses = (template_path(file_name(name, system)) for name in ("die_register", "press_register"))
    found = assigned(dies, presses)
    best = [STATUSES[status] for status in found.status.min(axis=1)]
    assert len(best) == 40
    assert sum(status != PARTLY for status in best) >= 30
    assert best.count(SUITABLE) >= 30
    again = assigned(dies, dies)
    assert (again.status == found.status).all()


INPUTS = (
    *("Thickness", "Cut length", "Penetration", "Edge allowance", "Shear contour", "Stripper", "Stripping"),
    *("Ejection share", "Slugs", "Forming force", "Pad force", "Working height", "Reverse share", "Die height"),
    *(
        "Lower length",
        "Upper length",
        "Punch entry",
        "Part height",
        "Lift",
        "Stroke needed",
        "Load centre",
        "Die weight",
    ),
    *("Upper weight", "Shank diameter", "Kind wanted", "Stroke rate"),
)
MAY_GROW = {("Stroke needed", "stroke"), ("Stroke rate", "energy"), ("Snap through", "snap_through")}
"""A die that asks for less stroke has more left; one that runs as fast as the press gets the whole flywheel; a
press without a limit of its own is taken at a tenth of its capacity."""
OF_PRESS = (
    *(
        "Drive",
        "Frame",
        "Rated force",
        "Stroke",
        "Lowest rate",
        "Highest rate",
        "Load limit",
        "Rated height",
        "Rod",
    ),
    *("Flywheel energy", "Slowdown", "Bore", "Pressure", "Cylinders", "Efficiency", "Shut height", "Adjustment"),
    *("Bolster", "Spacer", "Bed length", "Clamping length", "Slide width", "Overhang", "Shank bore"),
    *("Allowed moment", "Snap through", "Mass limit", "Upper mass limit"),
)


def changed(path: Path, sheet: str, name: str, value: object, die: str = "") -> None:
    """Write a value into a column of the register at `path`, or into the row of one die, and recalculate."""
    book = openpyxl.load_workbook(path)
    column = next(cell.column for cell in book[sheet][6] if str(cell.value).partition(",")[0] == name)
    for row in range(7, book[sheet].max_row + 1):
        if die in ("", book[sheet].cell(row, 1).value):
            book[sheet].cell(row, column).value = value
    book.save(path)
    assert recalculate(path, path).failing == []


@pytest.mark.parametrize(
    ("sheet", "name"), [*(("Dies", name) for name in INPUTS), *(("Presses", name) for name in OF_PRESS)]
)
def test_a_column_of_blanks_lets_no_die_pass_that_an_assignment_does_not_pass(tmp_path, sheet, name):
    path = tmp_path / "register.xlsx"
    shutil.copyfile(template_path("die_register.xlsx"), path)
    before = {die["Die"]: die for die in rows(path)}
    changed(path, sheet, name, None)
    for die, pair in pairs_of(assign(read_register(path, "die"), read_register(path, "press")), path):
        assert not str(die["Verdict"]).startswith(SUITABLE) or pair.status == SUITABLE, die["Die"]
        for check in CHECKS:
            was, now = before[die["Die"]][margin_name(check)], die[margin_name(check)]
            if is_number(was) and is_number(now) and (name, check.name) not in MAY_GROW:
                assert now <= was + 1e-9, f"{die['Die']} {check.name}"


def test_a_die_that_forms_is_judged_where_it_says_that_it_begins_and_nowhere_else(tmp_path):
    """D-402 has room to spare in its press where it cuts; where bends begin is not to be guessed from the cut."""
    path = tmp_path / "register.xlsx"
    shutil.copyfile(template_path("die_register.xlsx"), path)
    changed(path, "Dies", "Forming force", 100, "D-402")
    (die,) = (die for die in rows(path) if die["Die"] == "D-402")
    assert {die[name] for name in ("Force begins at", "Capacity", "Force margin", "Energy margin")} == {None}
    assert "not checked: force at the working height" in die["Verdict"]
    changed(path, "Dies", "Working height", 30, "D-402")
    (die,) = (die for die in rows(path) if die["Die"] == "D-402")
    press = (1600, 6, 130, 700, 30)
    assert die["Capacity"] == pytest.approx(functions.mechanical_capacity(*press))


@pytest.mark.parametrize(
    ("drive", "side"), [("top drive crank", "top"), ("underdrive crank", "under"), ("knuckle or link", "")]
)
def test_each_drive_has_its_own_capacity_above_the_rated_height(tmp_path, drive, side):
    path = tmp_path / "register.xlsx"
    shutil.copyfile(template_path("die_register.xlsx"), path)
    changed(path, "Presses", "Drive", drive, "GF-63")
    die = next(die for die in rows(path) if die["Die"] == "D-206")
    changed(path, "Dies", "Press", "GF-63", "D-206")
    compared = next(die for die in rows(path) if die["Die"] == "D-206")
    assert die["Force begins at"] > 3.2
    expected = functions.mechanical_capacity(630, 3.2, 80, 380, die["Force begins at"], side) if side else None
    assert compared["Capacity"] == (pytest.approx(expected) if side else None)
    judge(path, "metric")


def test_a_die_above_the_top_of_the_stroke_is_not_suitable_and_no_error(tmp_path):
    path = tmp_path / "register.xlsx"
    shutil.copyfile(template_path("die_register.xlsx"), path)
    changed(path, "Dies", "Punch entry", 200, "D-203")
    judge(path, "metric")
    (die,) = (die for die in rows(path) if die["Die"] == "D-203")
    assert die["Verdict"].startswith("not suitable: working height within the stroke short by 122 mm")
