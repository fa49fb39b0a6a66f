"""Random workbooks, computed and written column by column and cell by cell: both must come to the same.

    python tests/column_differ.py [SECONDS] [SEED]

A workbook has a few sheets with inputs of every kind and columns of random formulas, some of them filled down,
some interrupted; the values that it stores are right, stale or missing. What is said of it, every value to 15
digits and the bytes written must not depend on the way, nor may values that are all computed anew depend on what
was stored. The first difference is made smaller as long as it stays, and is shown as the cells of the workbook.
"""

from __future__ import annotations

import random
import re
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from books import NOTHING, F, Made, Styled, make

from pressfuncs.batch.addresses import get_column_letter
from pressfuncs.batch.archive import Limits
from pressfuncs.batch.book_reading import read_book
from pressfuncs.batch.engine import _FAILURES
from pressfuncs.batch.outcome import Outcome
from pressfuncs.batch.package import Package
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.schedule import CIRCULAR
from pressfuncs.batch.stored import same_number
from pressfuncs.errors import CellError

Cells = dict[str, dict[str, Any]]
"""Sheet name -> address -> content, as `make` takes it."""

NAMES = ("Dies", "It's", "Bl\N{LATIN SMALL LETTER A WITH DIAERESIS}tter 5", "B2 & C3", "X1")
INPUTS = 4
NAMED = [("rate", "Dies!$B$2/8"), ("lengths", "Dies!$A$2:$A$6"), ("beside", "Dies!$C1"), ("column", "Dies!$B:$B")]
_NUMBERS = (0.0, 1.0, 2.0, 0.1, 0.2, 0.3, 2.5, -1.5, 12.0, 1.005, 0.35, 1e-9, 123456.789, 1e15, 3.2, 45.0, 300.0)
_ODD = (None, "", "text", "12", " 3 ", "1,5", True, False, CellError("#N/A"), CellError("#DIV/0!"), -0.0, 1e300,
        Styled(45000.0), Styled(3.0, 2), "18.5 in", 123456789012345680.0)  # fmt: skip
_CONSTANTS = ("2", "0.5", "10", "25.4", "3", "-1", "10%", '"x"', '"12"', '""', "TRUE", "1E-3", "0")


