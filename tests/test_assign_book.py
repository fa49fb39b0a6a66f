"""The workbook and the table of pairs: the figures of the outcome, names kept as names, whole or not at all."""

from __future__ import annotations

import csv
import datetime
import itertools
import math
import re
from pathlib import Path

import numpy as np
import openpyxl
import pyarrow.parquet
import pytest
import registers_made as made
from hypothesis import given
from hypothesis import strategies as st
from registers_made import DIE, PRESS

from pressfuncs._version import __version__
from pressfuncs.batch.assignment import book, looks, tables
from pressfuncs.batch.assignment.ranking import STATUSES, Assignment, assign
from pressfuncs.batch.assignment.registers import Trouble, read_register
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.report import CAUTION
from pressfuncs.demo import REGISTERS
from pressfuncs.functions._checks import CHECKS
from pressfuncs.quantities import FORCE, LENGTH

SHEETS = ["Overview", "Ranking", "Not suitable", "Problems", "Dies as read", "Presses as read"]
SHOWN = [check for check in CHECKS if check.name != "kind"]


@pytest.fixture(scope="module")
def demo() -> Assignment:
    return assign(read_register(REGISTERS / "dies.csv", "die"), read_register(REGISTERS / "presses.csv", "press"))


def written(result: Assignment, path: Path, system: str = "metric") -> openpyxl.Workbook:
    book.write_book(result, path, system, [("Load limit", "0.8"), ("Units", system)])
    return openpyxl.load_workbook(path)


def rows(workbook: openpyxl.Workbook, sheet: str) -> list[tuple]:
    return list(workbook[sheet].iter_rows(values_only=True))


@pytest.fixture(scope="module")
def workbook(demo, tmp_path_factory) -> openpyxl.Workbook:
    return written(demo, tmp_path_factory.mktemp("book") / "out.xlsx")


def test_the_sheets_and_what_the_overview_says(demo, workbook):
    assert workbook.sheetnames == SHEETS
    cells = [row for row in rows(workbook, "Overview") if row[0]]
    facts = {row[0]: row[1] for row in cells}
    assert " ".join(row[0] for row in cells[1:3]) == CAUTION
    assert facts["pressfuncs"] == __version__
    assert facts["Load limit"] == "0.8"
    assert ("Dies", "54 of dies.csv") in [row[:2] for row in cells]
    assert ("Presses", "14 of presses.csv") in [row[:2] for row in cells]
    assert facts["Not used of the dies"] == "Drawing no, Shelf"
    when = datetime.datetime.strptime(facts["Written"], "%Y-%m-%d %H:%M %z")
    assert abs(datetime.datetime.now().astimezone() - when) < datetime.timedelta(minutes=5)
    best = demo.status.min(axis=1)
    assert [facts[status] for status in STATUSES] == [int((best == i).sum()) for i in range(3)]
    assert {press: facts[press] for press in demo.presses.ids} == demo.best_count()


def test_the_chart_shows_the_table_beside_it(demo, workbook):
    (chart,) = workbook["Overview"]._charts
    series = chart.series[0]
    counts = sorted(demo.best_count().items(), key=lambda entry: (-entry[1], entry[0]))
    places = [
        re.fullmatch(r"'Overview'!\$([AB])\$(\d+):\$[AB]\$(\d+)", ref.f)
        for ref in (series.cat.numRef, series.val.numRef)
    ]
    for match, column in zip(places, zip(*counts)):
        assert match is not None
        letter, first, last = match.groups()
        assert (
            tuple(workbook["Overview"][f"{letter}{row}"].value for row in range(int(first), int(last) + 1))
            == column
        )


def test_every_ranked_pair_stands_in_the_ranking_with_its_margins(demo, workbook):
    heading, *body = rows(workbook, "Ranking")
    pairs = list(demo.ranked())
    assert len(body) == len(pairs)
    first = heading.index("force margin, kN")
    for row, pair in zip(body, pairs):
        assert row[:4] == (demo.dies.ids[pair.die], pair.rank, demo.presses.ids[pair.press], pair.status)
        for number, (value, step, up) in enumerate(
            ((pair.cost, 1e-6, True), (pair.part_rate * 3600, 1.0, False), (pair.capacity / 1000, 0.1, False),
             (pair.utilisation, 0.001, True)), start=4
        ):  # fmt: skip
            assert (row[number] is None) == math.isnan(value)
            if row[number] is not None:  # never less is shown to be needed, and never more to be there
                assert 0 <= (row[number] - value if up else value - row[number]) + 1e-9 < step + 1e-9
        for check, cell in zip(SHOWN, row[first:]):
            margin = pair.margins[CHECKS.index(check)]
            if math.isnan(margin):
                assert cell == (looks.NOT_CHECKED if check in pair.unchecked else looks.NO_CHECK)
            else:
                step = 10.0 ** -looks.decimals(check.kind, "metric")
                assert 0 <= margin / check.kind.factor("metric") - cell + 1e-9 < step + 1e-9
        assert row[-1] == pair.verdict("metric")


