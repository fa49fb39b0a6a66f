"""Registers as real ones are: other orders, titles, units in cells, bad rows, blanks, files of every kind."""

from __future__ import annotations

import datetime
import math
import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import numpy as np
import openpyxl
import pytest
import registers_made as made
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.table import Table

from pressfuncs import units
from pressfuncs.batch.assignment import fields, sources
from pressfuncs.batch.assignment.notation import Notation, reading
from pressfuncs.batch.assignment.registers import Register, read_register
from pressfuncs.batch.refusals import Refused
from pressfuncs.templates import template_path

HEADINGS = ["Die", "t [mm]", "Cut length [mm]", "Shut height [mm]"]
GOOD = ["D1", 2.0, 300.0, 250.0]


def read(path: Path, kind: str = "die", **options: str) -> Register:
    return read_register(path, kind, **options)


def csv_of(tmp_path: Path, *rows: list[object], **options: str) -> Register:
    return read(made.write_csv(tmp_path / "dies.csv", rows, **options))


def xlsx_of(tmp_path: Path, *rows: list[object], above: int = 0) -> Register:
    return read(made.write_xlsx(tmp_path / "dies.xlsx", rows, above=above))


def sentences(register: Register) -> list[str]:
    return [f"{trouble.place} {trouble.name}: {trouble.sentence}" for trouble in register.troubles]


def same(first: Register, second: Register) -> bool:
    return (
        first.ids == second.ids
        and first.texts == second.texts
        and first.numbers.keys() == second.numbers.keys()
        and all(
            np.allclose(first.numbers[n], second.numbers[n], rtol=1e-12, equal_nan=True) for n in first.numbers
        )
    )


# Cells


@pytest.mark.parametrize(
    ("cell", "thickness"),
    [
        (2.0, 2.0),
        ("0.125 in", 3.175),
        ("1/8 in", 3.175),
        ("2.5 mm", 2.5),
        ("60 thou", 1.524),
        ("2", 2.0),
        ("2.50", 2.5),
        ("0.125", 0.125),
        ("1e1", 10.0),
    ],
)
def test_a_figure_is_read_with_the_unit_of_the_cell_or_the_heading(tmp_path, cell, thickness):
    register = csv_of(tmp_path, HEADINGS, ["D1", cell, 300.0, 250.0])
    assert register.troubles == []
    assert register.numbers["thickness"] == pytest.approx([thickness])


@pytest.mark.parametrize("cell", [None, "", "  ", "-", "--", "\N{EN DASH}", "\N{EM DASH}", "n/a", "N/A"])
def test_a_blank_or_a_dash_is_not_given(tmp_path, cell):
    for register in (
        csv_of(tmp_path, HEADINGS, ["D1", cell, 300.0, 250.0]),
        xlsx_of(tmp_path, HEADINGS, ["D1", cell, 300.0, 250.0]),
    ):
        assert register.ids == ["D1"]
        assert register.troubles == []
        assert np.isnan(register.number("thickness")).all()


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("2,5", 't [mm] is "2,5", no number with a decimal point'),
        ("12 tons", 'unit "tons" is not known, a length is wanted'),
        ("5 kg", "kg is a mass, a length is wanted"),
        ("about 2", "not a number"),
        ("?", "not a number"),
        ("tbd", "not a number"),
        ("14 ga", 'unit "ga" is not known'),
        (-2.0, "must be greater than 0, got -2 mm"),
        (0.0, "must be greater than 0, got 0 mm"),
        ("nan", "not a number"),
        ("inf", "not a number"),
        ("1e999", "is not a finite number"),
        ("1_000", 'unit "_000" is not known'),
        ("\u0662", "not a number"),
    ],
)
def test_a_bad_cell_sets_its_row_aside_and_no_other(tmp_path, cell, words):
    register = csv_of(tmp_path, HEADINGS, GOOD, ["D2", cell, 300.0, 250.0], ["D3", *GOOD[1:]])
    assert register.ids == ["D1", "D3"]
    assert register.rows == [2, 4]
    (sentence,) = sentences(register)
    assert sentence.startswith("row 3 D2: ")
    assert words in sentence


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        (True, "t [mm] is the truth value TRUE"),
        (datetime.datetime(2024, 5, 6), "t [mm] is the date or time 2024-05-06"),
        (datetime.time(1, 30), "t [mm] is the date or time"),
        ("#N/A", "t [mm] is the error #N/A"),
        ("#DIV/0!", "t [mm] is the error #DIV/0!"),
        ("2.5.2024", "not a number"),
    ],
)
def test_cells_of_a_workbook_that_are_no_numbers_set_their_row_aside(tmp_path, cell, words):
    register = xlsx_of(tmp_path, HEADINGS, GOOD, ["D2", cell, 300.0, 250.0])
    assert register.ids == ["D1"]
    assert words in sentences(register)[0]


@pytest.mark.parametrize("value", [0.0, 1.5, -1.0])
def test_cylinders_are_whole(tmp_path, value):
    path = made.write_csv(
        tmp_path / "p.csv", [["Press", "Bore", "Cylinders"], ["A", 100.0, value], ["B", 100.0, 2.0]]
    )
    register = read(path, "press")
    assert register.ids == ["B"]
    assert "Cylinders must be a whole number, 1 or more" in sentences(register)[0]


def test_shares_are_at_most_one(tmp_path):
    rows = [["D1", 2.0, 1.2], ["D2", 2.0, 1.0], ["D3", 2.0, "80 %"], ["D4", 2.0, 0.0]]
    register = csv_of(tmp_path, ["Die", "t", "Efficiency"], *rows)
    assert register.ids == ["D2", "D3"]
    assert register.numbers["efficiency"] == pytest.approx([1.0, 0.8])
    assert "85 % is 0.85" in sentences(register)[0]