class Formulas:
    """Random formulas for the cells of one column: texts by row, so that they can be filled down."""

    def __init__(
        self, rng: random.Random, sheets: list[str], sheet: str, column: int, last: int, odd: bool
    ) -> None:
        self.rng = rng
        self.sheets = sheets
        self.sheet = sheet
        self.column = column
        self.last = last
        self.odd = odd

    def text(self) -> Callable[[int], str]:
        """Return a formula as a function of the row."""
        if self.rng.random() < 0.45:
            return self.ours(2)
        return self.expression(3)

    def ours(self, depth: int) -> Callable[[int], str]:
        """Return a call of ours, perhaps in a formula around it."""
        kind = self.rng.random()
        if kind < 0.75:
            given = [self.argument(depth - 1) for _ in range(3)]
            call = self._joined("PF_SHEARING_FORCE(", given)
        elif kind < 0.9:
            given = [self.argument(depth - 1) for _ in range(2)]
            call = self._joined("PF_REQUIRED_CAPACITY(", given)
        else:
            given = [self.range(), self.range()]
            call = self._joined("PF_LOAD_CENTRE(", given)
        around = self.rng.choice(
            ["{}"] * 5
            + ["IF({0}=\"\",\"\",{1})", "IFERROR({1},{0})", "{1}&\" kN\"", "{1}*{0}", "IF({0}>1,{1},{0})", "-{1}",
               "ROUND({1},1)", "IF({0}>1,{1})", "MAX({1},{0},1)", "{1}>{0}", "IF({1}>30,\"look\",{0})"]
        )  # fmt: skip
        beside = self.cell()
        if around == "{}":
            return call
        return lambda row: around.format(beside(row), call(row))

    def argument(self, depth: int) -> Callable[[int], str]:
        """Return an argument of a call of ours."""
        if self.rng.random() < 0.6 or depth <= 0:
            return self.cell()
        if self.rng.random() < 0.2:
            return self.ours(depth - 1)
        return self.expression(depth)

    def expression(self, depth: int) -> Callable[[int], str]:
        """Return an ordinary expression."""
        rng = self.rng
        if depth <= 0 or rng.random() < 0.15:
            return self.cell() if rng.random() < 0.75 else self._same(rng.choice(_CONSTANTS))
        inner = [self.expression(depth - 1 - (rng.random() < 0.4)) for _ in range(3)]
        kind = rng.random()
        if kind < 0.45:
            operator = rng.choice(["+", "-", "*", "/", "+", "-", "*", "^", "=", ">", "<=", "<>", "&"])
            form = rng.choice(["({0}%s{1})", "{0}%s{1}", "{0}%s{1}", "-{0}%s{1}", "{0}%%%s{1}", "({0}%s{1})*{2}"])
            return self._formed(form.replace("%s", operator).replace("%%", "%"), inner)
        if kind < 0.55:
            return self._formed(rng.choice(["SUM({})", "MAX({})", "AVERAGE({})", "COUNT({})"]), [self.range()])
        plain = ["IF({0}>{1},{2},{1})", "IF({0},{1})", 'IF({0}="","",{1})', "ROUND({0},2)", "ROUNDUP({0}/3,1)",
                 "INT({0}*2)", "ABS({0})", "SQRT({0})", "MAX({0},{1})", "MIN({0},{1},{2})", "AND({0},{1}>1)",
                 "OR({0}>2,{1})", "NOT({0})", "SUM({0},{1})", "AVERAGE({0},{1})", "PRODUCT({0},{1})", "({0})",
                 "+{0}", "-{0}", "{0}%", "ROUNDDOWN({0},-1)", "IF({0}<>{1},TRUE,{2})", "PI()*{0}", "--({0}>{1})",
                 'IF({0}>1,"a","bcd")', "IF(ABS({0}-{1})<0.01,0,{2})", "-{0}^{1}", "{0}-{1}-{2}",
                 "ROUND({0}*{1},0)"]  # fmt: skip
        other = ["IFERROR({0},{1})", "LEN({0})", "TEXT({0},\"0.0\")", "MOD({0},3)", "N({0})", "ISBLANK({0})",
                 "IFERROR({0}/{1},\"none\")", "LEFT({0},2)", "COUNT({0},{1})", "ISNUMBER({0})", "VALUE({0})",
                 "CHOOSE(2,{0},{1})", "EXP({0}/1000)", "LN({0})", "ROW()", "COLUMN()*{0}", "{0}&{1}", "T({0})",
                 "IF(ISBLANK({0}),1,{0})", "TRUNC({0},1)", "POWER({0},2)", "ROW()-2+{0}"]  # fmt: skip
        if self.odd:
            other += ['INDIRECT("A"&ROW())', "OFFSET({cell},1,0)", "TODAY()-TODAY()+{0}", 'INDIRECT("B2")+{0}']
        text = rng.choice(plain if rng.random() < 0.75 else other)
        cell = self.cell()
        return lambda row: text.replace("{cell}", cell(row)).format(*(term(row) for term in inner))

    def cell(self) -> Callable[[int], str]:
        """Return a reference to a cell."""
        rng = self.rng
        sheet, own = self._owner()
        most = self.column - 1 if own else INPUTS + 6
        column = rng.randint(1, max(1, most if rng.random() < 0.97 else most + 2))
        letter = get_column_letter(column)
        kind = rng.random()
        if kind < 0.72:
            fixed = rng.choice(["", "", "", "$"])
            return lambda row: f"{sheet}{fixed}{letter}{row}"
        if kind < 0.84:
            place = rng.randint(1, self.last + (rng.random() < 0.1) * 5)
            return self._same(f"{sheet}${letter}${place}")
        if kind < 0.95:
            step = rng.choice([-1, -1, 1, 2])
            if own and rng.random() < 0.3:
                letter = get_column_letter(self.column)
            return lambda row: f"{sheet}{letter}{max(1, row + step)}"
        table = "tDies[@Two]" if rng.random() < 0.5 else "tDies[[#This Row],[Three]]"
        return self._same(rng.choice(["rate", "beside", table, f"{sheet}{letter}$2"]))

    def range(self) -> Callable[[int], str]:
        """Return a reference to several cells."""
        rng = self.rng
        sheet, own = self._owner()
        most = self.column - 1 if own else INPUTS + 6
        first = rng.randint(1, most)
        last = min(most, first + rng.choice([0, 0, 1, 2, 3]))
        a, b = get_column_letter(first), get_column_letter(last)
        kind = rng.random()
        if kind < 0.35:
            return lambda row: f"{sheet}{a}{row}:{b}{row}"
        if kind < 0.55:
            return lambda row: f"{sheet}{a}$2:{b}{row}"
        if kind < 0.75:
            return self._same(f"{sheet}${a}$2:${b}${rng.randint(2, self.last + 3)}")
        if kind < 0.85:
            return self._same(f"{sheet}{a}:{b}")
        if kind < 0.92:
            return self._same(rng.choice(["lengths", "column", "tDies[One]", "tDies[[One]:[Three]]", "tDies"]))
        if kind < 0.95:
            return lambda row: f"{sheet}{a}$2:INDEX({sheet}{a}$2:{b}{row},1,1)"
        return lambda row: f"{sheet}{a}{row}:{b}{row + 2}"

    def _owner(self) -> tuple[str, bool]:
        if self.rng.random() < 0.8:
            return "", True
        sheet = self.rng.choice(self.sheets)
        quoted = "'" + sheet.replace("'", "''") + "'!" if not sheet.isalpha() else f"{sheet}!"
        return quoted, sheet == self.sheet

    @staticmethod
    def _same(text: str) -> Callable[[int], str]:
        return lambda row: text

    @staticmethod
    def _formed(form: str, inner: list[Callable[[int], str]]) -> Callable[[int], str]:
        return lambda row: form.format(*(term(row) for term in inner))

    @staticmethod
    def _joined(call: str, given: list[Callable[[int], str]]) -> Callable[[int], str]:
        return lambda row: call + ",".join(term(row) for term in given) + ")"


