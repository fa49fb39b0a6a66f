"""The workbook templates: complete, readable anywhere, computed right, and what their builder gives now."""

from __future__ import annotations

import io
import re
import shutil
import zipfile

import openpyxl
import pytest
from openpyxl.utils import get_column_letter, range_boundaries

from pressfuncs import functions
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.report import CAUTION
from pressfuncs.build.templates import TEMPLATES, die_register
from pressfuncs.build.templates.columns import expanded
from pressfuncs.build.templates.finish import same_workbook
from pressfuncs.functions._checks import CHECKS
from pressfuncs.registry import FUNCTIONS, find
from pressfuncs.templates import template_path, templates

REGISTER = "die_register.xlsx"
CALL = re.compile(r"\bPF_[A-Z0-9_]+(?=\()")
KN, BAR, PER_MINUTE, HOUR, PER_HOUR = 1e3, 0.1, 1 / 60, 3600.0, 1 / 3600


@pytest.fixture(scope="module")
def formulas():
    return openpyxl.load_workbook(template_path(REGISTER))


@pytest.fixture(scope="module")
def values():
    return openpyxl.load_workbook(template_path(REGISTER), data_only=True)


def rows_of(values, formulas, name):
    """Return the rows of a table as heading -> stored value."""
    sheet, (c1, r1, c2, r2) = values[name], range_boundaries(formulas[name].tables[name].ref)
    headings = [sheet.cell(r1, column).value for column in range(c1, c2 + 1)]
    return [
        dict(zip(headings, (sheet.cell(row, column).value for column in range(c1, c2 + 1))))
        for row in range(r1 + 1, r2 + 1)
    ]


def formula_cells(workbook):
    for sheet in workbook.worksheets:
        for row in sheet.iter_rows():
            yield from (cell for cell in row if cell.data_type == "f")


def test_every_formula_stores_a_result_and_none_is_an_error(formulas, values):
    cells = list(formula_cells(formulas))
    assert sum(bool(CALL.search(cell.value)) for cell in cells) > 40 * 14
    for cell in cells:
        stored = values[cell.parent.title][cell.coordinate]
        assert stored.data_type != "e", f"{cell.parent.title}!{cell.coordinate} {stored.value}"
        may_be_blank = ',"",' in cell.value or cell.value.endswith(',"")')  # what is not known, or not asked for
        assert stored.value is not None or may_be_blank, f"{cell.parent.title}!{cell.coordinate}"


def test_the_sheets_hold_an_invented_shop_of_forty_dies_and_eight_presses(formulas, values):
    assert formulas.sheetnames == ["Dies", "Presses", "Materials", "Help"]
    assert len(rows_of(values, formulas, "Dies")) == 40
    presses = rows_of(values, formulas, "Presses")
    assert {row["Frame"] for row in presses} == {"C-frame", "straight side", "column"}
    assert {row["Drive"] for row in presses} == {"top drive crank", "underdrive crank", "hydraulic"}
    assert len(rows_of(values, formulas, "Presses")) == 8
    for name in ("Dies", "Presses", "Materials"):
        assert "invented" in values[name]["A1"].value


def test_the_safety_words_stand_on_every_sheet(values):
    for sheet in values.worksheets:
        words = [cell.value for cell in sheet[2] if cell.value]
        assert words == ["CAUTION: presses maim.", CAUTION]
        assert sheet.oddFooter.left.text.startswith("Planning figures only")


def cut_of(die):
    """Return the force of square edges and the peak of the cut, with worn edges; zeros for a die without a cut."""
    if die["Cut length, mm"] == 0:
        return 0, 0
    sharp = functions.shearing_force(die["Cut length, mm"], die["Thickness, mm"], die["Shear strength, MPa"])
    cut = functions.dull_edge_force(sharp, die["Edge allowance, share"])
    if die["Shear height, mm"] is None:
        return cut, cut
    sheared = (die["Thickness, mm"], die["Penetration, share"], die["Shear height, mm"], die["Shear contour"])
    sizes = (
        [die[f"Sheared {side}, mm"] for side in ("length", "width")]
        if die["Shear contour"].startswith("rect")
        else []
    )
    return cut, functions.relieved_shearing_force(cut, *sheared, *sizes)


