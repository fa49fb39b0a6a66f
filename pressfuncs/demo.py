"""The demonstration: one die of a register gets a thicker sheet, and the register is recalculated.

Then the dies of a second, awkward register are matched with the presses of an invented shop.

`run_demo` does it and returns what happened; `render` puts that into a table for people, `as_dict` for programs.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import tempfile
import time
import zipfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from openpyxl.utils import get_column_letter
from openpyxl.utils.cell import coordinate_to_tuple

from pressfuncs.batch.assignment.book import write_book
from pressfuncs.batch.assignment.ranking import assign
from pressfuncs.batch.assignment.registers import read_register
from pressfuncs.batch.assignment.report import Best, best, summary
from pressfuncs.batch.book import Book, Sheet, Table
from pressfuncs.batch.book_reading import read_book
from pressfuncs.batch.inputs import set_number
from pressfuncs.batch.outcome import Change
from pressfuncs.batch.package import Package
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.report import CAUTION
from pressfuncs.templates import template_path

DEFAULT_FOLDER = Path("pressfuncs-demo")
REGISTER = "die_register.xlsx"
THICKER = "die_register_thicker_sheet.xlsx"
REGISTERS = Path(__file__).parent / "demo_registers"
DIES, PRESSES, ASSIGNED = "dies.csv", "presses.csv", "assigned.xlsx"
TABLE = "dies"
DIE = "D-203"
THICKNESS = 2.5
_BOOK, _BOOK_OUT = "BOOK.xlsx", "RECALCULATED.xlsx"
_DIES, _PRESSES, _ASSIGNED = "DIES.xlsx", "PRESSES.xlsx", "ASSIGNED.xlsx"
_LISTED = 6  # dies in the table of presses
_WRITTEN = re.compile(rb"\d{4}-\d\d-\d\d \d\d:\d\d [+-]\d{4}")  # when a workbook was written, on its overview
_INPUT, _RESULT, _VERDICT, _PART, _NO = "Thickness, mm", "Result", "Verdict", "Part", "NO"


@dataclass(frozen=True)
class Difference:
    """One quantity of one die that is not what it was."""

    die: str
    quantity: str
    unit: str
    before: Any
    after: Any


@dataclass(frozen=True)
class Unsuitable:
    """A die that no longer fits its press, and the verdict that says why."""

    die: str
    part: str
    verdict: str


@dataclass(frozen=True)
class Demo:
    """What the demonstration did."""

    register: Path
    """copy of the register as it came"""
    recalculated: Path
    """the register with the thicker sheet, recalculated"""
    input: Difference
    differences: list[Difference]
    no_longer: list[Unsuitable]
    already: list[str]
    """dies that did not fit before"""
    dies: int
    calls: int
    """calls of press functions that were evaluated"""
    seconds: float
    """seconds that the recalculation took"""
    assigned: Path
    """which press runs which die"""
    best: list[Best]
    """the best press of each die of the second register"""
    summary: list[str]
    matching_seconds: float


class _Register:
    """The die table of a workbook: its rows by die, its columns by heading."""

    def __init__(self, path: Path) -> None:
        """Read the workbook."""
        with Package.open(path) as package:
            self._book: Book = read_book(package)
        self.table: Table = self._book.tables[TABLE]
        self._sheet: Sheet = self._book.sheets[self.table.sheet]
        first, last = self.table.data_rows
        self.rows = {str(self._sheet.value(row, self.table.area[1])): row for row in range(first, last + 1)}

    def column(self, heading: str) -> int:
        """Return the number of a column."""
        return self.table.columns[heading.lower()]

    def heading(self, column: int) -> str:
        """Return the heading of a column as it is written."""
        return str(self._sheet.value(self.table.data_rows[0] - 1, column))

    def value(self, die: str, heading: str) -> Any:
        """Return what the cell of a die stores."""
        return self._sheet.value(self.rows[die], self.column(heading))

    def unsuitable(self) -> list[str]:
        """Return the dies whose result begins with NO."""
        return [die for die in self.rows if str(self.value(die, _RESULT)).startswith(_NO)]

    def difference(self, change: Change) -> Difference | None:
        """Return a change in the words of the table; None for a cell outside its rows."""
        row, column = coordinate_to_tuple(change.cell)
        die = next((die for die, place in self.rows.items() if place == row), None)
        if change.sheet != self.table.sheet or die is None:
            return None
        quantity, _, unit = self.heading(column).partition(", ")
        return Difference(die, quantity, unit, change.before, change.after)


def run_demo(folder: Path = DEFAULT_FOLDER) -> Demo:
    """Recalculate a die register after one change, match another one with its presses, and say what came out.

    Arguments:
        folder: where the files go; made if it does not exist

    Raises:
        Refused: one of the files is there already and is not as the demonstration left it.
        OSError: the folder cannot be made, or a file cannot be written.
    """
    started = time.perf_counter()
    register = template_path(REGISTER)
    original = _Register(register)
    with tempfile.TemporaryDirectory() as scratch:
        work = Path(scratch) / THICKER
        shutil.copyfile(register, work)
        cell = f"{get_column_letter(original.column(_INPUT))}{original.rows[DIE]}"
        set_number(work, original.table.sheet, cell, THICKNESS)
        # Everything: no spreadsheet program has refreshed the ordinary formulas that hang on the new thickness.
        outcome = recalculate(work, work, Options(everything=True))
        changed = _Register(work)
        contents = {folder / REGISTER: register.read_bytes(), folder / THICKER: work.read_bytes()}
        recalculated = time.perf_counter()
        matched = assign(read_register(REGISTERS / DIES, "die"), read_register(REGISTERS / PRESSES, "press"))
        write_book(matched, Path(scratch) / ASSIGNED, "metric", [("Load limit", "by the press or its frame")])
        contents |= {folder / name: (REGISTERS / name).read_bytes() for name in (DIES, PRESSES)}
        contents[folder / ASSIGNED] = (Path(scratch) / ASSIGNED).read_bytes()
    for path, content in contents.items():
        _refuse_changed(path, content)
    folder.mkdir(parents=True, exist_ok=True)
    for path, content in contents.items():
        path.write_bytes(content)
    already = original.unsuitable()
    quantity, _, unit = _INPUT.partition(", ")
    return Demo(
        register=folder / REGISTER,
        recalculated=folder / THICKER,
        input=Difference(DIE, quantity, unit, original.value(DIE, _INPUT), changed.value(DIE, _INPUT)),
        differences=[found for change in outcome.changes if (found := original.difference(change)) is not None],
        no_longer=[
            Unsuitable(die, str(changed.value(die, _PART)), str(changed.value(die, _VERDICT)))
            for die in changed.unsuitable()
            if die not in already
        ],
        already=already,
        dies=len(changed.rows),
        calls=outcome.calls,
        seconds=recalculated - started,
        assigned=folder / ASSIGNED,
        best=list(best(matched)),
        summary=list(summary(matched, _LISTED)),
        matching_seconds=time.perf_counter() - recalculated,
    )


def as_dict(demo: Demo) -> dict[str, Any]:
    """Return what happened as plain values, for JSON."""
    plain = asdict(demo)
    for name in ("register", "recalculated", "assigned"):
        plain[name] = str(plain[name])
    del plain["summary"]  # it is in `best`
    return plain | {"caution": CAUTION}


def render(demo: Demo) -> str:
    """Return what happened as text: a table, the dies that no longer fit, the files, the safety words."""
    return "\n".join(_lines(demo))


def _lines(demo: Demo) -> Iterator[str]:
    given = demo.input
    yield (
        f"A register of {demo.dies} invented dies. {given.die}: {given.quantity.lower()} from "
        f"{_shown(given.before)} to {_shown(given.after)} {given.unit}, then recalculated "
        f"({demo.calls} calls of press functions, {demo.seconds:.1f} s in all)."
    )
    yield ""
    yield from _table([found for found in demo.differences if found.quantity != _VERDICT])
    yield ""
    for found in demo.no_longer:
        yield f"No longer fits: {found.die} {found.part}: {found.verdict}"
    if not demo.no_longer:
        yield "Every die still fits that did before."
    yield f"Did not fit before: {', '.join(demo.already) or 'none'}"
    yield ""
    yield f"Register as it came:         {_place(demo.register)}"
    yield f"Thicker sheet, recalculated: {_place(demo.recalculated)}"
    yield f"Your own workbook:           pressfuncs recalc {_BOOK} -o {_BOOK_OUT}"
    yield ""
    yield f"A second register, kept as people keep them, matched with the presses ({demo.matching_seconds:.1f} s)."
    yield from demo.summary
    yield ""
    dies, presses, assigned = (_place(demo.assigned.with_name(name)) for name in (DIES, PRESSES, ASSIGNED))
    yield f"Registers:                   {dies} {presses}"
    yield f"Which press runs which die:  {assigned}"
    yield f"Your own registers:          pressfuncs assign {_DIES} {_PRESSES} -o {_ASSIGNED}"
    yield ""
    yield CAUTION


def _table(differences: list[Difference]) -> Iterator[str]:
    """Yield the lines of an aligned table, numbers to the right and texts to the left."""
    rows = [("die", "quantity", "before", "after", "unit")]
    rows += [
        (found.die, found.quantity, _shown(found.before), _shown(found.after), found.unit) for found in differences
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for number, (die, quantity, before, after, unit) in enumerate(rows):
        yield (
            f"{die:<{widths[0]}}  {quantity:<{widths[1]}}  {before:>{widths[2]}}  {after:>{widths[3]}}  {unit}"
        ).rstrip()
        if number == 0:
            yield "  ".join("-" * width for width in widths)


def _shown(value: Any) -> str:
    """Write a value; numbers with the digits they have, since one that is rounded may flatter.

    >>> _shown(1234.5678), _shown(603.7604871), _shown("fits"), _shown(None)
    ('1,234.5678', '603.7604871', 'fits', '-')
    """
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return f"{value:,.10g}"
    return "-" if value is None else str(value)


def _place(path: Path) -> str:
    return os.path.relpath(path) if path.is_relative_to(Path.cwd()) else str(path)


def _refuse_changed(path: Path, content: bytes) -> None:
    """Refuse to overwrite a file that is not what the demonstration itself would write, but for the time."""
    if path.exists() and (not path.is_file() or not _same(path.read_bytes(), content)):
        raise Refused(
            "is there already and is not as the demo leaves it; it was kept: move it away, or name another folder",
            path,
        )


def _same(one: bytes, other: bytes) -> bool:
    """Whether two files are equal; of workbooks that tell when they were written, whether all else in them is."""
    return one == other or (_timeless(one) == _timeless(other) != {})


def _timeless(content: bytes) -> dict[str, bytes]:
    """Return the parts of a workbook without the time that its overview tells; nothing if it is none that does."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as book:
            parts = {name: book.read(name) for name in book.namelist() if name != "docProps/core.xml"}
    except zipfile.BadZipFile:
        return {}
    timeless = {name: _WRITTEN.sub(b"", part) for name, part in parts.items()}
    return timeless if timeless != parts else {}