def random_book(rng: random.Random) -> tuple[Cells, Made]:
    """Return a workbook whose formulas store nothing yet."""
    sheets = ["Dies", *rng.sample(NAMES[1:], rng.choice([0, 0, 1, 1, 2, 3]))]
    last = rng.randint(3, 14)
    odd, clean = rng.random() < 0.12, rng.random() < 0.4
    cells: Cells = {}
    for sheet in sheets:
        found: dict[str, Any] = {}
        for column in range(1, INPUTS + 1):
            for row in range(1, last + 1):
                value: Any = rng.choice(_NUMBERS) if clean or rng.random() < 0.75 else rng.choice(_ODD)
                if rng.random() < (0.02 if clean else 0.1):
                    continue
                found[f"{get_column_letter(column)}{row}"] = value
        for column in range(INPUTS + 1, INPUTS + 1 + rng.randint(2, 9)):
            _fill_column(rng, found, Formulas(rng, sheets, sheet, column, last, odd))
        if rng.random() < 0.15:
            for address in rng.sample(sorted(found), min(len(found), 6)):
                if not isinstance(found[address], F):
                    del found[address]
        cells[sheet] = found
    tables = {"tDies": ("Dies", f"A1:D{last}", ["One", "Two", "Three", "Four"])}
    made = Made(
        names=NAMED,
        tables=tables,
        date1904=rng.random() < 0.1,
        rows=rng.choice(["", "", 'spans="1:9"', 'hidden="1"']),
    )
    if rng.random() < 0.2:
        made = replace(made, states={sheets[-1]: "hidden"})
    return cells, made


def _fill_column(rng: random.Random, cells: dict[str, Any], formulas: Formulas) -> None:
    """Fill a column with a formula, here and there with something else."""
    letter = get_column_letter(formulas.column)
    first, last = rng.choice([1, 2, 2, 2]), formulas.last
    kind = rng.random()
    text = formulas.text()
    if kind < 0.02:  # a formula that spills
        spilled = rng.choice(
            ["A2:B4*2", "UNIQUE(A2:A6)", "SORT(B2:B5)", "TRANSPOSE(A2:C2)", "FILTER(A2:A6,B2:B6>1)"]
        )
        cells[f"{letter}{first}"] = F(spilled, NOTHING, f't="array" ref="{letter}{first}"', 'cm="1"')
        return
    if kind < 0.06:  # one array formula, or one for each row
        if rng.random() < 0.5:
            cells[f"{letter}{first}"] = F(text(first), NOTHING, f't="array" ref="{letter}{first}:{letter}{last}"')
            for row in range(first + 1, last + 1):
                cells[f"{letter}{row}"] = None
            return
        for row in range(first, last + 1):
            cells[f"{letter}{row}"] = F(text(row), NOTHING, f't="array" ref="{letter}{row}"')
        return
    shared = rng.random() < 0.12
    for row in range(first, last + 1):
        if shared and kind > 0.1:
            number = formulas.column
            head = f't="shared" ref="{letter}{first}:{letter}{last}" si="{number}"'
            cells[f"{letter}{row}"] = F(
                text(row) if row == first else "", NOTHING, head if row == first else f't="shared" si="{number}"'
            )
            continue
        if rng.random() < 0.04:
            text = formulas.text()
        if rng.random() < 0.05:
            cells[f"{letter}{row}"] = rng.choice([None, 7.0, "x", F(formulas.text()(row)), 0.0])
            continue
        content: Any = F(text(row))
        cells[f"{letter}{row}"] = Styled(content, rng.choice([1, 2])) if rng.random() < 0.03 else content