def capacity_of(press, height):
    """Return what a press gives at a height of its slide."""
    plate = press["Rated force, kN"] * KN
    if press["Drive"] == "hydraulic":
        bore, pressure = press["Bore, mm"], press["Pressure, bar"] * BAR
        return min(
            functions.hydraulic_capacity(bore, pressure, press["Cylinders"], press["Efficiency, share"]), plate
        )
    crank = [press[name] for name in ("Rated height, mm", "Stroke, mm", "Rod, mm")]
    drive = press["Drive"].removesuffix(" crank").removesuffix(" drive").removesuffix("drive")
    return functions.mechanical_capacity(plate, *crank, height, drive)


def test_forces_and_capacities_are_what_the_plain_functions_give(formulas, values):
    presses = {row["Press"]: row for row in rows_of(values, formulas, "Presses")}
    for die in rows_of(values, formulas, "Dies"):
        press = presses[die["Press"]]
        cut, peak = cut_of(die)
        stripping = cut * die["Stripping, share"] if die["Stripper"] == "spring" else 0
        ejection = cut * die["Ejection share"] * die["Slugs"]
        stroke = peak + stripping + ejection + (die["Forming force, kN"] + die["Pad force, kN"]) * KN
        height = die["Working height, mm"]
        if height is None:
            height = die["Thickness, mm"] + (die["Shear height, mm"] or 0) + die["Punch entry, mm"]
        capacity = capacity_of(press, height)
        limit = press["Load limit, share"] or functions.load_limit(press["Frame"])
        expected = {
            "Square edges, kN": cut / KN,
            "Peak of the cut, kN": peak / KN,
            "Stripping force, kN": stripping / KN,
            "Ejection force, kN": ejection / KN,
            "Whole stroke, kN": stroke / KN,
            "Required capacity, kN": stroke / limit / KN,
            "Force begins at, mm": height,
            "Capacity, kN": capacity / KN,
            "Utilisation": stroke / capacity,
            "Force margin, kN": (capacity * limit - stroke) / KN,
        }
        assert {name: die[name] for name in expected} == pytest.approx(expected, rel=1e-11), die["Die"]


def test_the_energy_of_a_die_that_only_cuts_is_that_of_cut_stripper_and_slugs(formulas, values):
    presses = {row["Press"]: row for row in rows_of(values, formulas, "Presses")}
    seen = 0
    for die in rows_of(values, formulas, "Dies"):
        press = presses[die["Press"]]
        parts = die["Stripping force, kN"] + die["Ejection force, kN"]
        needed = die["Whole stroke, kN"] * die["Force begins at, mm"]
        if die["Cut length, mm"] and not die["Forming force, kN"] + die["Pad force, kN"]:
            cut = die["Square edges, kN"] * die["Penetration, share"] * die["Thickness, mm"]
            needed = cut + parts * die["Force begins at, mm"]
        assert die["Energy at most, J"] == pytest.approx(needed), die["Die"]
        if press["Drive"] == "hydraulic":
            assert die["Energy of the press, J"] is None
            continue
        share = min(die["Stroke rate, strokes/min"] / press["Highest rate, strokes/min"], 1)
        given = press["Flywheel energy, J"] * (1 - (1 - press["Slowdown, share"]) ** 2) * share**2
        assert die["Energy of the press, J"] == pytest.approx(given), die["Die"]
        assert die["Energy margin, J"] == pytest.approx(given - needed), die["Die"]
        seen += 1
    assert seen > 30


