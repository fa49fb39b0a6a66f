"""The demonstration, end to end: one thicker sheet, everything that hangs on it, and nothing else."""

from __future__ import annotations

import json
import re
import shutil
import zipfile

import openpyxl
import pytest
from parts import differing_parts, fingerprint, write_zip

from pressfuncs import demo, functions
from pressfuncs.batch.inputs import set_number
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.report import CAUTION
from pressfuncs.templates import template_path

SHEET = "xl/worksheets/sheet1.xml"


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    return demo.run_demo(tmp_path_factory.mktemp("shop") / "new" / "folder")


def test_the_register_is_copied_as_it_is_and_the_copy_differs_in_one_sheet(done):
    assert done.register.read_bytes() == template_path(demo.REGISTER).read_bytes()
    assert differing_parts(done.register, done.recalculated) == {SHEET: "changed"}
    written = {demo.REGISTER, demo.THICKER, demo.DIES, demo.PRESSES, demo.ASSIGNED}
    assert {path.name for path in done.register.parent.iterdir()} == written


def test_formulas_stay_and_only_the_die_with_the_thicker_sheet_changes(done):
    before, after = (openpyxl.load_workbook(path)["Dies"] for path in (done.register, done.recalculated))
    changed = {
        cell.coordinate: after[cell.coordinate].value
        for row in before.iter_rows()
        for cell in row
        if cell.value != after[cell.coordinate].value
    }
    assert changed == {"F17": 2.5}
    before, after = (
        openpyxl.load_workbook(path, data_only=True)["Dies"] for path in (done.register, done.recalculated)
    )
    rows = {cell.row for row in before.iter_rows() for cell in row if cell.value != after[cell.coordinate].value}
    assert rows == {3, 17}  # the count above the table, and the die
    assert before["A17"].value == done.input.die == "D-203"


def test_what_changed_is_what_the_plain_functions_give_before_and_after(done):
    found = {entry.quantity: (entry.before, entry.after, entry.unit) for entry in done.differences}
    assert {entry.die for entry in done.differences} == {"D-203"}
    figures = []
    for thickness in (2.0, 2.5):
        cut = functions.dull_edge_force(functions.shearing_force(320, thickness, 400))
        force = cut + functions.stripping_force(cut, 0.1)
        capacity = functions.mechanical_capacity(630e3, 3.2, 80, 380, thickness + 1)
        figures.append((cut, force, functions.required_capacity(force, 0.6), capacity, force / capacity))
    for name, unit, scale, pair in zip(
        ("Square edges", "Whole stroke", "Required capacity", "Capacity", "Utilisation"),
        ("kN", "kN", "kN", "kN", ""),
        (1e3, 1e3, 1e3, 1e3, 1),
        zip(*figures),
    ):
        assert found[name][:2] == pytest.approx([value / scale for value in pair]), name
        assert found[name][2] == unit


def test_ordinary_formulas_above_ours_follow_the_new_input(done):
    found = {entry.quantity: entry for entry in done.differences}
    assert (found["Force begins at"].before, found["Force begins at"].after) == (3.0, 3.5)


def test_the_die_that_no_longer_fits_is_named_with_the_reason(done):
    assert [entry.die for entry in done.no_longer] == ["D-203"]
    assert re.match(r"not suitable: force at the working height short by 95\.\d+ kN", done.no_longer[0].verdict)
    unsuitable = ["D-104", "D-106", "D-108", "D-205", "D-209", "D-305", "D-306", "D-402", "D-404", "D-601"]
    assert done.already == unsuitable


def test_it_takes_seconds(done):
    assert 0 < done.seconds < 20
    assert 0 < done.matching_seconds < 10


def test_the_second_register_is_matched_with_the_presses_and_the_workbook_holds_the_same(done):
    for name in (demo.DIES, demo.PRESSES):
        assert (done.register.parent / name).read_bytes() == (demo.REGISTERS / name).read_bytes()
    book = openpyxl.load_workbook(done.assigned, read_only=True)
    rows = book["Ranking"].iter_rows(values_only=True)
    first = [(die, press, status) for die, rank, press, status, *_ in rows if rank == 1]
    book.close()
    assert [(entry.die, entry.press, entry.status) for entry in done.best] == first
    assert len(first) > 40
    text = demo.render(done)
    for line in done.summary:
        assert line in text
    assert sum(line.startswith("D0") for line in done.summary) == 6


def test_the_best_press_of_a_die_is_the_one_that_the_plain_functions_find(done):
    """D020: 286 mm of 1.5 mm at 270 MPa, shut height 180 mm, on the cheapest press that takes it."""
    (entry,) = (entry for entry in done.best if entry.die == "D020")
    cut = functions.dull_edge_force(functions.shearing_force(286, 1.5, 270))
    force = functions.stroke_force(cut, 0.1 * cut, 18e3, 0, 0)
    capacity = functions.mechanical_capacity(400e3, 2.5, 70, 320, 1.5 + 2, "under")
    assert entry.press == "P03"
    assert entry.utilisation == pytest.approx(force / capacity)
    assert entry.status == "suitable on paper"