def with_stored(rng: random.Random, cells: Cells, right: dict[tuple[str, str], Any], state: str) -> Cells:
    """Return the workbook with stored values: right, stale, missing, or some of each."""

    def stored(sheet: str, address: str, content: Any) -> Any:
        if isinstance(content, Styled):
            return replace(content, content=stored(sheet, address, content.content))
        if not isinstance(content, F):
            return content
        chosen = rng.choice(["right", "right", "stale", "nothing"]) if state == "mixed" else state
        if state == "few":
            chosen = "stale" if rng.random() < 0.05 else "right"
        value = right.get((sheet, address))
        if chosen == "nothing" or value is None:
            return content
        return replace(content, stored=rng.choice([5.0, "old", True, 0.0, value]) if chosen == "stale" else value)

    return {
        sheet: {address: stored(sheet, address, content) for address, content in found.items()}
        for sheet, found in cells.items()
    }


def values_of(path: Path) -> dict[tuple[str, str], Any]:
    """Return what the cells of a workbook store, by sheet and address."""
    with Package.open(path, Limits()) as package:
        book = read_book(package)
    return {
        (name, f"{get_column_letter(column)}{row}"): value
        for name, sheet in book.sheets.items()
        for column, rows in sheet.values.items()
        for row, value in rows.items()
    }


def alike(a: Any, b: Any) -> bool:
    """Whether two values are the same, numbers to 15 digits or nearly so."""
    if isinstance(a, float) and isinstance(b, float):
        return same_number(a, b) or abs(a - b) <= 1e-14 * max(abs(a), abs(b))
    return type(a) is type(b) and bool(a == b)


def told(outcome: Outcome) -> dict[str, Any]:
    """Return what is said of a workbook, without numbers that may differ in the last digits.

    An engine that fails says so of whatever hangs on the cell too; by columns that is only not refreshed.
    """
    failed = [found for found in outcome.frozen if found.reason in (CIRCULAR, *_FAILURES.values())]
    return {
        "calls": outcome.calls,
        "failing": sorted(outcome.failing, key=repr),
        "frozen": [found for found in outcome.frozen if found not in failed],
        "marked": {*outcome.marked},
        "not computed": {*((found.sheet, found.cell) for found in failed), *outcome.not_refreshed},
        "disagreements": [(d.sheet, d.cell, repr(d.stored), d.functions) for d in outcome.disagreements],
        "resting": outcome.resting,
        "compared": outcome.compared,
        "left alone": outcome.left_alone,
        "volatile": outcome.volatile,
        "settled": outcome.settled,
        "changes": [(c.sheet, c.cell, repr(c.before)) for c in outcome.changes],
    }