def test_percents_under_a_heading_of_percents(tmp_path):
    register = csv_of(tmp_path, ["Die", "t", "Stripping [%]"], ["D1", 2.0, 10.0], ["D2", 2.0, 0.5])
    assert register.numbers["stripping_share"] == pytest.approx([0.1, 0.005])


def test_shares_under_a_heading_of_percents_are_not_taken_for_tiny_percents(tmp_path):
    """0.1 shown as 10 % by its format is a share: read as 0.1 %, stripping would all but vanish."""
    register = csv_of(tmp_path, ["Die", "t", "Stripping [%]"], ["D1", 2.0, 0.1], ["D2", 2.0, 0.2])
    assert "stripping_share" not in register.numbers
    assert "no figure is above 1" in sentences(register)[0]
    assert register.carried["Stripping [%]"] == ["0.1", "0.2"]


# Ids


def test_ids_that_are_numbers_keep_their_digits(tmp_path):
    written = csv_of(tmp_path, HEADINGS, ["007", *GOOD[1:]], ["7", *GOOD[1:]], ["7.0", *GOOD[1:]])
    assert written.ids == ["007", "7", "7.0"]
    stored = xlsx_of(tmp_path, HEADINGS, [7, *GOOD[1:]], [4711.5, *GOOD[1:]], ["007", *GOOD[1:]])
    assert stored.ids == ["7", "4711.5", "007"]


def test_a_row_without_an_id_and_a_second_one_of_an_id_are_set_aside(tmp_path):
    register = csv_of(tmp_path, HEADINGS, GOOD, ["", *GOOD[1:]], GOOD, ["D2", *GOOD[1:]])
    assert register.ids == ["D1", "D2"]
    assert sentences(register) == ["row 3 : has no die id", 'row 4 D1: has the id "D1" of row 2 again']


def test_an_id_that_is_an_error_or_a_date_is_no_id(tmp_path):
    register = xlsx_of(tmp_path, HEADINGS, ["#REF!", *GOOD[1:]], [datetime.date(2024, 1, 2), *GOOD[1:]], GOOD)
    assert register.ids == ["D1"]
    assert [trouble.sentence for trouble in register.troubles] == [
        "Die is the error #REF!",
        "Die is the date or time 2024-01-02 00:00:00, a text is wanted",
    ]


def test_an_error_in_the_name_of_the_part_is_no_reason_to_leave_the_die_out(tmp_path):
    register = xlsx_of(
        tmp_path, [*HEADINGS, "Part", "Material"], [*GOOD, "#N/A", "DC01"], ["D2", *GOOD[1:], "x", "#N/A"]
    )
    assert register.ids == ["D1"]
    assert register.texts["part"] == [""]


# Columns


@given(st.permutations(range(len(made.DIE))))
def test_the_order_of_columns_does_not_matter(tmp_path_factory, order):
    folder = tmp_path_factory.mktemp("order")
    cells = made.table("die", [made.DIE])
    turned = [[row[i] for i in order] for row in cells]
    assert same(csv_of(folder, *cells), csv_of(folder, *turned))


def test_unknown_columns_are_carried_through_as_they_are(tmp_path):
    when = datetime.datetime(2024, 5, 6, 7, 8)
    headings = [*HEADINGS, "Drawing", "Drawing", None, "Ground on", "Locked"]
    register = xlsx_of(
        tmp_path,
        headings,
        [*GOOD, "Z-1", "  two ", 3.25, when, True],
        ["D2", *GOOD[1:], "#N/A", None, "x", None, None],
    )
    assert list(register.carried) == ["Drawing", "Drawing (F)", "column G", "Ground on", "Locked"]
    first, second = zip(*register.carried.values())
    assert first == ("Z-1", "  two ", 3.25, when, True)
    assert second[1:] == (None, "x", None, None)
    assert second[0].code == "#N/A"


def test_texts_of_a_csv_file_are_carried_digit_for_digit(tmp_path):
    cells = ["0012.50", "1e3", "+5", "1,234", "=A1", "00"]
    rows = [[f"D{i}", *GOOD[1:], cell] for i, cell in enumerate(cells)]
    assert csv_of(tmp_path, [*HEADINGS, "Article"], *rows).carried["Article"] == cells


def test_a_column_with_a_wrong_unit_is_not_used_and_said(tmp_path):
    register = csv_of(tmp_path, [*HEADINGS, "Force [tons]"], [*GOOD, 30.0])
    assert "stroke_force" not in register.numbers
    assert "tonf_us" in sentences(register)[0]
    assert sentences(register)[0].endswith("the column is not used")
    assert register.carried["Force [tons]"] == ["30.0"]


def test_two_columns_of_one_meaning_that_agree_are_one(tmp_path):
    register = csv_of(
        tmp_path,
        [*HEADINGS, "Closed height [in]"],
        [*GOOD, 9.84],
        ["D2", 2.0, 300.0, None, 10.0],
        ["D3", 2.0, 300.0, 260.0, None],
    )
    assert register.troubles == []
    assert register.numbers["die_height"] == pytest.approx([250, 254, 260])
    assert register.carried == {}