def test_every_failing_pair_says_its_first_and_all_reasons(demo, workbook):
    _, *body = rows(workbook, "Not suitable")
    pairs = list(demo.failing())
    assert len(body) == len(pairs)
    assert len(pairs) + int((demo.status < 2).sum()) == demo.status.size
    for row, pair in zip(body, pairs):
        assert row[:2] == (demo.dies.ids[pair.die], demo.presses.ids[pair.press])
        assert row[2] == pair.failed[0].label
        assert row[3] == pair.verdict("metric")
        assert row[3].count(" short by ") + row[3].count("another kind") == len(pair.failed)


def test_rows_with_problems_and_the_inputs_as_read(demo, workbook):
    _, *problems = rows(workbook, "Problems")
    assert [(where, what) for _, where, _, what in problems] == [(t.place, t.sentence) for t in demo.dies.troubles]
    heading, *body = rows(workbook, "Dies as read")
    assert [row[0] for row in body] == demo.dies.ids
    place = heading.index("thickness, mm\nfrom: t [mm]")
    assert [row[place] for row in body] == pytest.approx(demo.dies.numbers["thickness"].tolist())
    assert [row[heading.index("Shelf\nnot used")] for row in body] == demo.dies.carried["Shelf"]
    _, *presses = rows(workbook, "Presses as read")
    assert [row[0] for row in presses] == demo.presses.ids


def test_the_same_in_inches(demo, tmp_path):
    sheet = written(demo, tmp_path / "inch.xlsx", "inch")
    heading, *body = rows(sheet, "Ranking")
    place = heading.index("closed height margin, in")
    margin = CHECKS.index(next(check for check in CHECKS if check.name == "closed_height"))
    for row, pair in zip(body, demo.ranked()):
        if isinstance(row[place], float):
            assert 0 <= pair.margins[margin] / LENGTH.factor("inch") - row[place] + 1e-9 < 0.001 + 1e-9
    reasons = str(rows(sheet, "Not suitable"))
    assert all(f" {unit}" in reasons for unit in ("tonf_us", "in", "ft.lbf", "lb"))
    assert not any(f" {unit}" in reasons for unit in ("mm", "kN", "J", "kg"))


def test_sheets_are_made_to_be_read_and_printed(workbook):
    for name in SHEETS[1:]:
        sheet = workbook[name]
        assert sheet.freeze_panes
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.auto_filter.ref.startswith("A1:")
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.page_setup.fitToHeight == 0
    for sheet in workbook:
        assert "planning figures only" in sheet.oddFooter.left.text


def test_a_sentence_of_several_lines_gets_a_row_as_high(workbook):
    sheet = workbook["Not suitable"]
    for row in sheet.iter_rows(min_row=2):
        if len(row[3].value) > 120:
            assert sheet.row_dimensions[row[0].row].height >= 26


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=40).filter(str.strip))
def test_any_name_stays_a_name(tmp_path_factory, name):
    result = assign(made.quick("die", [DIE | {"id": name}]), made.quick("press", [PRESS | {"id": "=1+1"}]))
    sheet = written(result, tmp_path_factory.mktemp("names") / "out.xlsx")["Ranking"]
    assert sheet["C2"].value == "=1+1"
    assert {sheet["A2"].data_type, sheet["C2"].data_type} <= {"s", "inlineStr"}
    assert len(sheet["A2"].value) >= 1


