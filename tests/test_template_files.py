"""Every template file: computed, drift-checked, safe, readable without colour, the same in both unit systems."""

from __future__ import annotations

import io
import re
import shutil
import zipfile

import openpyxl
import pytest
from forms import CALL, CHART, FORMS, charts_of, convert, formula_cells, is_heading, is_number, kind_of, lines
from openpyxl.utils import range_boundaries

from pressfuncs import quantities
from pressfuncs.batch.recalc import recalculate
from pressfuncs.batch.report import CAUTION
from pressfuncs.build.templates import BUILDERS, TEMPLATES, file_name
from pressfuncs.build.templates.chart_caches import fill_chart, sheets_with_results
from pressfuncs.build.templates.finish import same_workbook
from pressfuncs.build.templates.systems import number_format, with_units
from pressfuncs.quantities import SYSTEMS
from pressfuncs.registry import find
from pressfuncs.templates import template_path

every_file = pytest.mark.parametrize("name", sorted(TEMPLATES))
every_template = pytest.mark.parametrize("template", sorted(BUILDERS))
every_form = pytest.mark.parametrize("template", sorted(FORMS))


@every_file
def test_every_formula_stores_a_result_and_none_is_an_error(name):
    formulas = openpyxl.load_workbook(template_path(name))
    values = openpyxl.load_workbook(template_path(name), data_only=True)
    cells = list(formula_cells(formulas))
    assert sum(bool(CALL.search(cell.value)) for cell in cells) > 10
    for cell in cells:
        stored = values[cell.parent.title][cell.coordinate]
        assert stored.data_type != "e", f"{cell.parent.title}!{cell.coordinate} {stored.value}"


@every_file
def test_what_is_committed_is_what_the_builder_gives_every_time(name):
    first, second = TEMPLATES[name](), TEMPLATES[name]()
    assert first == second
    assert same_workbook(template_path(name).read_bytes(), first)


@every_file
def test_recalculating_changes_not_one_byte(name, tmp_path):
    path = tmp_path / name
    shutil.copyfile(template_path(name), path)
    outcome = recalculate(path, path)
    assert outcome.changes == outcome.failing == outcome.frozen == outcome.disagreements == []
    assert outcome.written is None
    assert path.read_bytes() == template_path(name).read_bytes()


@every_file
def test_safety_words_print_settings_and_invented_stand_on_the_sheets(name):
    book = openpyxl.load_workbook(template_path(name))
    assert "invented" in book.worksheets[0]["A1"].value
    for sheet in book.worksheets:
        assert [cell.value for cell in sheet[2] if cell.value] == ["CAUTION: presses maim.", CAUTION]
        assert sheet.print_area
        assert sheet.print_title_rows
        assert sheet.freeze_panes
        assert sheet.oddFooter.left.text.startswith("Planning figures only")
    with zipfile.ZipFile(template_path(name)) as package:
        assert not [part for part in package.namelist() if "vba" in part.lower() or "external" in part.lower()]


@every_file
def test_the_help_sheet_has_the_functions_used_and_the_version(name):
    book = openpyxl.load_workbook(template_path(name))
    used = {
        call for cell in formula_cells(book) if cell.parent.title != "Help" for call in CALL.findall(cell.value)
    }
    listed = [cell.value for cell in book["Help"]["A"] if str(cell.value).startswith("PF_")]
    assert sorted(listed) == sorted({*used, "PF_VERSION"})
    words = [str(cell.value) for row in book["Help"].iter_rows() for cell in row]
    assert any(f"pressfuncs recalc {name} --in-place" in word for word in words)
    assert "=PF_VERSION()" in words


@every_file
def test_each_call_says_its_units_and_headings_say_the_same(name):
    system = "inch" if ".inch." in name else "metric"
    book = openpyxl.load_workbook(template_path(name))
    for cell in formula_cells(book):
        with_unit = sum(find(call).has_units for call in CALL.findall(cell.value))
        assert cell.value.count('"inch"') == (with_unit if system == "inch" else 0), cell.value
    other = {"metric": (", in", ", tonf_us", ", psi", ", lb"), "inch": (", mm", ", kN", ", MPa", ", bar", ", kg")}
    for sheet in book.worksheets[:-1]:
        for row in sheet.iter_rows():
            for cell in row:
                assert not str(cell.value).endswith(other[system]), cell.value


@every_file
def test_charts_have_titles_axes_with_units_and_named_series_and_store_what_the_cells_hold(name):
    if name.startswith("die_register"):
        assert not charts_of(template_path(name))
        return
    charts = charts_of(template_path(name))
    assert charts
    data = template_path(name).read_bytes()
    sheets = sheets_with_results(data)
    for chart in charts:
        plot = chart.find(f"{CHART}chart/{CHART}plotArea")
        assert chart.find(f"{CHART}chart/{CHART}title/{CHART}tx") is not None
        axes = [axis for tag in ("valAx", "catAx") for axis in plot.findall(CHART + tag)]
        assert len(axes) == 2
        assert all(axis.find(CHART + "delete").get("val") == "0" for axis in axes)
        titles = [
            "".join(axis.find(CHART + "title").itertext())
            for axis in axes
            if axis.find(CHART + "title") is not None
        ]
        assert titles
        assert all(axis.find(CHART + "title") is not None for axis in plot.findall(CHART + "valAx"))
        for series in plot.iter(CHART + "ser"):
            assert "".join(series.find(CHART + "tx").itertext()).strip()
        for reference in (*chart.iter(CHART + "numRef"), *chart.iter(CHART + "strRef")):
            sheet, _, area = reference.find(CHART + "f").text.rpartition("!")
            c1, r1, c2, r2 = range_boundaries(area.replace("$", ""))
            cells = [cell.value for row in sheets[sheet.strip("'")].iter_rows(r1, r2, c1, c2) for cell in row]
            stored = [point.find(CHART + "v").text for point in reference.iter(CHART + "pt")]
            assert len(stored) == len(cells), reference.find(CHART + "f").text
            if reference.tag == CHART + "numRef":
                assert [float(text) for text in stored] == cells
            else:
                assert stored == [str(cell) for cell in cells]