@pytest.mark.parametrize(
    ("kind", "headings", "row", "words"),
    [
        (
            "die",
            ["Die", "force kN", "total force kN"],
            ["D1", 310, 900],
            '"force kN" is 310 and "total force kN" is 900',
        ),
        (
            "press",
            ["Press", "rating kN", "rated force kN"],
            ["P1", 600, 400],
            '"rating kN" is 600 and "rated force kN" is 400',
        ),
        (
            "die",
            ["Die", "t", "Shut height", "Closed height (in)"],
            ["D1", 1.0, 250.0, 9.9],
            '"Closed height (in)" is 9.9',
        ),
        (
            "die",
            ["Die", "t", "Material", "Grade"],
            ["D1", 1.0, "DC01", "DC04"],
            '"Material" is DC01 and "Grade" is DC04',
        ),
        ("die", ["Die", "t", "Entry heights", "Group heights"], ["D1", 1.0, "6; 0", "0; 6"], "mean the same"),
    ],
)
def test_a_row_in_which_two_columns_of_one_meaning_differ_is_set_aside(tmp_path, kind, headings, row, words):
    """Issue: force kN 310, total force kN 900; the first was used."""
    good = [f"{row[0]}b", *(None for _ in row[1:])]
    register = read(made.write_csv(tmp_path / "r.csv", [headings, row, good]), kind)
    assert register.ids == [good[0]]
    (sentence,) = sentences(register)
    assert sentence.startswith(f"row 2 {row[0]}: ")
    assert words in sentence


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Bending force kN", "Drawing force kN"),
        ("Blank holder force kN", "Cushion force kN"),
        ("Niederhalterkraft kN", "Gegenhalterkraft kN"),
        ("Ejection force kN", "Push-through force kN"),
    ],
)
def test_two_forces_that_may_add_up_are_never_taken_for_one(tmp_path, one, other):
    rows = ["D1", 2.0, 50.0, 50.0], ["D2", 2.0, 50.0, 0.0], ["D3", 2.0, None, 40.0], ["D4", 2.0, 50.0, 30.0]
    register = csv_of(tmp_path, ["Die", "t", one, other], *rows)
    assert register.ids == ["D2", "D3"]
    (name,) = {"forming_force", "pad_force", "ejection_force"} & set(register.numbers)
    assert register.numbers[name] == pytest.approx([50e3, 40e3])
    assert all("write their sum in one column" in sentence for sentence in sentences(register))


def test_one_force_in_two_units_is_one(tmp_path):
    register = csv_of(tmp_path, ["Die", "t", "Bending force kN", "Bending force N"], ["D1", 2.0, 50.0, 50000.0])
    assert register.numbers["forming_force"] == pytest.approx([50e3])


def test_cells_that_differ_are_named_by_their_addresses_in_a_sheet(tmp_path):
    register = xlsx_of(tmp_path, [*HEADINGS, "Closed height"], [*GOOD, 999.0], ["D2", *GOOD[1:], 250.0])
    assert register.ids == ["D2"]
    assert '"Shut height [mm]" is 250 (D2) and "Closed height" is 999 (E2)' in sentences(register)[0]


def test_of_two_names_of_a_die_the_first_counts_and_the_other_is_carried(tmp_path):
    register = csv_of(tmp_path, [*HEADINGS, "Tool no"], [*GOOD, "17"])
    assert register.ids == ["D1"]
    assert register.carried["Tool no"] == ["17"]
    assert "the first one is used" in sentences(register)[0]


def test_a_second_column_of_words_is_no_second_opinion(tmp_path):
    """Our template has a column "Closed height" that says "fits"."""
    register = csv_of(tmp_path, [*HEADINGS, "Closed height"], [*GOOD, "fits"])
    assert register.ids == ["D1"]
    assert register.numbers["die_height"] == pytest.approx([250])
    assert "holds no figures" in sentences(register)[0]
    assert register.carried["Closed height"] == ["fits"]


def test_kind_and_type_of_a_press_are_put_together(tmp_path):
    path = made.write_csv(tmp_path / "p.csv", [["Press", "Kind", "Type"], ["P1", "hydraulic", "C-frame"]])
    assert read(path, "press").texts["press_kind"] == ["hydraulic, C-frame"]


# Headings: where they stand


def test_titles_above_the_headings_are_passed_over(tmp_path):
    plain = xlsx_of(tmp_path, HEADINGS, GOOD)
    below = xlsx_of(tmp_path, ["Dies of hall A"], [None, "as of", "May"], [], HEADINGS, GOOD, above=5)
    assert same(plain, below)
    assert below.rows == [10]


def test_a_group_row_above_the_headings_is_no_heading(tmp_path):
    register = csv_of(tmp_path, ["Die", "Sheet", "", "Heights"], HEADINGS, GOOD)
    assert register.numbers["thickness"] == pytest.approx([2])


@pytest.mark.parametrize("row", [["", "in", "in", "mm"], ["-", "[in]", "(in)", "[mm]"], [None, "in", "in", "mm"]])
def test_units_in_a_second_row_of_headings(tmp_path, row):
    register = csv_of(tmp_path, ["Die", "t", "Cut length", "Shut height"], row, GOOD)
    assert register.troubles == []
    assert register.rows == [3]
    assert register.numbers["thickness"] == pytest.approx([50.8])
    assert register.numbers["cut_length"] == pytest.approx([7620])
    assert register.numbers["die_height"] == pytest.approx([250])


def test_a_second_row_of_units_that_says_otherwise_than_the_heading(tmp_path):
    register = csv_of(tmp_path, HEADINGS, ["", "in", "mm", "mm"], GOOD)
    assert "thickness" not in register.numbers
    assert "has the unit mm, the row below it in" in sentences(register)[0]
    assert register.numbers["cut_length"] == pytest.approx([300])


def test_a_second_row_of_units_under_texts_and_at_the_end_of_the_file(tmp_path):
    register = csv_of(tmp_path, ["Die", "Part", "t"], ["-", "pcs", "in"])
    assert (len(register), register.troubles) == (0, [])
    assert csv_of(tmp_path, ["Die", "Part", "t"]).ids == []
    register = csv_of(tmp_path, ["Die", "Part", "t"], ["", "kg", "in"], ["D1", "lid", 0.1])
    assert register.texts["part"] == ["lid"]
    assert register.numbers["thickness"] == pytest.approx([2.54])


def test_an_unclear_unit_in_a_second_row_is_refused_like_one_in_the_heading(tmp_path):
    register = csv_of(tmp_path, ["Die", "t", "Force"], ["", "mm", "tons"], ["D1", 2.0, 30.0])
    assert "stroke_force" not in register.numbers
    assert "tonf_us" in sentences(register)[0]