@pytest.mark.parametrize("name", ["=HYPERLINK(1)", "#N/A", "TRUE", "-5", "1e3", "D\x01\x1f1", "x" * 40_000])
def test_names_that_look_like_something_else(tmp_path, name):
    result = assign(made.quick("die", [DIE | {"id": name}]), made.quick("press", [PRESS]))
    sheet = written(result, tmp_path / "out.xlsx")["Ranking"]
    assert sheet["A2"].value == name.replace("\x01", "\ufffd").replace("\x1f", "\ufffd")[:32_767]
    assert sheet["A2"].data_type == "s"


def test_carried_cells_of_every_kind_come_through(tmp_path):
    when = datetime.datetime(2024, 5, 6, 7, 8)
    values = ["  two ", "007", 3.25, True, when, datetime.time(3, 4), "=A1", "#N/A"]
    cells = [["Die", "t", "Cut length", *map(str, range(len(values)))], ["D1", 2.0, 300.0, *values]]
    dies = read_register(made.write_xlsx(tmp_path / "in.xlsx", cells), "die")
    heading, row = rows(written(assign(dies, made.quick("press", [PRESS])), tmp_path / "out.xlsx"), "Dies as read")
    assert heading[3:] == tuple(f"{i}\nnot used" for i in range(len(values)))
    want = dies.carried.values()
    assert [str(got) for got in row[3:]] == [str(cells[0]) if cells[0] is not None else "None" for cells in want]
    assert row[3:7] == ("  two ", "007", 3.25, True)


@pytest.mark.parametrize(("dies", "presses"), [([], [PRESS]), ([DIE], []), ([], [])])
def test_an_empty_register_gives_a_workbook_too(tmp_path, dies, presses):
    result = assign(made.quick("die", dies), made.quick("press", presses))
    sheet = written(result, tmp_path / "out.xlsx")
    assert sheet.sheetnames == SHEETS
    assert {row[0]: row[1] for row in rows(sheet, "Overview")}["not suitable"] == len(dies)
    tables.write_pairs(result, tmp_path / "out.csv", "metric")
    tables.write_pairs(result, tmp_path / "out.parquet", "metric")


def test_more_presses_than_bars_and_more_failing_pairs_than_rows(tmp_path, monkeypatch):
    monkeypatch.setattr(book, "FAILING_ROWS", 20)
    presses = [PRESS | {"id": f"P{i:02}", "mass_limit": 10.0 if i % 2 else 500.0} for i in range(40)]
    result = assign(made.quick("die", [DIE, DIE | {"id": "D2", "mass": 900.0}]), made.quick("press", presses))
    sheet = written(result, tmp_path / "out.xlsx")
    assert rows(sheet, "Overview")[-1][0] == "and 10 more presses"
    failing = rows(sheet, "Not suitable")[1:]
    assert {row[0] for row in failing} == {"D2"}  # only dies that no press takes
    assert len(failing) == 20


def test_what_a_sheet_cannot_hold_is_refused_before_it_is_written(tmp_path, demo, monkeypatch):
    monkeypatch.setattr(book, "LAST_ROW", len(demo.dies) * 3)
    with pytest.raises(Refused, match="more rows than a sheet holds; write the pairs with --pairs"):
        book.write_book(demo, tmp_path / "out.xlsx", "metric", [])
    monkeypatch.setattr(book, "LAST_ROW", 200)
    many = assign(made.quick("die", [DIE]), made.quick("press", [PRESS]))
    many.dies.troubles.extend([Trouble("die", "row 1", "", "bad")] * 200)
    with pytest.raises(Refused, match="more rows"):
        book.write_book(many, tmp_path / "out.xlsx", "metric", [])
    assert list(tmp_path.iterdir()) == []


def test_another_ending_is_refused_and_an_existing_file_is_kept_when_writing_fails(tmp_path, demo, monkeypatch):
    with pytest.raises(Refused, match=r"is no \.xlsx file"):
        book.write_book(demo, tmp_path / "out.ods", "metric", [])
    path = tmp_path / "out.xlsx"
    path.write_bytes(b"old")
    with pytest.raises(Refused):
        book.write_book(demo, tmp_path / "none" / "out.xlsx", "metric", [])

    def stop(self: Assignment, progress: object = None) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Assignment, "failing", stop)
    with pytest.raises(KeyboardInterrupt):
        book.write_book(demo, path, "metric", [])
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


# The table of pairs


