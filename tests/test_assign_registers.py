"""Registers as real ones are: other orders, titles, units in cells, bad rows, blanks, files of every kind."""

from __future__ import annotations

import datetime
import math
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import openpyxl
import pytest
import registers_made as made
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.worksheet.table import Table

from pressfuncs import units
from pressfuncs.batch.assignment import fields, sources
from pressfuncs.batch.assignment.registers import Register, read_register
from pressfuncs.batch.assignment.sources import plain_number
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
        ("2,5", 'is the text "2,5", not a number'),
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
        ("2.5", "type the number without quotes"),
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


def test_of_two_columns_of_one_field_the_first_counts_and_the_other_is_carried(tmp_path):
    register = csv_of(tmp_path, [*HEADINGS, "Closed height"], [*GOOD, 999.0])
    assert register.numbers["die_height"] == pytest.approx([250])
    assert 'column "Closed height" : means the same as "Shut height [mm]"' in sentences(register)[0]
    assert register.carried["Closed height"] == ["999.0"]


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
    assert {"thickness", "cut_length", "shear_strength", "die_height", "relief", "stroke_force"} <= set(
        dies.numbers
    )
    wanted = {"rated_force", "rated_height", "stroke", "bore", "pressure", "shut_height", "bolster", "adjustment"}
    assert wanted <= set(presses.numbers)
    assert [trouble.place for trouble in dies.troubles] == ['column "Closed height"']
    assert presses.troubles == []
    assert dies.text("kind_wanted") == [""] * 40  # "Press kind" is that of the press it stands in now


@pytest.mark.parametrize("system", ["", ".inch"])
def test_the_template_of_presses_is_understood(system):
    presses = read(template_path(f"press_register{system}.xlsx"), "press")
    assert len(presses) == 8
    for name in fields.fields("press"):
        if name not in ("die_space", "clamping_length", "clamping_width"):
            assert name in presses.headings, name
    assert presses.troubles == []


def test_sentences_are_in_the_units_asked_for(tmp_path):
    path = made.write_csv(tmp_path / "d.csv", [HEADINGS, ["D1", -25.4, 300.0, 250.0]])
    assert "must be greater than 0, got -1 in" in sentences(read(path, system="inch"))[0]
    assert "must be greater than 0, got -25.4 mm" in sentences(read(path))[0]


def test_both_templates_hold_the_same_dies():
    metric, inch = (read(template_path(name)) for name in ("die_register.xlsx", "die_register.inch.xlsx"))
    assert metric.ids == inch.ids
    assert metric.numbers.keys() == inch.numbers.keys()
    for name in metric.numbers:  # inch figures are written to a few digits
        assert np.allclose(metric.numbers[name], inch.numbers[name], rtol=0.03, atol=0.15, equal_nan=True), name


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
    cells[4] += [datetime.date(2024, 5, 6), "a", "b"]
    path = made.write_xlsx(tmp_path / "dies.xlsx", cells)
    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    command = [office, profile, "--headless", "--convert-to", "ods", "--outdir", str(tmp_path), str(path)]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    stored, converted = read(path), read(tmp_path / "dies.ods")
    assert converted.ids == ["D1", "17"]
    assert same(stored, converted)
    assert converted.rows == stored.rows == [5, 6]
    assert list(converted.carried) == list(stored.carried) == ["Ground on", "Note", "Note (AA)"]
    assert sentences(converted) == sentences(stored) == ["row 7 D3: mass [kg] is the error #N/A"]
    assert str(converted.carried["Ground on"][0]).startswith("2024-05-06")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.csv", "Die;Höhe\n".encode("latin-1"), "is not UTF-8 text"),
        ("a.csv", "Die,t\nD1,2\n".encode("utf-16"), "is not UTF-8 text"),
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


@pytest.mark.parametrize("other", ["2.5", "0.8"])
def test_commas_beside_points_are_not_taken_for_decimal_ones(tmp_path, other):
    path = tmp_path / "dies.csv"
    path.write_text(f"Die;t;Cut length\nD1;{other};1,234\nD2;2;300\n", encoding="utf-8")
    register = read(path)
    assert register.ids == ["D2"]
    assert 'is the text "1,234"' in sentences(register)[0]


def test_a_point_far_below_a_decimal_comma_is_still_seen(tmp_path):
    path = tmp_path / "dies.csv"
    path.write_text("Die;t;Cut length\nD1;2,5;300\nD, 2;2;300\nD3;2;1.234\n", encoding="utf-8")
    assert read(path).ids == ["D, 2", "D3"]


def test_commas_that_could_all_be_thousands_are_refused(tmp_path):
    path = tmp_path / "presses.csv"
    path.write_text("Press;Capacity kN;Stroke\nP1;1,234;100\nP2;400;100\n", encoding="utf-8")
    register = read(path, "press")
    assert register.ids == ["P2"]
    assert 'is the text "1,234"' in sentences(register)[0]


@given(st.floats(-1e9, 1e9).filter(lambda x: x == 0 or abs(x) > 1e-4))
def test_a_number_is_the_same_with_a_decimal_comma(number):
    text = f"{number:.6f}"
    assert plain_number(text.replace(".", ","), True) == plain_number(text, False) == float(text)


@given(st.text(max_size=12))
def test_any_text_is_a_number_or_none(text):
    for comma in (False, True):
        number = plain_number(text, comma)
        assert number is None or isinstance(number, float)


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
        ("die", "penetration"): 1.0,
        ("die", "lift"): 0.0,
        ("die", "punch_entry"): 0.0,
        ("die", "parts_per_stroke"): 1.0,
        ("die", "efficiency"): 0.85,
        ("press", "cylinders"): 1.0,
        ("press", "press_efficiency"): 1.0,
        ("press", "slowdown"): 0.1,
        ("press", "clamping_length"): 0.0,
        ("press", "clamping_width"): 0.0,
        ("press", "overhang"): 0.0,
    }