def test_a_die_with_the_name_of_a_unit_is_a_die(tmp_path):
    assert csv_of(tmp_path, HEADINGS, ["h", "", "", ""], ["N", "mm", "", ""]).ids == ["h"]


def test_blank_rows_and_short_rows_are_no_trouble(tmp_path):
    path = tmp_path / "dies.csv"
    path.write_text("Die,t,Cut length\n\nD1,2\n,,\nD2\nD3,2,300,extra\n", encoding="utf-8")
    register = read(path)
    assert register.ids == ["D1", "D2", "D3"]
    assert register.rows == [3, 5, 6]
    assert register.troubles == []
    assert register.carried == {"column D": [None, None, "extra"]}


# Sheets and tables


def test_the_table_and_sheet_are_found_and_can_be_named(tmp_path):
    book = openpyxl.Workbook()
    notes, other, dies = book.active, book.create_sheet("Old"), book.create_sheet("Dies")
    notes.append(["Die", "Remark"])
    for row in (HEADINGS[:3], ["OLD", 1.0, 10.0]):
        other.append(row)
    for row in ([], ["x"], HEADINGS, GOOD, [], ["not a die"]):
        dies.append(row)
    dies.add_table(Table(displayName="Tools", ref="A3:D4"))
    path = tmp_path / "book.xlsx"
    book.save(path)
    assert read(path).source == "book.xlsx: tools"
    assert read(path).rows == [4]
    assert read(path, sheet="old").ids == ["OLD"]
    assert read(path, sheet="DIES").ids == ["D1", "not a die"]
    with pytest.raises(Refused, match='holds no sheet or table "Presses"'):
        read(path, sheet="Presses")
    with pytest.raises(Refused, match="holds no press register"):
        read(path, "press")


def test_a_stray_cell_far_away_costs_nothing(tmp_path):
    book = openpyxl.Workbook()
    for row in (HEADINGS, GOOD):
        book.active.append(row)
    book.active["XFD1048576"] = "here"
    path = tmp_path / "far.xlsx"
    book.save(path)
    register = read(path)
    assert register.ids == ["D1"]
    assert sentences(register) == ["row 1048576 : has no die id"]
    assert register.carried == {}


def test_a_sheet_too_large_to_be_a_register_is_passed_over(tmp_path, monkeypatch):
    monkeypatch.setattr(sources, "_MOST_CELLS", 8)
    assert xlsx_of(tmp_path, HEADINGS, GOOD).ids == ["D1"]
    with pytest.raises(Refused, match="holds no die register"):
        xlsx_of(tmp_path, HEADINGS, GOOD, ["D2", *GOOD[1:]])


@pytest.mark.parametrize("system", ["", ".inch"])
def test_our_own_templates_are_understood(system):
    path = template_path(f"die_register{system}.xlsx")
    dies, presses = read(path), read(path, "press")
    assert (len(dies), len(presses)) == (40, 8)
    assert {"thickness", "cut_length", "shear_strength", "die_height", "shear_height", "stroke_force"} <= set(
        dies.numbers
    )
    wanted = {"rated_force", "rated_height", "stroke", "bore", "pressure", "shut_height", "bolster", "adjustment"}
    assert wanted <= set(presses.numbers)
    assert dies.troubles == presses.troubles == []
    assert dies.unread == {}
    wanted = {die: kind for die, kind in zip(dies.ids, dies.text("kind_wanted")) if kind}
    assert wanted == {"D-306": "hydraulic", "D-701": "hydraulic"}


@pytest.mark.parametrize("system", ["", ".inch"])
def test_the_template_of_presses_is_understood(system):
    presses = read(template_path(f"press_register{system}.xlsx"), "press")
    assert len(presses) == 8
    assert {"rated_force", "stroke", "rod", "bore", "shut_height", "hourly_rate"} <= set(presses.headings)
    assert presses.troubles == []
    assert presses.unread == {}


def test_sentences_are_in_the_units_asked_for(tmp_path):
    path = made.write_csv(tmp_path / "d.csv", [HEADINGS, ["D1", -25.4, 300.0, 250.0]])
    assert "must be greater than 0, got -1 in" in sentences(read(path, system="inch"))[0]
    assert "must be greater than 0, got -25.4 mm" in sentences(read(path))[0]


def test_both_templates_hold_the_same_dies():
    metric, inch = (read(template_path(name)) for name in ("die_register.xlsx", "die_register.inch.xlsx"))
    assert metric.ids == inch.ids
    assert metric.numbers.keys() == inch.numbers.keys()
    for name in metric.numbers:  # inch figures are written to a few digits
        assert np.allclose(metric.numbers[name], inch.numbers[name], rtol=0.08, atol=0.6, equal_nan=True), name


# Files


def test_every_kind_of_file_gives_the_same_register(tmp_path):
    rows = [made.DIE, made.DIE | {"id": "D2", "thickness": "0.1 in", "mass": None}]
    cells = made.table("die", rows)
    want = csv_of(tmp_path, *cells)
    assert len(want) == 2
    assert same(want, xlsx_of(tmp_path, *cells))
    assert same(want, csv_of(tmp_path, *cells, delimiter=";"))
    assert same(want, csv_of(tmp_path, *cells, delimiter="\t"))
    assert same(want, csv_of(tmp_path, *cells, encoding="utf-8-sig", delimiter=";"))
    crlf = tmp_path / "dies.csv"
    crlf.write_bytes(crlf.read_bytes().replace(b"\r\n", b"\r"))
    assert same(want, read(crlf))