def figures(demo: Assignment, system: str) -> list[dict[str, object]]:
    """Return what the table must hold, pair by pair."""
    found = []
    for pair in itertools.chain(demo.ranked(), demo.failing()):
        margins = {
            f"{check.name}_margin_{check.kind.unit(system)}": m / check.kind.factor(system)
            for check, m in zip(CHECKS, pair.margins)
            if check.name != "kind"
        }
        found.append(
            {
                "die": demo.dies.ids[pair.die],
                "press": demo.presses.ids[pair.press],
                "status": pair.status,
                "first_failing": pair.failed[0].label if pair.failed else "",
                "not_checked": ", ".join(check.label for check in pair.unchecked),
                f"capacity_{FORCE.unit(system)}": pair.capacity / FORCE.factor(system),
                "utilisation": pair.utilisation,
                "parts_per_hour": pair.part_rate * 3600,
                "cost": pair.cost,
                **margins,
            }
        )
    return found


def same(got: object, want: object) -> bool:
    if isinstance(want, str):
        return got == want
    number = math.nan if got in ("", None) else float(got)  # type: ignore[arg-type]
    return np.isclose(number, want, rtol=1e-12, atol=1e-12, equal_nan=True).item()


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("suffix", tables.SUFFIXES)
def test_every_pair_stands_in_the_table_with_its_figures(tmp_path, demo, system, suffix):
    every = assign(demo.dies, demo.presses, top=len(demo.presses))
    path = tmp_path / f"pairs{suffix}"
    tables.write_pairs(every, path, system)
    if suffix == ".csv":
        with path.open(encoding="utf-8-sig", newline="") as file:
            got = list(csv.DictReader(file))
    else:
        got = pyarrow.parquet.read_table(path).to_pylist()
    want = {(row["die"], row["press"]): row for row in figures(every, system)}
    assert len(got) == len(want) == len(demo.dies) * len(demo.presses)
    assert list(got[0]) == tables.column_names(system)
    for row in got:
        for name, value in want[row["die"], row["press"]].items():
            assert same(row[name], value), (row["die"], row["press"], name)
    order = [(row["die"], row["press"]) for row in got]
    assert order == list(itertools.product(demo.dies.ids, demo.presses.ids))


def test_pairs_in_another_format_are_refused(tmp_path, demo):
    with pytest.raises(Refused, match=r"neither \.csv nor \.parquet"):
        tables.write_pairs(demo, tmp_path / "pairs.xlsx", "metric")


RUNNING = ["=cmd", "+A1", "-A1", "@SUM(A1)", "'=cmd", "''@x", "\uff1d1", "=1+1,2"]
HARMLESS = ["-12", "+5", "-1.5e3", "D=1", "'88", "''", "1-2"]


@pytest.mark.parametrize("name", [*RUNNING, *HARMLESS])
def test_no_number_of_a_die_runs_as_a_formula_and_each_comes_back(tmp_path, name):
    result = assign(made.quick("die", [DIE | {"id": name}]), made.quick("press", [PRESS | {"id": name}]))
    tables.write_pairs(result, tmp_path / "pairs.csv", "metric")
    with (tmp_path / "pairs.csv").open(encoding="utf-8-sig", newline="") as file:
        row = next(csv.DictReader(file))
    for written in (row["die"], row["press"]):
        assert written == ("'" + name if name in RUNNING else name)
        assert written[0] not in "=@\uff1d"
        assert written[0] not in "+-" or float(written)
    (tmp_path / "dies.csv").write_text(f'Die,t,Cut length\n"{row["die"]}",2,300\n', encoding="utf-8")
    assert read_register(tmp_path / "dies.csv", "die").ids == [name]


def test_a_parquet_file_holds_every_text_as_it_is(tmp_path):
    result = assign(made.quick("die", [DIE | {"id": "=cmd"}]), made.quick("press", [PRESS]))
    tables.write_pairs(result, tmp_path / "pairs.parquet", "metric")
    assert pyarrow.parquet.read_table(tmp_path / "pairs.parquet").to_pylist()[0]["die"] == "=cmd"


def test_names_with_commas_quotes_and_lines_come_through_a_csv(tmp_path):
    name = 'D "1", left\nhalf'
    result = assign(made.quick("die", [DIE | {"id": name}]), made.quick("press", [PRESS]))
    tables.write_pairs(result, tmp_path / "pairs.csv", "metric")
    with (tmp_path / "pairs.csv").open(encoding="utf-8-sig", newline="") as file:
        assert next(csv.DictReader(file))["die"] == name