def test_room_limits_and_output_are_what_plain_arithmetic_gives(formulas, values):
    presses = {row["Press"]: row for row in rows_of(values, formulas, "Presses")}
    for die in rows_of(values, formulas, "Dies"):
        press = presses[die["Press"]]
        left = press["Shut height, mm"] - press["Bolster, mm"] - die["Die height, mm"]
        rate = min(die["Stroke rate, strokes/min"], press["Highest rate, strokes/min"])
        parts = rate * 60 * die["Parts per stroke"] * die["Efficiency, share"]
        room = die["Punch entry, mm"] + die["Part height, mm"] + die["Lift, mm"]
        bed, face = (
            [
                press[f"{of} {side}, mm"] - die[f"{half} {side}, mm"] + add * (press[f"{more} {side}, mm"] or 0)
                for side in ("length", "width")
            ]
            for of, half, more, add in (("Bed", "Lower", "Clamping", -2), ("Slide", "Upper", "Clamping", 0))
        )
        expected = {
            "Working height margin, mm": press["Stroke, mm"] - die["Force begins at, mm"],
            "Closed height margin, mm": left,
            "Adjustment margin, mm": press["Adjustment, mm"] + press["Spacer, mm"] - left,
            "Opening margin, mm": press["Stroke, mm"] - room,
            "Stroke margin, mm": press["Stroke, mm"] - max(room, die["Stroke needed, mm"] or 0),
            "Bed margin, mm": min(bed),
            "Slide face margin, mm": min(face) + 2 * press["Overhang, mm"],
            "Rate margin, strokes/min": die["Stroke rate, strokes/min"] - press["Lowest rate, strokes/min"],
            "Good parts, parts/h": parts,
            "Run, h": die["Setup, h"] + die["Quantity, parts"] / parts,
        }
        assert {name: die[name] for name in expected} == pytest.approx(expected), die["Die"]
        margins = [value for name, value in die.items() if "margin" in name and value not in (None, "")]
        fails = min(margins) < 0
        assert die["Result"].startswith("NO") == die["Verdict"].startswith("not suitable") == fails
        assert die["Result"].startswith("yes") == die["Verdict"].startswith("suitable on paper")
        assert (die["Closing"] == "fits") == (0 <= left <= press["Adjustment, mm"])


def test_the_register_shows_many_ways_not_to_fit(formulas, values):
    verdicts = " ".join(
        row["Verdict"] for row in rows_of(values, formulas, "Dies") if row["Result"].startswith("NO")
    )
    for words in ("force at the working height short by", "closed height short by", "energy of a stroke short by"):
        assert words in verdicts
    for words in ("slide adjustment and spacers short by", "bed short by", "off-centre load short by"):
        assert words in verdicts


def test_table_columns_know_the_formulas_that_fill_them(formulas):
    for name in ("Dies", "Presses", "Materials"):
        sheet, table = formulas[name], formulas[name].tables[name]
        c1, r1, c2, r2 = range_boundaries(table.ref)
        for column, entry in zip(range(c1, c2 + 1), table.tableColumns):
            assert sheet.cell(r1, column).value == entry.name
            filled = {sheet.cell(row, column).value for row in range(r1 + 1, r2 + 1)}
            marker = sheet.cell(r1 - 1, column).value
            if entry.calculatedColumnFormula is None:
                assert marker == "input"
                assert not any(str(value).startswith("=") for value in filled)
            else:
                assert marker in ("looked up", "computed")
                assert filled == {f"={entry.calculatedColumnFormula.attr_text}"}


def test_structured_references_name_columns_that_exist(formulas):
    headings = {
        name: {entry.name for entry in formulas[name].tables[name].tableColumns}
        for name in ("Dies", "Presses", "Materials")
    }
    found = 0
    for cell in formula_cells(formulas):
        for table, row, whole in re.findall(r"(\w+)\[(?:\[#This Row\],\[([^\]]+)\]\]|([^\[\]]+)\])", cell.value):
            assert (row or whole) in headings[table], cell.value
            found += 1
    assert found > 40 * 50


def test_ordinary_lookups_stand_beside_our_functions(formulas):
    texts = " ".join(cell.value for cell in formula_cells(formulas))
    assert "_xlfn." not in texts  # nothing that older spreadsheet applications do not know
    assert "INDEX(Presses[" in texts
    assert "MATCH(" in texts
    assert not formulas.defined_names


def test_inputs_are_marked_by_a_box_as_well_as_by_colour(formulas):
    sheet = formulas["Dies"]
    c1, r1, c2, _ = range_boundaries(sheet.tables["Dies"].ref)
    for column in range(c1, c2 + 1):
        side = sheet.cell(r1 + 1, column).border.left
        assert (side is not None and side.style == "dotted") == (sheet.cell(r1 - 1, column).value == "input")