def test_an_ods_file_of_libreoffice(tmp_path):
    office = shutil.which("soffice")
    assert office is not None
    rows = [
        made.DIE,
        made.DIE | {"id": 17, "thickness": "0.1 in", "mass": None},
        made.DIE | {"id": "D3", "mass": "#N/A"},
    ]
    cells = [[], ["", "Dies of hall B"], [], *([None, *row] for row in made.table("die", rows))]
    cells[3] += ["Ground on", "Note", "Note"]
    last = f"Note ({get_column_letter(len(cells[3]))})"
    cells[4] += [datetime.date(2024, 5, 6), "a", "b"]
    cells[5][cells[3].index(made.heading("die", "lift"))] = '=IF(1=1,"",5)'  # no letters: no stored result in ODS
    path = made.write_xlsx(tmp_path / "dies.xlsx", cells)
    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    command = [office, profile, "--headless", "--convert-to", "ods", "--outdir", str(tmp_path), str(path)]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    stored, converted = read(path), read(tmp_path / "dies.ods")
    assert converted.ids == ["D1", "17"]
    assert same(stored, converted)
    assert converted.rows == stored.rows == [5, 6]
    assert list(converted.carried) == list(stored.carried) == ["Ground on", "Note", last]
    assert sentences(converted) == sentences(stored) == ["row 7 D3: die mass [kg] is the error #N/A"]
    assert str(converted.carried["Ground on"][0]).startswith("2024-05-06")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.csv", b"Die;H\x81he\n", "is no text that can be read; save it as CSV UTF-8"),
        ("a.csv", b"\xff\xfeD", "is no text that can be read"),
        ("a.csv", "Die,t\nD1,2\n".encode("utf-16-le"), "it holds zero bytes"),
        ("a.csv", b"", "holds no die register"),
        ("a.csv", b"Die\nD1\n", "holds no die register"),
        ("a.csv", b'Die,t\nD1,"' + b"x" * 200_000 + b'"\n', "cannot be read as CSV"),
        ("a.xlsx", b"Die,t\n", "a.xlsx"),
        ("a.ods", b"Die,t\n", "a.ods: is damaged"),
        ("a.pdf", b"%PDF", "a.pdf"),
    ],
)
def test_a_file_that_is_no_register_is_refused_with_one_sentence(tmp_path, name, content, words):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(Refused, match=re.escape(words)) as refused:
        read(path)
    assert "\n" not in str(refused.value)


def test_an_ods_file_with_formulas_that_nobody_computed_is_refused(tmp_path):
    cell = '<table:table-cell table:formula="of:=60"/>'
    path = tmp_path / "dies.ods"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", f"<office:document-content>{cell}</office:document-content>")
    with pytest.raises(Refused, match="holds formulas without a stored result; open it in the application"):
        read(path)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    for name in ("gone.csv", "gone.xlsx", "gone.ods"):
        with pytest.raises(Refused):
            read(tmp_path / name)


# CSV: delimiters and decimal commas


def test_decimal_commas_in_a_file_separated_by_semicolons(tmp_path):
    path = tmp_path / "dies.csv"
    path.write_text(
        "Werkzeuge; Halle 3\nDie;Thickness, mm;Cut length, mm;Part\nD1;2,5;1,234;a, b, c\nD2;0,8;300;d, e\n",
        encoding="utf-8",
    )
    register = read(path)
    assert register.troubles == []
    assert register.numbers["thickness"] == pytest.approx([2.5, 0.8])
    assert register.numbers["cut_length"] == pytest.approx([1.234, 300])
    assert register.texts["part"] == ["a, b, c", "d, e"]


@pytest.mark.parametrize("encoding", ["utf-16", "cp1252", "utf-8-sig"])
def test_texts_of_windows_are_read(tmp_path, encoding):
    path = tmp_path / "dies.csv"
    path.write_bytes("Werkzeug;Blechdicke;Einbauhöhe\nD1;2,5;300\n".encode(encoding))
    register = read(path)
    assert register.numbers["thickness"] == pytest.approx([2.5])
    assert register.numbers["die_height"] == pytest.approx([300])


@pytest.mark.parametrize(
    ("rows", "field", "blocked"),
    [
        (["D1;310,5", "D2;1.200"], "stroke_force", "1.200"),
        (["D1;2.5", "D2;1,234"], "stroke_force", "1,234"),
        (["D1;1.200", "D2;300"], "stroke_force", "1.200"),
        (["D1;1,234", "D2;300"], "stroke_force", "1,234"),
        (["D1;310,5", "D2;1.200 kN"], "stroke_force", "1.200 kN"),
    ],
)
def test_a_figure_that_may_be_two_blocks_its_column_until_the_user_says(tmp_path, rows, field, blocked):
    """Issue: 1.200 among 310,5 was read as 1.2 kN and passed."""
    path = tmp_path / "dies.csv"
    path.write_text("\n".join(["Die;Force kN", *rows]) + "\n", encoding="utf-8")
    register = read(path)
    assert register.ids == ["D1", "D2"]
    assert np.isnan(register.number(field)).all()
    assert register.unread[field].all()
    (sentence,) = sentences(register)
    assert f'row {2 if blocked in rows[0] else 3} is "{blocked}", which may be' in sentence
    assert "--decimal comma or --decimal point" in sentence
    point, comma = (
        float(blocked.split()[0].replace(",", "")),
        float(blocked.split()[0].replace(".", "").replace(",", ".")),
    )
    place = 0 if blocked in rows[0] else 1
    if "310,5" not in rows[0]:
        assert read(path, decimal="point").numbers[field][place] == pytest.approx(point * 1000)
    if "2.5" not in rows[0]:
        assert read(path, decimal="comma").numbers[field][place] == pytest.approx(comma * 1000)


