"""The user's own material tables: a range of the workbook, a CSV file, a materials.csv beside the workbook."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from openpyxl import Workbook, load_workbook

from pressfuncs import explain, material, material_source
from pressfuncs.batch.recalc import recalculate
from pressfuncs.cli import main
from pressfuncs.edge import Problem, evaluate
from pressfuncs.errors import CellError, Impossible, NotInTable, WrongChoice, WrongType, WrongUnit
from pressfuncs.registry import find
from pressfuncs.tables import own

MATERIAL = find("material")

ROWS: list[list[Any]] = [
    [
        "Material",
        "Other names",
        "Shear strength, min [MPa]",
        "Shear strength max (MPa)",
        "UTS, ksi",
        "Density g/cm³",
    ],
    ["Demo 12", "D12; D-12 soft", 200.0, 260.0, 60.0, 7.85],
    ["Demo 40", None, None, CellError("#DIV/0!"), "600 N/mm2", True],
    [1.5, None, "soft", -3.0, 0.0, None],
]
"""An invented table, headings as people write them."""


def asked(*arguments: Any) -> tuple[Any, str]:
    """Return the value of the cell and the sentence behind it, if there is one."""
    problems: list[Problem] = []
    found = evaluate(MATERIAL, arguments, problems)
    return found, problems[0].error.sentence("metric") if problems else ""


@pytest.mark.parametrize(
    ("name", "figure", "bound", "expected"),
    [
        ("Demo 12", "shear_strength", "high", 260.0),
        ("demo12", "shear_strength", "low", 200.0),
        ("D-12 Soft", "shear_strength", None, 260.0),
        ("Demo 12", "tensile_strength", "low", 60 * 6.894757293168361),
        ("Demo 12", "density", "high", 7.85),
        ("Demo 40", "tensile_strength", "high", 600.0),
    ],
)
def test_figure_comes_from_the_given_range(name, figure, bound, expected):
    assert asked(name, figure, bound, ROWS) == (pytest.approx(expected, rel=1e-12), "")


def test_given_range_alone_answers_and_ours_does_not_fill_its_gaps():
    assert material("Q235", "shear_strength") == 380.0
    found, sentence = asked("Q235", "shear_strength", "high", ROWS)
    assert found == CellError("#VALUE!")
    assert sentence == 'material "Q235": not in the given table, add a row for it'


@pytest.mark.parametrize(
    ("name", "figure", "bound", "code", "sentence"),
    [
        ("Demo 40", "shear_strength", "low", "#N/A", ", Demo 40: shear strength is blank"),
        ("Demo 40", "density", None, "#VALUE!", ", Demo 40: density is no number"),
        ("1.5", "shear_strength", None, "#VALUE!", ", 1.5: shear strength is -3, more than 0 is wanted"),
        ("1.5", "tensile_strength", None, "#VALUE!", ", 1.5: tensile strength is 0, more than 0 is wanted"),
        ("1.5", "shear_strength", "low", "#VALUE!", ', 1.5: shear strength is "soft", a number above 0 is wanted'),
        ("1.5", "yield_strength", None, "#N/A", ' has no column "Yield strength [MPa]"'),
        ("1.5", "penetration", None, "#N/A", ' has no column "Penetration"'),
    ],
)
def test_gap_or_fault_in_the_range_is_a_sentence(name, figure, bound, code, sentence):
    assert asked(name, figure, bound, ROWS) == (CellError(code), "the given table" + sentence)


TWICE: list[list[Any]] = [
    ["Material", "Other names", "Shear strength [MPa]", "UTS [MPa]", "Density [g/cm3]"],
    ["Demo 12", None, 100.0, "45 ksi", 7.85],
    ["Demo 40", None, 300.0, 400.0, 7.85],
    ["demo-12", None, 900.0, "45 ksi", None],
    ["Demo 41", "Demo 40", 300.0, 500.0, 7.8],
]
"""Rows that name one material twice."""


@pytest.mark.parametrize(
    ("name", "figure", "words"),
    [
        ("Demo 12", "shear_strength", "shear strength is 100 in row 2 and 900 in row 4"),
        ("demo-12", "shear_strength", "shear strength is 100 in row 2 and 900 in row 4"),
        ("Demo 40", "tensile_strength", "tensile strength is 400 in row 3 and 500 in row 5"),
        ("Demo 40", "density", "density is 7.85 in row 3 and 7.8 in row 5"),
    ],
)
def test_two_rows_of_one_material_with_different_figures_are_refused(name, figure, words):
    """Issue: 100 and 900 MPa gave the first, silently, in every host."""
    found, sentence = asked(name, figure, None, TWICE)
    assert found == CellError("#NUM!")
    assert words in sentence
    assert "keep one" in sentence
    with pytest.raises(Impossible):
        own.own_table(tuple(map(tuple, TWICE))).source_of(name, figure)


@pytest.mark.parametrize(
    ("name", "figure", "expected"),
    [
        ("Demo 12", "tensile_strength", 45 * 6.894757293168361),
        ("demo 12", "density", 7.85),
        ("Demo 40", "shear_strength", 300.0),
        ("Demo 41", "tensile_strength", 500.0),
    ],
)
def test_two_rows_of_one_material_that_agree_or_fill_each_other_up_are_fine(name, figure, expected):
    assert asked(name, figure, None, TWICE) == (pytest.approx(expected, rel=1e-12), "")


def test_two_rows_of_one_material_are_refused_in_the_file_beside_a_workbook(tmp_path):
    path = tmp_path / own.FILE_NAME
    path.write_text("name,shear_MPa\nDemo 77,100\nDemo 77,900\n", encoding="utf-8")
    with own.beside(tmp_path / "book.xlsx"), pytest.raises(Impossible, match="100 in row 2 and 900 in row 3"):
        material("Demo 77", "shear_strength")


def test_unknown_name_is_refused_with_the_nearest_of_the_range():
    assert asked("Demo 41", "density", None, ROWS) == (
        CellError("#VALUE!"),
        'material "Demo 41": not in the given table, nearest: Demo 40, Demo 12',
    )


def test_error_in_the_cell_asked_for_is_passed_on_and_one_elsewhere_does_no_harm():
    assert asked("Demo 40", "shear_strength", "high", ROWS)[0] == CellError("#DIV/0!")
    assert asked("Demo 12", "nonsense", "high", ROWS)[0] == CellError("#VALUE!")


@pytest.mark.parametrize(
    ("heading", "value", "figure", "expected"),
    [
        ("shear_MPa", 300.0, "shear_strength", 300.0),
        ("shear_high_MPa", 300.0, "shear_strength", 300.0),
        ("Shear strength MPa", 300.0, "shear_strength", 300.0),
        ("SHEAR STRENGTH, MPa", 300.0, "shear_strength", 300.0),
        ("Maximum shear strength [psi]", 1000.0, "shear_strength", 6.894757293168361),
        ("Yield strength", "300 MPa", "yield_strength", 300.0),
        ("density_g_per_cm3", 7.85, "density", 7.85e-9),
        ("Density [kg/m3]", 7850.0, "density", 7.85e-9),
        ("Density [lb/in³]", 0.2836, "density", 0.2836 * 2.767990471020315e-08),
        ("Penetration", 0.4, "penetration", 0.4),
        ("Penetration [%]", 40.0, "penetration", 0.4),
        ("Penetration", "40 %", "penetration", 0.4),
        ("clearance_share_per_side", 0.06, "clearance_share", 0.06),
        ("Shear to tensile ratio", 0.8, "shear_to_tensile_ratio", 0.8),
    ],
)
def test_headings_are_taken_as_people_write_them(heading, value, figure, expected):
    assert material("x", figure, "high", (("grade", heading), ("X", value))) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("heading", "value", "error", "sentence"),
    [
        ("Shear strength", 300.0, WrongType, "no unit; write it in the heading, Shear strength [MPa]"),
        ("Shear strength [kg]", 300.0, WrongUnit, "the given table, shear strength: kg is a mass, a"),
        ("Shear strength [MPa]", "300 kg", WrongUnit, "the given table, shear strength: kg is a mass, a"),
        ("Shear strength min max [MPa]", 300.0, NotInTable, "has no column"),
        ("Shear strength min [MPa]", 300.0, NotInTable, "only the low end"),
        ("Total clearance", 0.1, NotInTable, "has no column"),
    ],
)
def test_heading_that_is_not_clear_is_refused(heading, value, error, sentence):
    with pytest.raises(error) as refusal:
        material("x", "shear_strength", "high", (("name", heading), ("x", value)))
    assert sentence in str(refusal.value)


@pytest.mark.parametrize("rows", [(), (("a", "b"), ("x", 1.0)), ((None,),)])
def test_range_without_a_heading_for_names_is_refused(rows):
    with pytest.raises(WrongType, match="has no heading name, material or grade in its first row"):
        material("x", "density", "high", rows)


def test_one_cell_or_an_error_in_place_of_the_range():
    assert asked("x", "density", "high", 5.0) == (
        CellError("#VALUE!"),
        "table is one cell, a range with headings in its first row is wanted",
    )
    assert asked("x", "density", "high", CellError("#REF!"))[0] == CellError("#REF!")
    assert asked("Q235", "density", "high", None)[0] == asked("Q235", "density")[0]


def test_names_may_be_a_range_and_the_table_stays_whole():
    assert evaluate(MATERIAL, [[["Demo 12"], ["nix"], ["D12"]], "shear_strength", "high", ROWS]) == [
        [260.0],
        [CellError("#VALUE!")],
        [260.0],
    ]
    names = [["Demo 12"]] * 20
    assert evaluate(MATERIAL, [names, "shear_strength", "high", ROWS, "metric"]) == [[260.0]] * 20


def test_source_is_the_column_of_that_name_or_the_table():
    rows = (("Material", "Density [g/cm3]", "Source"), ("X", 7.8, "certificate 5"), ("Y", 7.8, None))
    assert material_source("X", "density", rows) == "certificate 5 (the given table)"
    assert material_source("y", "density", rows) == "the given table, row Y"
    assert explain("material", "Y", "density", "high", [list(row) for row in rows]) == (
        "the row of the material, the column of the figure, with name Y, figure density, bound high,"
        " table of 3 rows: 7.8 g/cm3\nSource: the given table, row Y"
    )


# A file


def run(*words: str) -> Any:
    return CliRunner().invoke(main, ["compute", "material", *words])


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_command_line_takes_a_csv_file(tmp_path: Path, separator: str):
    path = tmp_path / "own.csv"
    path.write_text(f"\ufeffMaterial{separator}Shear strength [MPa]\nDemo{separator}310.5\n", encoding="utf-8")
    done = run("--name", "demo", "--figure", "shear_strength", "--table", str(path), "--json")
    answer = json.loads(done.stdout)
    assert answer["value"] == 310.5
    assert answer["source"] == "the given table, row Demo"
    assert answer["arguments"]["table"]["value"] == [["Material", "Shear strength [MPa]"], ["Demo", 310.5]]


@pytest.mark.parametrize(("content", "why"), [(b"\xff\xfe\x00", "is not UTF-8 text"), (None, "cannot be read")])
def test_file_that_cannot_be_read_is_one_sentence(tmp_path: Path, content: bytes | None, why: str):
    path = tmp_path / "own.csv"
    if content is not None:
        path.write_bytes(content)
    done = run("--name", "demo", "--figure", "density", "--table", str(path))
    assert done.exit_code == 1
    assert done.stderr.count("\n") == 1
    assert f"own.csv {why}" in done.stderr


# Batch


def write_workbook(path: Path) -> None:
    book = Workbook()
    sheet = book.active
    for row in [
        ["Material", "Shear strength [MPa]", "Density [g/cm3]"],
        ["Demo 12", 260, 7.85],
        ["Demo 40", 400, None],
    ]:
        sheet.append(row)
    sheet["E1"] = '=PF_MATERIAL("Demo 12","shear_strength","high",A1:C3)'
    sheet["E2"] = '=PF_MATERIAL(A2,"shear_strength","high",$A$1:$C$3)'
    sheet["E3"] = '=PF_MATERIAL(A3,"shear_strength","high",$A$1:$C$3)'
    sheet["E4"] = '=PF_MATERIAL("Demo 40","density",,A:C)'
    sheet["E5"] = '=PF_SHEARING_FORCE(100,2,PF_MATERIAL("Demo 40","shear_strength","high",A1:C3))*2'
    sheet["E6"] = '=PF_MATERIAL("House steel","shear_strength")'
    sheet["E7"] = '=PF_MATERIAL("Q235","shear_strength")'
    sheet["E8"] = '=PF_MATERIAL_SOURCE("House steel","shear_strength")'
    book.save(path)


def recalculated(folder: Path) -> list[Any]:
    write_workbook(folder / "book.xlsx")
    outcome = recalculate(folder / "book.xlsx", folder / "done.xlsx")
    assert outcome.complete
    sheet = load_workbook(folder / "done.xlsx", data_only=True).active
    return [cell.value for (cell,) in sheet["E1:E8"]]


def test_recalculation_takes_a_range_whole_and_knows_no_file_elsewhere(tmp_path: Path):
    found = recalculated(tmp_path)
    assert found[:5] == [260, 260, 400, "#N/A", pytest.approx(160)]
    assert found[5:] == ["#VALUE!", 380, "#VALUE!"]


def test_recalculation_takes_what_our_table_lacks_from_the_file_beside(tmp_path: Path):
    (tmp_path / "materials.csv").write_text(
        "name,shear_high_MPa,source\nHouse steel,333,mill sheet 7\nQ235,1,wrong\n", encoding="utf-8"
    )
    found = recalculated(tmp_path)
    assert found[5:] == [333, 380, "mill sheet 7 (materials.csv)"]
    with pytest.raises(WrongChoice):  # only while that workbook is computed
        material("House steel", "shear_strength")


def test_file_beside_with_a_fault_fails_only_the_cells_that_need_it(tmp_path: Path):
    (tmp_path / "materials.csv").write_text("steel,MPa\nHouse steel,333\n", encoding="utf-8")
    assert recalculated(tmp_path)[5:] == ["#VALUE!", 380, "#VALUE!"]


def test_file_is_read_anew_for_each_workbook(tmp_path: Path):
    for strength in (300.0, 310.0):
        (tmp_path / "materials.csv").write_text(f"grade;shear_MPa\nHouse steel;{strength}\n", encoding="utf-8")
        with own.beside(tmp_path / "book.xlsx"):
            assert material("house steel", "shear_strength") == strength