def test_choices_are_lists_and_numbers_have_limits(formulas):
    rules = {str(rule.sqref): rule for rule in formulas["Dies"].data_validations.dataValidation}
    sheet, ref = formulas["Dies"], formulas["Dies"].tables["Dies"].ref
    c1, r1, c2, r2 = range_boundaries(ref)
    for column in range(c1, c2 + 1):
        name, letter = sheet.cell(r1, column).value, get_column_letter(column)
        rule = rules.get(f"{letter}{r1 + 1}:{letter}{r2}")
        if sheet.cell(r1 - 1, column).value == "input" and name not in ("Die", "Part"):
            assert rule.showErrorMessage, name
            assert rule.error.startswith(name.split(",")[0])
        else:
            assert rule is None, name
    lists = {
        sheet[area.split(":")[0]].column: rule.formula1 for area, rule in rules.items() if rule.type == "list"
    }
    assert len(lists) == 6
    assert {"Presses!$A$7:$A$14", "Materials!$A$7:$A$17"} < set(lists.values())
    presses = formulas["Presses"]
    assert [cell.value for (cell,) in presses["A7:A14"]] == [
        presses.cell(row, 1).value for row in range(7, presses.max_row + 1)
    ]
    kinds = [rule.formula1 for rule in presses.data_validations.dataValidation if rule.type == "list"]
    assert kinds == [
        '"top drive crank,underdrive crank,knuckle or link,hydraulic"',
        '"C-frame,straight side,column"',
    ]


def test_chosen_inputs_are_in_their_lists(formulas, values):
    for name in ("Dies", "Presses", "Materials"):
        for rule in formulas[name].data_validations.dataValidation:
            if rule.type != "list":
                continue
            if rule.formula1.startswith('"'):
                allowed = set(rule.formula1.strip('"').split(","))
            else:
                sheet, _, area = rule.formula1.partition("!")
                allowed = {cell.value for (cell,) in values[sheet][area.replace("$", "")]}
            assert {cell.value for (cell,) in values[name][str(rule.sqref)] if cell.value} <= allowed


def test_conditional_formats_are_seen_without_colour(formulas):
    rules = [rule for area in formulas["Dies"].conditional_formatting for rule in area.rules]
    assert len(rules) == len(CHECKS) + 3
    for rule in rules:
        assert rule.dxf.font.b
        assert rule.dxf.border.left.style == "thin"
    margin = next(cell for cell in formulas["Dies"][6] if cell.value == "Force margin, kN")
    assert '" !"' in formulas["Dies"].cell(7, margin.column).number_format


def test_sheets_print_in_landscape_with_titles_and_stay_readable_when_scrolled(formulas):
    for sheet in formulas.worksheets:
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.print_area
        assert sheet.print_title_rows
        assert sheet.freeze_panes
    assert formulas["Dies"].freeze_panes == "D7"
    assert formulas["Dies"].print_title_cols == "$A:$C"
    assert formulas["Materials"].sheet_properties.pageSetUpPr.fitToPage


def test_the_help_sheet_describes_the_functions_used_and_no_others(formulas, values):
    used = {
        name
        for cell in formula_cells(formulas)
        if cell.parent.title != "Help"
        for name in CALL.findall(cell.value)
    }
    assert used <= {spec.sheet_name for spec in FUNCTIONS.values()}
    help_sheet = values["Help"]
    column = [cell.value for cell in help_sheet["A"] if str(cell.value).startswith("PF_")]
    assert sorted(column) == sorted([*used, "PF_VERSION"])
    texts = {cell.value for row in help_sheet.iter_rows() for cell in row}
    for name in used:
        spec = find(name)
        assert {spec.docs.summary, spec.docs.formula, spec.citation} <= texts
        assert {argument.label for argument in spec.arguments} <= texts
    assert any("pressfuncs recalc die_register.xlsx --in-place" in str(text) for text in texts)


def test_no_app_recalculates_on_opening_and_no_macro_is_inside(formulas):
    with zipfile.ZipFile(template_path(REGISTER)) as book:
        workbook = book.read("xl/workbook.xml").decode()
        assert 'fullCalcOnLoad="0"' in workbook
        assert int(re.search(r'calcId="(\d+)"', workbook)[1]) >= 191029
        assert not [name for name in book.namelist() if "vba" in name.lower() or "external" in name.lower()]
        assert {entry.date_time for entry in book.infolist()} == {(2025, 1, 1, 0, 0, 0)}