def test_a_number_that_cannot_be_with_the_decimals_the_user_says_sets_its_row_aside(tmp_path):
    path = tmp_path / "dies.csv"
    path.write_text("Die;t;Force kN\nD1;2;310,5\nD2;2;1.200\n", encoding="utf-8")
    register = read(path, decimal="point")
    assert register.ids == ["D2"]
    assert '"310,5", no number with a decimal point' in sentences(register)[0]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1.200,5", 1200.5),
        ("1,200.5", 1200.5),
        ("1.234.567", 1234567),
        ("1\u202f234,5", 1234.5),
        ("1'234.5", 1234.5),
    ],
)
def test_marked_thousands_are_read_where_they_are_clear(tmp_path, text, number):
    path = tmp_path / "dies.csv"
    path.write_text(f"Die;Cut length\nD1;{text}\n", encoding="utf-8")
    register = read(path)
    assert register.troubles == []
    assert register.numbers["cut_length"] == pytest.approx([number])


def test_three_decimals_are_plain_in_a_file_with_commas_between_its_cells_or_in_inches(tmp_path):
    assert csv_of(tmp_path, HEADINGS, ["D1", "1.375", 300.0, 250.0]).numbers["thickness"] == pytest.approx([1.375])
    register = xlsx_of(tmp_path, HEADINGS, ["D1", "1.375 in", 300.0, 250.0])
    assert register.numbers["thickness"] == pytest.approx([34.925])


# Numbers that a sheet stores as text


@pytest.mark.parametrize("text", ["310", " 310 ", "310.5", "310,5", "0.125"])
def test_a_number_that_a_sheet_stores_as_text_is_read_and_said_once(tmp_path, text):
    """Issue: the row was set aside with the advice to leave out the quotes."""
    register = xlsx_of(tmp_path, HEADINGS, ["D1", 2.0, text, 250.0], ["D2", 2.0, text, 250.0])
    assert register.troubles == []
    assert register.numbers["cut_length"] == pytest.approx([float(text.replace(",", "."))] * 2)
    assert register.as_text == {"Cut length [mm]": (2, "C2")}


@pytest.mark.parametrize("text", ["1.234", "1,234"])
def test_a_text_in_a_sheet_that_may_be_two_numbers_is_not_known(tmp_path, text):
    register = xlsx_of(tmp_path, HEADINGS, GOOD, ["D2", 2.0, text, 250.0])
    assert register.ids == ["D1", "D2"]
    assert register.unread["cut_length"].tolist() == [False, True]
    assert np.isnan(register.number("cut_length")[1])
    (sentence,) = sentences(register)
    assert f'C3 is "{text}", which may be' in sentence
    assert "type it as a number, not as a text" in sentence
    assert "quotes" not in sentence


# Formulas without a stored result


def formulas(tmp_path: Path, *cells: str) -> Register:
    """Return a register of one die whose last cells are formulas that no application has computed."""
    path = made.write_xlsx(
        tmp_path / "dies.xlsx",
        [
            ["Die", "t [mm]", "Cut length [mm]", "Stripping force [kN]", "Lift"],
            ["D1", 2.0, 300.0, *cells],
            ["D2", 2.0, 300.0, 7.0],
        ],
    )
    return read(path)


@pytest.mark.parametrize(
    ("formula", "number"),
    [("=60", 60e3), ("=B2*30", 60e3), ("=PF_STRIPPING_FORCE(200,0.1)", 20e3)],
)
def test_a_formula_without_a_stored_result_is_computed(tmp_path, formula, number):
    """Issue: it counted as blank, and the die passed without its stripping force."""
    register = formulas(tmp_path, formula)
    assert register.troubles == []
    assert register.numbers["stripping_force"] == pytest.approx([number, 7e3])
    assert register.unread == {}


def test_a_formula_that_cannot_be_computed_is_not_known_and_said(tmp_path):
    register = formulas(tmp_path, "=NOBODYKNOWS(B2)", "=NOBODYKNOWS(B2)")
    assert register.ids == ["D1", "D2"]
    assert register.unread["stripping_force"].tolist() == [True, False]
    assert register.unread["lift"].tolist() == [True, False]
    assert np.isnan(register.number("stripping_force")).tolist() == [True, False]
    assert "no stored result and could not be computed, first D2" in sentences(register)[0]


def test_a_die_whose_name_has_no_result_is_set_aside(tmp_path):
    path = made.write_xlsx(tmp_path / "dies.xlsx", [HEADINGS, GOOD, ["=NOBODYKNOWS(1)", *GOOD[1:]]])
    register = read(path)
    assert register.ids == ["D1"]
    assert "Die is a formula without a stored result" in sentences(register)[0]


# Rows of totals


@pytest.mark.parametrize(
    "name",
    [
        "Total",
        "TOTAL:",
        "Subtotal 3",
        "Sub-total",
        "Total dies",
        "Grand total",
        "Total 5",
        "Sum",
        "Summe",
        "Gesamt",
        "Gesamtsumme",
        "Zwischensumme",
        "Totale",
        "Total général",
        "Sous-total",
        "Suma",
        "Subtotale",
        "Somma",
        "Average",
    ],
)
def test_rows_of_totals_are_set_aside_and_said(tmp_path, name):
    """Issue: "Subtotal 3" and "Total dies" were ranked as dies."""
    register = csv_of(tmp_path, HEADINGS, GOOD, [name, *GOOD[1:]], ["D2", *GOOD[1:]])
    assert register.ids == ["D1", "D2"]
    assert sentences(register) == [f'row 3 {name}: is a row of totals, "{name}", and no die']


def test_a_total_may_stand_before_the_column_of_names(tmp_path):
    headings = ["Hall", *HEADINGS]
    register = csv_of(
        tmp_path, headings, ["A", *GOOD], ["Total", "2", None, 600.0, None], ["Summe Halle A", None, None, 1.0]
    )
    assert register.ids == ["D1"]
    assert [s for s in sentences(register) if "totals" in s] == sentences(register)


@pytest.mark.parametrize("name", ["SUM-12", "Totalkopf 3", "Summer lid", "T5", "Mediator"])
def test_a_die_with_a_name_like_a_total_is_a_die(tmp_path, name):
    assert csv_of(tmp_path, HEADINGS, [name, *GOOD[1:]]).ids == [name]