@every_form
def test_inputs_are_boxed_named_and_limited(template):
    for system in SYSTEMS:
        sheet = openpyxl.load_workbook(template_path(file_name(template, system)))[FORMS[template]]
        ruled = {
            row
            for rule in sheet.data_validations.dataValidation
            if rule.showErrorMessage and rule.error
            for area in str(rule.sqref).split()
            for row in range(range_boundaries(area)[1], range_boundaries(area)[3] + 1)
        }
        inputs = 0
        for marker, row in lines(sheet).values():
            cell = sheet.cell(row, 3)
            boxed = cell.border.left is not None and cell.border.left.style == "dotted"
            assert boxed == (marker == "input"), cell.coordinate
            if marker == "input":
                inputs += 1
                assert row in ruled or cell.number_format == "@", cell.coordinate
            else:
                assert str(cell.value).startswith("="), cell.coordinate
        assert inputs > 15


@every_template
def test_the_inch_variant_gives_the_same_as_the_metric_one_for_the_same_case(template, tmp_path):
    """The metric example is typed into the inch variant, converted; every result must be the same quantity."""
    metric = template_path(file_name(template, "metric"))
    path = tmp_path / "same.xlsx"
    shutil.copyfile(template_path(file_name(template, "inch")), path)
    typed = openpyxl.load_workbook(metric)
    book = openpyxl.load_workbook(path)
    for sheet in typed.worksheets[:-1]:
        for row in sheet.iter_rows(min_row=3):
            for cell in row:
                kind = kind_of(sheet, cell)
                if is_number(cell.value) and kind is not None:
                    book[sheet.title][cell.coordinate] = convert(cell.value, kind)
                elif cell.data_type not in ("f",) and not isinstance(cell, openpyxl.cell.cell.MergedCell):
                    if not is_heading(cell):
                        book[sheet.title][cell.coordinate] = cell.value
    book.save(path)
    outcome = recalculate(path, path)
    values = openpyxl.load_workbook(path, data_only=True)
    assert outcome.failing == outcome.frozen == []
    expected = openpyxl.load_workbook(metric, data_only=True)
    compared = 0
    for cell in formula_cells(typed):
        sheet = cell.parent
        if sheet.title == "Help":
            continue
        want, got = expected[sheet.title][cell.coordinate].value, values[sheet.title][cell.coordinate].value
        kind = kind_of(sheet, cell)
        if is_number(want):
            want = convert(want, kind) if kind is not None else want
            assert got == pytest.approx(want, rel=1e-9, abs=1e-9), f"{sheet.title}!{cell.coordinate}"
            compared += 1
        elif not re.search(r"\d", str(want)):
            assert got == want, f"{sheet.title}!{cell.coordinate}"
    assert compared > 20


@pytest.mark.parametrize(
    ("metric", "inch"),
    [
        ("=PF_PRESS_VERDICT(A1,,,,B2)", '=PF_PRESS_VERDICT(A1,,,,B2,,,,,,"inch")'),
        ("=PF_COILS_NEEDED(A1,B1)", "=PF_COILS_NEEDED(A1,B1)"),
        ('=IF(A1="(,",PF_UTILISATION((A1+B1),2),3)', '=IF(A1="(,",PF_UTILISATION((A1+B1),2,"inch"),3)'),
        (
            "=PF_STRIPPING_FORCE(PF_SHEARING_FORCE(1,2,3))",
            '=PF_STRIPPING_FORCE(PF_SHEARING_FORCE(1,2,3,"inch"),,"inch")',
        ),
        ("=SUM({1,2;3,4})", "=SUM({1,2;3,4})"),
        (
            '=PF_MATERIAL(T[[#This Row],[a, b]],"density")',
            '=PF_MATERIAL(T[[#This Row],[a, b]],"density",{},"inch")',
        ),
    ],
)
def test_units_become_the_last_argument_wherever_a_call_stands(metric, inch):
    assert with_units(metric, "metric") == metric
    missing = "," * (len(find("material").arguments) - 3)
    assert with_units(metric, "inch") == inch.replace("{}", missing) if "MATERIAL" in inch else inch


def test_number_formats_of_inches_have_three_decimals_and_keep_their_signs():
    assert number_format(quantities.LENGTH, '+0.0;-0.0" !";0.0', "inch") == '+0.000;-0.000" !";0.000'
    assert number_format(quantities.LENGTH, "#,##0", "inch") == "#,##0.0"
    assert number_format(quantities.FORCE, "0.0", "metric") == "0.0"
    assert number_format(None, "0.00", "inch") == "0.00"


def test_charts_store_no_words_among_numbers():
    book = openpyxl.Workbook()
    book.active.append([1.5, "two & three", None])
    packed = io.BytesIO()
    book.save(packed)
    sheets = sheets_with_results(packed.getvalue())
    numbers = fill_chart("<numRef><f>'Sheet'!$A$1:$C$1</f></numRef>", sheets)
    words = fill_chart("<strRef><f>Sheet!$A$1:$C$1</f></strRef>", sheets)
    assert re.findall("<v>(.*?)</v>", numbers) == ["1.5"]
    assert re.findall("<v>(.*?)</v>", words) == ["1.5", "two &amp; three"]
    assert 'ptCount val="3"' in numbers