def test_building_twice_gives_the_same_bytes_and_what_is_committed():
    first, second = die_register.build(), die_register.build()
    assert first == second
    assert same_workbook(template_path(REGISTER).read_bytes(), first)


def rewritten(data, change, level=9):
    """Return the package with `change` applied to the text of the first sheet."""
    packed = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as old,
        zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, True, level) as new,
    ):
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, change(content) if name == "xl/worksheets/sheet1.xml" else content)
    return packed.getvalue()


def test_drift_is_seen_in_values_formulas_and_parts_but_not_in_packing_or_last_digits():
    data = template_path(REGISTER).read_bytes()
    assert same_workbook(data, rewritten(data, lambda sheet: sheet, level=1))
    number = re.search(rb"<v>([0-9]+\.[0-9]{10,})</v>", rewritten_sheet(data))[1]
    digits = b"%.13g" % float(number)
    assert digits != number
    assert same_workbook(data, rewritten(data, lambda sheet: sheet.replace(number, digits, 1)))
    assert not same_workbook(
        data, rewritten(data, lambda sheet: sheet.replace(number, b"%.5g" % float(number), 1))
    )
    assert not same_workbook(data, rewritten(data, lambda sheet: sheet.replace(b"<v>fits<", b"<v>fit<", 1)))
    assert not same_workbook(data, rewritten(data, lambda sheet: sheet.replace(b"PF_", b"PG_", 1)))
    assert not same_workbook(data, rewritten(data, lambda sheet: re.sub(rb"<v>fits</v>", b"", sheet, count=1)))
    packed = io.BytesIO(data)
    with zipfile.ZipFile(packed, "a") as book:
        book.writestr("extra.xml", "<a/>")
    assert not same_workbook(data, packed.getvalue())


def rewritten_sheet(data):
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return book.read("xl/worksheets/sheet1.xml")


@pytest.mark.parametrize("options", [Options(), Options(everything=True), Options(column_by_column=False)])
def test_recalculating_the_template_changes_not_one_byte(tmp_path, options):
    path = tmp_path / REGISTER
    shutil.copyfile(template_path(REGISTER), path)
    outcome = recalculate(path, path, options)
    assert outcome.changes == outcome.failing == outcome.frozen == outcome.disagreements == []
    assert outcome.calls > 700
    assert outcome.written is None
    assert path.read_bytes() == template_path(REGISTER).read_bytes()


def test_a_copy_without_stored_results_gets_the_same_ones_again(tmp_path, values):
    path = tmp_path / "empty.xlsx"
    openpyxl.load_workbook(template_path(REGISTER)).save(path)  # openpyxl drops stored results
    assert openpyxl.load_workbook(path, data_only=True)["Dies"]["C7"].value is None
    assert recalculate(path, path).nothing_stored
    again = openpyxl.load_workbook(path, data_only=True)
    for sheet in values.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                assert again[sheet.title][cell.coordinate].value == cell.value


def test_a_blank_shear_and_an_impossible_input_are_handled_in_their_own_rows(tmp_path):
    path = tmp_path / "changed.xlsx"
    book = openpyxl.load_workbook(template_path(REGISTER))
    thickness = next(cell.column for cell in book["Dies"][6] if cell.value == "Thickness, mm")
    book["Dies"].cell(9, thickness).value = -1
    book.save(path)
    outcome = recalculate(path, path)
    assert {re.sub(r"\D", "", found.cell) for found in outcome.failing if found.sheet == "Dies"} == {"9"}
    results = openpyxl.load_workbook(path, data_only=True)["Dies"]
    assert [results.cell(row, 3).value for row in (8, 9, 10)] == ["yes, on paper", "ERROR", "NO, not suitable"]


def test_templates_are_found_by_name_and_only_by_name():
    assert templates() == sorted(TEMPLATES)
    assert all(template_path(name).is_file() for name in templates())
    for name in ("register.xlsx", "../pyproject.toml", ""):
        with pytest.raises(FileNotFoundError, match=r"there are: die_register\.inch\.xlsx, die_register\.xlsx"):
            template_path(name)


def test_a_formula_that_names_no_column_does_not_pass():
    with pytest.raises(KeyError):
        expanded("[@Nowhere]", "Presses", {"Presses": []})