def test_a_part_that_is_called_total_is_no_total(tmp_path):
    register = csv_of(tmp_path, ["Part", *HEADINGS], ["Total cover plate", *GOOD])
    assert register.ids == ["D1"]


# Columns that cannot be used


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("stripping force (t)", "stripping_force"),
        ("stripping force tons", "stripping_force"),
        ("pad force t", "pad_force"),
        ("stripping share %", "stripping_share"),
        ("Relief", "shear_height"),
        ("Stagger mm", "shear_height"),
        ("lift (kg)", "lift"),
        ("stroke needed t", "stroke_needed"),
        ("punch entry kN", "punch_entry"),
        ("shank diameter kg", "shank_diameter"),
    ],
)
def test_a_column_that_cannot_be_used_leaves_its_field_unread_for_every_row(tmp_path, heading, field):
    """Issue: a refused column counted as "there is none", and the die passed."""
    register = csv_of(tmp_path, [*HEADINGS, heading], [*GOOD, 0.2], ["D2", *GOOD[1:], None])
    assert register.unread[field].tolist() == [True, True]
    assert np.isnan(register.number(field)).all()
    assert "the column is not used" in sentences(register)[0]
    assert heading in register.carried


@pytest.mark.parametrize("heading", ["clamping length kg", "overhang kg", "min rate kN"])
def test_a_column_of_presses_that_cannot_be_used_has_no_default(tmp_path, heading):
    path = made.write_csv(tmp_path / "p.csv", [["Press", "Stroke", heading], ["P1", 100.0, 5.0]])
    register = read(path, "press")
    (name,) = register.unread
    assert np.isnan(register.number(name)).all()


def test_a_column_that_can_be_used_stands_for_one_that_cannot(tmp_path):
    register = csv_of(
        tmp_path, [*HEADINGS, "Force [tons]", "Force [kN]"], [*GOOD, 30.0, 270.0], ["D2", *GOOD[1:], 30.0, None]
    )
    assert register.number("stroke_force") == pytest.approx([270e3, np.nan], nan_ok=True)
    assert register.unread["stroke_force"].tolist() == [False, True]


@pytest.mark.parametrize(
    ("heading", "near", "fields_open"),
    [
        ("striping force kN", "stripping force", {"pad_force", "stripping_force"}),
        ("Federkraft kN", "", {"pad_force"}),
        ("spring tonnage t", "", {"pad_force"}),
    ],
)
def test_a_force_that_is_not_understood_leaves_the_stroke_open(tmp_path, heading, near, fields_open):
    """Issue: such columns were carried through without a word."""
    register = csv_of(tmp_path, [*HEADINGS, heading], [*GOOD, 12.0], ["D2", *GOOD[1:], None])
    assert set(register.unread) == fields_open
    assert register.unread["pad_force"].tolist() == [True, False]
    (sentence,) = sentences(register)
    assert "is a force that is not understood" in sentence
    assert "--fields" in sentence
    assert near in sentence


def test_a_force_in_the_cells_of_a_column_that_is_not_known_is_seen(tmp_path):
    register = csv_of(tmp_path, [*HEADINGS, "Springs"], [*GOOD, "4 x 3 kN"])
    assert register.unread["pad_force"].all()


@pytest.mark.parametrize(
    "heading", ["Capacity, kN", "Square edges kN", "Force margin (t)", "Nennkraft kN", "Verdict"]
)
def test_a_force_that_is_known_to_be_no_part_of_the_stroke_is_no_trouble(tmp_path, heading):
    cell = "force short by 3 kN" if heading == "Verdict" else 12.0
    register = csv_of(tmp_path, [*HEADINGS, heading], [*GOOD, cell])
    assert (register.troubles, register.unread) == ([], {})
    assert heading in register.carried


def test_a_shop_says_what_a_column_is_or_that_it_is_not_used(tmp_path):
    path = made.write_csv(tmp_path / "d.csv", [[*HEADINGS, "Federkraft kN", "Relief"], [*GOOD, 12.0, 3.0]])
    names = tmp_path / "map.toml"
    names.write_text('[die]\n"Federkraft" = "pad_force"\n"Relief" = ""\n', encoding="utf-8")
    own = fields.read_own_headings(names)["die"]
    register = read_register(path, "die", own=own)
    assert register.numbers["pad_force"] == pytest.approx([12e3])
    assert (register.troubles, register.unread) == ([], {})
    names.write_text('[die]\n"Federkraft kN" = ""\n"relief" = "shear_height"\n', encoding="utf-8")
    register = read_register(path, "die", own=fields.read_own_headings(names)["die"])
    assert (register.troubles, register.unread) == ([], {})
    assert register.carried["Federkraft kN"] == ["12.0"]
    assert register.unknown == {}


def test_a_misspelt_heading_leaves_its_field_open_unless_another_column_gives_it(tmp_path):
    register = csv_of(tmp_path, [*HEADINGS, "Part hight mm", "Shut hieght mm"], [*GOOD, 5.0, 300.0])
    assert set(register.unread) == {"part_height"}
    assert 'nearest is "part height"' in sentences(register)[0]
    assert register.unknown == {"Shut hieght mm": "shut height"}


# Several figures in a cell


@pytest.mark.parametrize("cell", ["500; 400", "500 | 400", "500\n400", "50 cm; 400 mm", "500,0; 400,0"])
def test_several_figures_in_a_cell(tmp_path, cell):
    register = xlsx_of(
        tmp_path, ["Die", "t", "Group cut lengths"], ["D1", 2.0, cell], ["D2", 2.0, 300.0], ["D3", 2.0, None]
    )
    assert register.troubles == []
    assert register.series["group_cut_lengths"] == [(500.0, 400.0), (300.0,), ()]


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("500;", "blank between its semicolons"),
        ("500, 400", "not a number"),
        ("500; -1", "must be greater than 0"),
    ],
)
def test_several_figures_that_cannot_be_read_set_the_row_aside(tmp_path, cell, words):
    register = csv_of(tmp_path, ["Die", "t", "Group cut lengths"], ["D1", 2.0, cell], ["D2", 2.0, "1; 2"])
    assert register.ids == ["D2"]
    assert words in sentences(register)[0]