def test_the_text_is_an_aligned_table_with_units_files_and_safety_words(done):
    lines = demo.render(done).splitlines()
    rule = next(number for number, line in enumerate(lines) if set(line) == {"-", " "})
    head, rows = lines[rule - 1], lines[rule + 1 : lines.index("", rule)]
    assert head.split() == ["die", "quantity", "before", "after", "unit"]
    starts = [match.start() for match in re.finditer(r"-+", lines[rule])]
    assert [head[start:].split()[0] for start in starts[:2]] == ["die", "quantity"]
    for row in rows:
        assert row.startswith("D-203")
        padded = row.ljust(starts[-1])
        assert all(padded[start - 2 : start] == "  " for start in starts[1:]), row
    assert any(row.split()[-1] == "mm" for row in rows)
    text = "\n".join(lines)
    assert text.endswith(CAUTION)
    assert "thickness from 2 to 2.5 mm" in text
    assert "No longer fits: D-203 Motor flange S: not suitable: force at the working height short by" in text
    assert demo.REGISTER in text
    assert demo.THICKER in text


def test_no_figure_in_the_text_is_rounded_to_the_side_that_flatters(done):
    """Neither side is known of a quantity in general: each figure is written with the digits it has."""
    lines = [line.split() for line in demo.render(done).splitlines()]
    figures = [found for found in done.differences if not isinstance(found.after, str)]
    assert len(figures) >= 8
    for found in figures:
        words = next(line for line in lines if line[1 : 1 + len(found.quantity.split())] == found.quantity.split())
        before, after = (float(word.replace(",", "")) for word in words[1 + len(found.quantity.split()) :][:2])
        assert (before, after) == (pytest.approx(found.before, rel=1e-9), pytest.approx(found.after, rel=1e-9))


def test_json_gets_plain_values(done):
    plain = json.loads(json.dumps(demo.as_dict(done)))
    assert plain["input"] == {"die": "D-203", "quantity": "Thickness", "unit": "mm", "before": 2.0, "after": 2.5}
    assert plain["recalculated"] == str(done.recalculated)
    assert plain["assigned"] == str(done.assigned)
    assert len(plain["best"]) == len(done.best)
    assert plain["caution"] == CAUTION
    assert {"die", "quantity", "unit", "before", "after"} == set(plain["differences"][0])


def test_it_runs_again_over_its_own_files(tmp_path):
    first, second = demo.run_demo(tmp_path), demo.run_demo(tmp_path)
    assert second.differences == first.differences


def test_the_workbook_of_an_earlier_minute_is_its_own(tmp_path):
    earlier = demo.run_demo(tmp_path).assigned
    with zipfile.ZipFile(earlier) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    aged = {
        name: re.sub(rb"\d{4}(-\d\d-\d\d \d\d:\d\d [+-]\d{4})", rb"2001\1", part) for name, part in parts.items()
    }
    assert aged != parts
    write_zip(earlier, aged)
    assert demo.run_demo(tmp_path).assigned == earlier
    with zipfile.ZipFile(earlier) as book:
        assert b"2001-" not in b"".join(map(book.read, book.namelist()))
    write_zip(earlier, aged | {"xl/worksheets/sheet2.xml": b"mine"})
    with pytest.raises(Refused, match="is there already"):
        demo.run_demo(tmp_path)


@pytest.mark.parametrize("name", [demo.DIES, demo.PRESSES, demo.ASSIGNED])
def test_another_file_of_a_name_it_uses_is_kept(tmp_path, name):
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(Refused, match=f"{name}: is there already"):
        demo.run_demo(tmp_path)
    assert [(path.name, path.read_text(encoding="utf-8")) for path in tmp_path.iterdir()] == [(name, "mine")]


@pytest.mark.parametrize("name", [demo.REGISTER, demo.THICKER])
def test_a_file_that_somebody_changed_is_kept(tmp_path, name):
    demo.run_demo(tmp_path)
    set_number(tmp_path / name, "Dies", "G7", 99)
    kept = {path.name: fingerprint(path) for path in tmp_path.iterdir()}
    with pytest.raises(Refused, match=f"{name}: is there already and is not as the demo leaves it") as refused:
        demo.run_demo(tmp_path)
    assert refused.value.path == tmp_path / name
    assert {path.name: fingerprint(path) for path in tmp_path.iterdir()} == kept


def test_a_folder_that_is_a_file_is_refused(tmp_path):
    place = tmp_path / "notes.txt"
    place.write_text("mine", encoding="utf-8")
    with pytest.raises(OSError, match=r"notes\.txt"):
        demo.run_demo(place)
    assert place.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("sheet", "cell", "value", "sentence"),
    [
        ("Dies", "C7", 1.0, "does not hold a plain number"),  # a formula
        ("Dies", "A7", 1.0, "does not hold a plain number"),  # a text
        ("Dies", "J7", 1.0, "does not hold a plain number"),  # a blank
        ("Dies", "ZZ999", 1.0, "does not hold a plain number"),
        ("Parts", "A1", 1.0, 'has no sheet "Parts"'),
        ("Dies", "F7", float("nan"), "is not a number that a cell can hold"),
    ],
)
def test_only_a_plain_number_is_put_in_the_place_of_one(tmp_path, sheet, cell, value, sentence):
    path = tmp_path / "book.xlsx"
    shutil.copyfile(template_path(demo.REGISTER), path)
    before = fingerprint(path)
    with pytest.raises(Refused, match=sentence):
        set_number(path, sheet, cell, value)
    assert fingerprint(path) == before


def test_a_number_keeps_the_style_of_its_cell(tmp_path):
    path = tmp_path / "book.xlsx"
    shutil.copyfile(template_path(demo.REGISTER), path)
    set_number(path, "dies", "f7", 1.25)
    assert differing_parts(template_path(demo.REGISTER), path) == {SHEET: "changed"}
    old, new = (openpyxl.load_workbook(book)["Dies"]["F7"] for book in (template_path(demo.REGISTER), path))
    assert new.value == 1.25

    assert new.style_id == old.style_id