class Differ:
    """Compares the ways for one workbook after another."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.counts: Counter[str] = Counter()

    def written(self, cells: Cells, made: Made, **options: Any) -> tuple[Outcome, Path] | str:
        """Recalculate a workbook; return the outcome and the file written, or the refusal."""
        path, out = self.folder / "book.xlsx", self.folder / f"out_{options.get('column_by_column', True)}.xlsx"
        make(path, cells, made)
        out.unlink(missing_ok=True)
        try:
            outcome = recalculate(path, out, Options(**{"second_engine": False, **options}))
        except Refused as refused:
            return str(refused)
        self.counts["recalculations"] += 1
        return outcome, out

    def difference(self, cells: Cells, made: Made, **options: Any) -> str:
        """Return how the two ways differ; "" if they do not."""
        fast = self.written(cells, made, **options)
        slow = self.written(cells, made, column_by_column=False, **options)
        if isinstance(fast, str) or isinstance(slow, str):
            return "" if fast == slow else f"refused: {fast} / {slow}"
        a, b = told(fast[0]), told(slow[0])
        for name in a:
            if a[name] != b[name]:
                return f"{name}: {_apart(a[name], b[name])}"
        values, others = values_of(fast[1]), values_of(slow[1])
        if values.keys() != others.keys():
            return f"cells with values: {values.keys() ^ others.keys()}"
        self.counts["cells"] += len(values)
        for cell, value in values.items():
            if not alike(value, others[cell]):
                return f"{cell}: {value!r} / {others[cell]!r}"
        parts, others_parts = _parts(fast[1]), _parts(slow[1])
        if parts != others_parts:
            self.counts["other last digits"] += 1
            if _without_numbers(parts) != _without_numbers(others_parts):
                return "bytes"
        return ""

    def dependence(self, cells: Cells, blank: Cells, made: Made) -> str:
        """Return how values that are all computed anew depend on what was stored; "" if they do not."""
        stale = self.written(cells, made, everything=True)
        new = self.written(blank, made, everything=True)
        if isinstance(stale, str) or isinstance(new, str) or not (stale[0].complete and new[0].complete):
            return ""
        # both are written to the same file, so the first one is computed once more
        others = values_of(new[1])
        self.written(cells, made, everything=True)
        values = values_of(stale[1])
        for cell in values.keys() | others.keys():
            if not alike(values.get(cell), others.get(cell)):
                return f"stored values matter: {cell}: {values.get(cell)!r} / {others.get(cell)!r}"
        return ""

    def again(self, cells: Cells, made: Made, **options: Any) -> str:
        """Return what changes when what was written is recalculated; "" if nothing does."""
        first = self.written(cells, made, **options)
        if isinstance(first, str) or not first[0].complete:
            return ""
        second = recalculate(first[1], None, Options(second_engine=False, **options))
        return f"not settled: {list(second.changes)[:3]}" if second.changes else ""


def _apart(some: Any, others: Any) -> str:
    """Show what is in one of two collections only."""
    if isinstance(some, int):
        return f"{some} / {others}"
    return f"{[x for x in some if x not in others]} / {[x for x in others if x not in some]}"


def _parts(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as book:
        return {name: book.read(name) for name in book.namelist()}


def _without_numbers(parts: dict[str, bytes]) -> dict[str, bytes]:
    return {name: re.sub(rb"<v>-?[0-9.E+-]+</v>", b"<v/>", part) for name, part in parts.items()}


def smaller(cells: Cells, fails: Callable[[Cells], bool]) -> Cells:
    """Take cells away as long as it fails."""
    changed = True
    while changed:
        changed = False
        for sheet in list(cells):
            if sheet != "Dies" and fails(without := {name: c for name, c in cells.items() if name != sheet}):
                cells, changed = without, True
        for size in (16, 4, 1):
            for sheet in cells:
                addresses = list(cells[sheet])
                for start in range(0, len(addresses), size):
                    gone = set(addresses[start : start + size])
                    fewer = {a: c for a, c in cells[sheet].items() if a not in gone}
                    if len(fewer) < len(cells[sheet]) and fails(without := cells | {sheet: fewer}):
                        cells, changed = without, True
    return cells


def one_round(differ: Differ, seed: int, second_engine: bool = False) -> str:
    """Try one workbook; return what is wrong with it, and the cells that show it."""
    rng = random.Random(seed)
    cells, made = random_book(rng)
    first = differ.written(cells, made, everything=True)
    right = {} if isinstance(first, str) else values_of(first[1])
    state = rng.choice(["nothing", "right", "few", "few", "mixed", "stale"])
    stored = with_stored(rng, cells, right, state)
    everything = rng.random() < 0.35
    options: dict[str, Any] = {"everything": everything, "second_engine": second_engine and rng.random() < 0.3}
    checks: list[tuple[str, Callable[[Cells], str]]] = [
        ("ways", lambda some: differ.difference(some, made, **options)),
    ]
    if rng.random() < 0.3:
        checks.append(("stored", lambda some: differ.dependence(some, blanked(some), made)))
        checks.append(("again", lambda some: differ.again(some, made, everything=everything)))
    differ.counts[f"{state}{' all' if everything else ''}"] += 1
    for name, check in checks:
        if found := check(stored):
            kept = smaller(stored, lambda some: bool(check(some)))  # noqa: B023
            return f"seed {seed}, {name}, {options}, {made}\n{found}\n{kept}\n{check(kept)}"
    return ""


def blanked(cells: Cells) -> Cells:
    """Return the workbook without stored values."""

    def blank(content: Any) -> Any:
        if isinstance(content, Styled):
            return replace(content, content=blank(content.content))
        return replace(content, stored=NOTHING) if isinstance(content, F) else content

    return {
        sheet: {address: blank(content) for address, content in found.items()} for sheet, found in cells.items()
    }


def run(seconds: float, rounds: int, first: int, second_engine: bool = False) -> Counter[str]:
    """Compare until the time or the rounds are over; AssertionError for the first difference."""
    with tempfile.TemporaryDirectory() as folder:
        differ = Differ(Path(folder))
        end = time.monotonic() + seconds
        for seed in range(first, first + rounds):
            if time.monotonic() > end:
                break
            differ.counts["workbooks"] += 1
            if found := one_round(differ, seed, second_engine):
                raise AssertionError(found)
    return differ.counts


if __name__ == "__main__":
    given = [float(argument) for argument in sys.argv[1:]]
    print(dict(run(given[0] if given else 600.0, 1 << 60, int(given[1]) if len(given) > 1 else 1, True)))