# Headings in two rows


def test_headings_in_two_rows_are_read_together(tmp_path):
    """A group that spans several columns says whose the figures below are."""
    register = csv_of(
        tmp_path,
        ["Die", "Sheet", "", "Die", "", "Press", ""],
        ["no", "mat.", "thk mm", "length", "width", "no", "shut height"],
        ["D1", "DC01", 2.0, 400.0, 300.0, "P7", 330.0],
    )
    assert register.ids == ["D1"]
    assert register.numbers["thickness"] == pytest.approx([2])
    assert register.numbers["die_length"] == pytest.approx([400])
    assert register.numbers["die_width"] == pytest.approx([300])
    assert "die_height" not in register.numbers
    assert register.unread["die_height"].all()
    assert any('stands under "Press"' in sentence for sentence in sentences(register))


def test_merged_headings_of_a_sheet_end_where_they_end(tmp_path):
    book = openpyxl.Workbook()
    page = book.active
    for row in (
        ["Press", "Cushion", None, "Stroke mm", "Slide", None, "SPM", None],
        [None, "force kN", "stroke mm", None, "length mm", "width mm", "min", "max"],
        ["P1", 100.0, 50.0, 120.0, 600.0, 400.0, 40.0, 90.0],
    ):
        page.append(row)
    for area in ("A1:A2", "B1:C1", "D1:D2", "E1:F1", "G1:H1"):
        page.merge_cells(area)
    path = tmp_path / "presses.xlsx"
    book.save(path)
    register = read(path, "press")
    figures = {name: column.tolist() for name, column in register.numbers.items()}
    assert figures == {
        "stroke": [120.0],
        "slide_length": [600.0],
        "slide_width": [400.0],
        "rate_low": [pytest.approx(40 / 60)],
        "rate_high": [pytest.approx(1.5)],
    }
    assert "rated_force" in register.unread


@given(st.floats(-1e9, 1e9).filter(lambda x: x == 0 or abs(x) > 1e-4))
def test_a_number_is_the_same_with_a_decimal_comma(number):
    text = f"{number:.6f}"
    with_comma, with_point = reading(text.replace(".", ",")), reading(text)
    assert with_comma is not None
    assert with_point is not None
    assert with_comma.comma == with_point.point == float(text)


@given(
    st.lists(st.tuples(st.integers(0, 10**7), st.integers(0, 3)), min_size=1, max_size=8),
    st.sampled_from([",.", ".,"]),
    st.booleans(),
)
def test_a_register_written_in_one_way_is_never_read_in_the_other(numbers, marks, grouped):
    """Each figure is the one that was meant, or not known: with thousands marked or not, with 0 to 3 decimals."""
    thousands, decimal = marks
    meant = [digits / 10**decimals for digits, decimals in numbers]
    plain = [f"{n:{',' if grouped else ''}.{decimals}f}" for n, (_, decimals) in zip(meant, numbers)]
    texts = [text.replace(",", "#").replace(".", decimal).replace("#", thousands) for text in plain]
    notation = Notation()
    notation.learn(texts)
    for text, number in zip(texts, meant):
        found = reading(text)
        assert found is not None
        assert notation.value(found) in (None, pytest.approx(number, rel=1e-12))
        said = Notation("point" if decimal == "." else "comma")
        assert said.value(found) == pytest.approx(number, rel=1e-12)


@given(st.text(max_size=12))
def test_any_text_is_a_number_or_none(text):
    found = reading(text)
    assert found is None or found.point is not None or found.comma is not None


@given(
    st.lists(
        st.lists(
            st.one_of(
                st.none(),
                st.floats(allow_nan=False, allow_infinity=False),
                st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12),
                st.sampled_from(["2 mm", "1/8 in", "#N/A", "-", "30 tons", "D1"]),
            ),
            min_size=4,
            max_size=4,
        ),
        max_size=8,
    )
)
def test_whatever_stands_in_the_rows_each_is_an_entry_or_set_aside_with_a_sentence(tmp_path_factory, rows):
    register = csv_of(tmp_path_factory.mktemp("fuzz"), HEADINGS, *rows)
    filled = [row for row in rows if any(cell is not None and str(cell).strip() for cell in row)]
    assert len(register) + len([t for t in register.troubles if t.place.startswith("row")]) == len(filled)
    assert len(set(register.ids)) == len(register.ids)
    for values in register.numbers.values():
        assert all(math.isnan(value) or value > 0 for value in values)


def test_a_unit_of_every_spelling_stands_in_a_heading_and_in_a_cell(tmp_path):
    for unit in units.table()["length"]["factors"]:
        heading = csv_of(tmp_path, ["Die", f"t [{unit}]", "Cut length"], ["D1", 0.5, 300.0])
        cell = csv_of(tmp_path, ["Die", "t", "Cut length"], ["D1", f"0.5 {unit}", 300.0])
        assert same(heading, cell), unit


def test_every_field_with_a_default_says_so_in_its_help_or_is_on_the_safe_side():
    """A blank may only mean something where that is documented."""
    defaults = {
        (register, name): field.default
        for register in fields.REGISTERS
        for name, field in fields.fields(register).items()
        if field.default is not None
    }
    assert defaults == {
        ("die", "edge_allowance"): 0.3,
        ("die", "penetration"): 1.0,
        ("die", "parts_per_stroke"): 1.0,
        ("die", "efficiency"): 0.85,
        ("press", "cylinders"): 1.0,
        ("press", "press_efficiency"): 0.9,
        ("press", "slowdown"): 0.1,
        ("press", "overhang"): 0.0,
    }
